"""Assisted reading: rough clicks on a film in, what the film shows out."""

from typing import Annotated, Any

from fastapi import APIRouter, Path, Response
from fastapi.responses import JSONResponse

from limbwright.web.assist.asked import Snap, Trace
from limbwright.web.assist.opened import film_record, in_turn, opened
from limbwright.web.assist.snap import snap_answer, snap_kinds
from limbwright.web.assist.trace import trace_answer
from limbwright.web.bench import Bench
from limbwright.web.identity import Reader
from limbwright.web.routes.films import require_film

router = APIRouter(prefix="/api/films", tags=["assisted reading"])
Sha256 = Annotated[str, Path(pattern=r"^[0-9a-f]{64}$", description="SHA-256 of the film's bytes.")]


@router.get("/snap-kinds")
def kinds(who: Reader) -> dict[str, Any]:
    """What can be snapped, how, and on which films."""
    return snap_kinds()


@router.post("/{sha256}/snap")
def snap(bench: Bench, who: Reader, sha256: Sha256, body: Snap) -> Response:
    """The place that the film shows near a rough click, or a refusal in words."""
    require_film(bench, sha256)
    film = film_record(body.film, sha256)
    return JSONResponse(in_turn(lambda: snap_answer(opened(bench, film, sha256), body)))


@router.post("/{sha256}/trace")
def trace(bench: Bench, who: Reader, sha256: Sha256, body: Trace) -> Response:
    """Both cortices of a shaft along rough clicks, with canal and isthmus, or a refusal in words."""
    require_film(bench, sha256)
    film = film_record(body.film, sha256)
    return JSONResponse(in_turn(lambda: trace_answer(opened(bench, film, sha256), body)))
