"""The application: routes, errors in one shape, and everything they share."""

import logging
import traceback
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib.resources import files
from typing import Any, cast
from urllib.parse import quote

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Scope

from limbwright import __version__
from limbwright.case.caution import CAUTION
from limbwright.case.problem import Problem
from limbwright.error import LimbwrightError
from limbwright.store.store import Store, open_store
from limbwright.store.trouble import Unavailable
from limbwright.web.bench import Workbench
from limbwright.web.cookie import set_session
from limbwright.web.failure import Failure, Trouble, refused
from limbwright.web.film.lightbox import Lightbox
from limbwright.web.gate import Gate
from limbwright.web.guard import Guard
from limbwright.web.page import Page, Pages
from limbwright.web.practice import PracticeReader
from limbwright.web.routes import (
    accept,
    archive,
    assist,
    audit,
    cases,
    course,
    course_pages,
    films,
    health,
    operation,
    pages,
    practice,
    printed,
    results,
    session,
    versions,
    work,
)
from limbwright.web.settings import Settings
from limbwright.web.wire import ErrorAnswer
from limbwright.web.work.room import WorkRoom

_LOG = logging.getLogger("limbwright.web")
ROUTERS = (
    session,
    assist,
    films,
    archive,
    cases,
    versions,
    accept,
    operation,
    course,
    printed,
    work,
    results,
    practice,
    audit,
    health,
    pages,
    course_pages,
)
"""Modules of routes; each route names the role it asks for."""
_DATA_PATHS = ("/api/", "/films/", "/static/")
_STATUS_WORDS = {
    400: ("bad-request", "the request cannot be read."),
    404: ("not-found", "there is nothing at this address."),
    405: ("method", "this address does not take that method."),
    413: ("too-large", "the request is too large."),
}


def create_app(settings: Settings, *, store: Store | None = None) -> FastAPI:
    """The application.

    Parameters
    ----------
    settings : Settings
        Where the store is, what to listen on, bounds.
    store : Store, optional
        An open store, which stays open; one is opened in `settings.home`, and closed with the application,
        unless given.
    """
    held = store if store is not None else open_store(settings.home, database=settings.database)

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        yield
        if store is None:
            held.close()

    app = FastAPI(
        title="Limbwright workbench",
        version=__version__,
        description=f"{CAUTION} Every action of the pages is a call described here.",
        openapi_url="/api/openapi.json",
        docs_url=None,
        redoc_url=None,
        lifespan=lifespan,
        responses={
            "4XX": {"model": ErrorAnswer, "description": "what was found, where, and what to do next"},
            "5XX": {"model": ErrorAnswer, "description": "the same, for faults of the server"},
        },
    )
    limits = settings.limits
    app.state.workbench = Workbench(
        settings=settings,
        store=held,
        gate=Gate(held, settings),
        lightbox=Lightbox(held.films, decoded_bytes=limits.decoded_bytes, tile_bytes=limits.tile_bytes),
        practice=PracticeReader(held.practice),
        work=WorkRoom(most=limits.work_sessions, idle_seconds=limits.work_idle_seconds),
        pages=Pages(),
    )
    for module in ROUTERS:
        app.include_router(module.router)
    static = files("limbwright.web") / "static"
    app.mount("/static", StaticFiles(directory=str(static), check_dir=False), name="static")
    _answer_errors(app)
    app.add_middleware(Guard, settings=settings, fault=_fault)
    return app


def _answer_errors(app: FastAPI) -> None:
    """One handler for each family, all ending in the same shape."""

    @app.exception_handler(Failure)
    async def failure(request: Request, error: Exception) -> Response:
        return answer(request, cast(Failure, error).trouble)

    @app.exception_handler(Unavailable)
    async def unavailable(request: Request, error: Exception) -> Response:
        trouble = refused(cast(Unavailable, error))
        return answer(request, _as(trouble, status=503, code="busy"))

    @app.exception_handler(LimbwrightError)
    async def refusal(request: Request, error: Exception) -> Response:
        return answer(request, refused(cast(LimbwrightError, error)))

    @app.exception_handler(RequestValidationError)
    async def unreadable(request: Request, error: Exception) -> Response:
        return answer(request, _of_validation(cast(RequestValidationError, error)))

    @app.exception_handler(HTTPException)
    async def of_http(request: Request, error: Exception) -> Response:
        return answer(request, _of_status(cast(HTTPException, error)))


def _fault(scope: Scope, error: Exception) -> ASGIApp:
    """Note a fault of ours and answer it.

    The route's pattern, the error's type and the lines it passed say where to look; addresses and messages
    may name a case or a patient and are left out.
    """
    pattern = getattr(scope.get("route"), "path", "unknown route")
    lines = [f"{f.filename}:{f.lineno} {f.name}" for f in traceback.extract_tb(error.__traceback__)]
    _LOG.error("fault in %s %s: %s\n%s", scope["method"], pattern, type(error).__name__, "\n".join(lines))
    return answer(
        Request(scope),
        Trouble(
            status=500,
            code="fault",
            found="the server made a mistake; nothing was saved by this request.",
            where=pattern,
            next_step="Try again. If it happens again, tell whoever keeps the server the time.",
        ),
    )


def answer(request: Request, trouble: Trouble) -> Response:
    """An error as JSON for scripts, as a page for people."""
    path = request.url.path
    if path.startswith(_DATA_PATHS) or "text/html" not in request.headers.get("accept", ""):
        said = JSONResponse(trouble.plain(), status_code=trouble.status)
        if path == "/api/session":
            # Whoever is to log in needs the session that the token in this answer belongs to.
            set_session(said, request, request.state.token)
        return said
    if trouble.status == 401:
        return RedirectResponse(f"/login?next={quote(path, safe='/')}", status_code=303)
    bench: Workbench = request.app.state.workbench
    page = Page(page="error", title="Something is not right", data={"error": trouble.plain()})
    return bench.pages.shown(request, page, None, status=trouble.status)


def _as(trouble: Trouble, *, status: int, code: str) -> Trouble:
    return Trouble(
        status=status, code=code, found=trouble.found, where=trouble.where, next_step=trouble.next_step
    )


def _of_validation(error: RequestValidationError) -> Trouble:
    problems = tuple(
        Problem(
            path=_path_of(one.get("loc", ())),
            value=_short(one.get("input")),
            found=str(one.get("msg", "")),
            next_step="Send what the API's description asks for.",
        )
        for one in error.errors()[:50]
    )
    first = problems[0] if problems else None
    return Trouble(
        status=422,
        code="unreadable",
        found="the request cannot be read." if first is None else f"{first.path}: {first.found}",
        where="request",
        next_step="Send what /api/openapi.json describes.",
        problems=problems,
    )


def _path_of(steps: Any) -> str:
    words = [str(step)[:60] for step in steps if step != "body"]
    return ".".join(["$", *words])


def _short(value: Any) -> str:
    return "" if isinstance(value, dict | list | bytes) else repr(value)[:100]


def _of_status(error: HTTPException) -> Trouble:
    code, found = _STATUS_WORDS.get(error.status_code, ("bad-request", str(error.detail)))
    if error.status_code == 400:
        found = str(error.detail)[:300]
    return Trouble(
        status=error.status_code,
        code=code,
        found=found,
        where="request",
        next_step="Check the address; /api/openapi.json lists all of them.",
    )
