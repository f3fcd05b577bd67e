"""Who is asking: log in, log out, and the token that changes carry."""

from fastapi import APIRouter, Request, Response
from fastapi.responses import JSONResponse

from limbwright.case.caution import CAUTION
from limbwright.web.bench import Bench
from limbwright.web.cookie import set_session
from limbwright.web.failure import Failure
from limbwright.web.gate import Identity
from limbwright.web.guard import COOKIE, csrf_token
from limbwright.web.wire import LogIn, SessionAnswer

router = APIRouter(prefix="/api/session", tags=["session"])


def _plain(identity: Identity, token: str) -> dict[str, object]:
    return {
        "name": identity.name,
        "role": identity.role.value,
        "local": identity.local,
        "csrf": csrf_token(token),
        "caution": CAUTION,
    }


@router.get("", response_model=SessionAnswer)
def who(request: Request, bench: Bench) -> Response:
    """Who is asking, and the token that changes must carry. 401 carries the token too, for logging in."""
    token: str = request.state.token
    identity = bench.gate.identity(token)
    if identity is None:
        raise Failure(
            401,
            "login",
            "nobody is logged in.",
            where="session",
            next_step="POST name and password here.",
            extra={"csrf": csrf_token(token)},
        )
    answer = JSONResponse(_plain(identity, token))
    set_session(answer, request, token)
    return answer


@router.post("", response_model=SessionAnswer)
def log_in(request: Request, bench: Bench, body: LogIn) -> Response:
    """Log in; the session gets a fresh cookie and a fresh token."""
    identity, token = bench.gate.log_in(body.name, body.password)
    answer = JSONResponse(_plain(identity, token))
    set_session(answer, request, token)
    return answer


@router.delete("", status_code=204)
def log_out(request: Request, bench: Bench) -> Response:
    """Log out."""
    bench.gate.log_out(request.state.token)
    answer = Response(status_code=204)
    answer.delete_cookie(COOKIE, path="/", httponly=True, samesite="strict")
    return answer
