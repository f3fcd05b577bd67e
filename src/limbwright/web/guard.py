"""What every request passes before any page or call sees it: host, origin, CSRF token, size; and the headers.

Written as plain ASGI so that nothing is buffered and a drag pays microseconds for it.
"""

import hashlib
import hmac
import json
import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any

from limbwright.web.failure import Trouble
from limbwright.web.settings import Settings

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

COOKIE = "limbwright_session"
CSRF_HEADER = b"x-csrf-token"
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
CONTENT_SECURITY_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; font-src 'self'; "
    "connect-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = (
    (b"content-security-policy", CONTENT_SECURITY_POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=()"),
)
UPLOAD_PATHS = frozenset({"/api/films", "/api/cases/import"})
CASE_PATHS = ("/api/cases", "/api/work", "/api/catalogue")
_TOKEN_CHARACTERS = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_")


class TooLarge(Exception):
    """A body went over its limit while it was read."""


def csrf_token(session_token: str) -> str:
    """The token a page sends back with every change; it follows from the secret in the cookie."""
    return hashlib.sha256(b"limbwright csrf " + session_token.encode()).hexdigest()


def new_session_token() -> str:
    """A fresh secret for the cookie."""
    return secrets.token_urlsafe(32)


class Guard:
    """The middleware; `request.state.token` is the secret of the session's cookie.

    Parameters
    ----------
    app : ASGI application
        Whatever is behind it.
    settings : Settings
        Hosts, origins and bounds.
    fault : callable
        Takes the scope and an exception that nobody expected; notes it and gives the answer.
    """

    def __init__(self, app: App, *, settings: Settings, fault: Callable[[Scope, Exception], App]) -> None:
        self._app = app
        self._fault = fault
        self._settings = settings
        self._hosts = settings.hosts()
        self._origins = settings.origins()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer or pass on one request."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        headers = {name.lower(): value for name, value in scope["headers"]}
        token = _cookie_token(headers.get(b"cookie", b""))
        state = scope.setdefault("state", {})
        state["token"] = token or new_session_token()
        trouble = self._trouble(scope, headers, token)
        limit = self._limit(scope["path"])
        body = _Body(receive, limit)
        told = _Told(send, body)
        if trouble is not None:
            await _refuse(trouble, told)
            return
        try:
            await self._app(scope, body, told)
        except TooLarge:
            pass
        except Exception as error:
            # Ends here: a server that logs what escapes would log the message, which may name a patient.
            answer = self._fault(scope, error)
            if not told.started:
                await answer(scope, receive, told)
        if body.over and not told.started:
            body.over = False
            await _refuse(_too_large(limit), told)

    def _limit(self, path: str) -> int:
        limits = self._settings.limits
        if path in UPLOAD_PATHS:
            return limits.upload_bytes
        return limits.case_bytes if path.startswith(CASE_PATHS) else limits.request_bytes

    def _trouble(self, scope: Scope, headers: dict[bytes, bytes], token: str | None) -> Trouble | None:
        host = headers.get(b"host", b"").decode("latin-1").lower()
        if host not in self._hosts:
            return Trouble(
                status=421,
                code="host",
                found=f"the request names the host {host[:80]!r}, which is not this server.",
                where="Host header",
                next_step="Open the address that was printed when the server started.",
            )
        if scope["method"] in SAFE:
            return None
        origin = headers.get(b"origin", b"").decode("latin-1").lower()
        site = headers.get(b"sec-fetch-site", b"same-origin")
        if (origin and origin not in self._origins) or site not in {b"same-origin", b"none"}:
            return Trouble(
                status=403,
                code="origin",
                found="the change was asked for by a page of another site.",
                where="Origin header",
                next_step="Make changes in the workbench's own pages.",
            )
        given = headers.get(CSRF_HEADER, b"").decode("latin-1")
        if token is None or not hmac.compare_digest(given.encode(), csrf_token(token).encode()):
            return Trouble(
                status=403,
                code="csrf",
                found="the change carries no valid token of this session.",
                where="X-CSRF-Token header",
                next_step="Load the page again; scripts get the token from GET /api/session.",
            )
        limit = self._limit(scope["path"])
        length = headers.get(b"content-length", b"0")
        if not length.isdigit() or len(length) > 15 or int(length) > limit:
            return _too_large(limit)
        return None


class _Body:
    """The request's body, up to a number of bytes."""

    def __init__(self, receive: Receive, limit: int) -> None:
        self._receive, self._limit, self._taken = receive, limit, 0
        self.over = False
        """Whether more came than is taken."""

    async def __call__(self) -> Message:
        message = await self._receive()
        if message["type"] == "http.request":
            self._taken += len(message.get("body", b""))
            if self._taken > self._limit:
                self.over = True
                raise TooLarge
        return message


class _Told:
    """Sends an answer with the headers that every answer carries, and knows whether it has begun.

    What a route says of a body that was cut off is not sent: it did not see why.
    """

    def __init__(self, send: Send, body: _Body) -> None:
        self._send, self._body = send, body
        self.started = False

    async def __call__(self, message: Message) -> None:
        if self._body.over and not self.started:
            return
        if message["type"] == "http.response.start":
            self.started = True
            message = {**message, "headers": _with_headers(message["headers"])}
        await self._send(message)


def _too_large(limit: int) -> Trouble:
    return Trouble(
        status=413,
        code="too-large",
        found=f"the request is larger than {limit:,} bytes.",
        where="request body",
        unit="bytes",
        next_step="Send fewer or smaller files at a time.",
    )


def _cookie_token(header: bytes) -> str | None:
    try:
        cookies: SimpleCookie = SimpleCookie(header.decode("latin-1"))
    except CookieError:
        return None
    morsel = cookies.get(COOKIE)
    value = "" if morsel is None else morsel.value
    return value if 20 <= len(value) <= 100 and set(value) <= _TOKEN_CHARACTERS else None


def _with_headers(headers: list[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    present = {name.lower() for name, _ in headers}
    added = [pair for pair in HEADERS if pair[0] not in present]
    if b"cache-control" not in present:
        # Answers speak of patients; nothing keeps them unless the route says otherwise.
        added.append((b"cache-control", b"no-store"))
    return [*((n, v) for n, v in headers if n.lower() != b"server"), *added]


async def _refuse(trouble: Trouble, send: Send) -> None:
    body = json.dumps(trouble.plain()).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
    if trouble.status == 413:
        # What was not read of the request is still coming; the line is closed rather than listened to.
        headers.append((b"connection", b"close"))
    await send({"type": "http.response.start", "status": trouble.status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
