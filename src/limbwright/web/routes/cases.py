"""Cases: list, create, get, save, export."""

from dataclasses import replace
from typing import Any

from fastapi import APIRouter, Response
from fastapi.responses import JSONResponse

from limbwright.error import Contradiction
from limbwright.store.record import CaseLine
from limbwright.web.bench import Bench, Workbench
from limbwright.web.casework import ALTERATIONS, case_of, case_plain, film_of, new_case, save, stored_case
from limbwright.web.failure import Failure
from limbwright.web.identity import Planner, Reader
from limbwright.web.moment import today
from limbwright.web.wire import MoreFilms, NewCase, SaveCase, SavedAs, Search

router = APIRouter(prefix="/api/cases", tags=["cases"])
STAGE_COUNT_AT_MOST = 500


@router.post("/search")
def search(bench: Bench, who: Reader, body: Search) -> Response:
    """Cases that hold all the words; asked by POST so that no word stands in an address."""
    return JSONResponse(found_cases(bench, body))


def found_cases(bench: Workbench, asked: Search) -> dict[str, Any]:
    """One page of the list of cases."""
    lines = bench.store.listed(
        today=today(), search=asked.text, most=min(asked.limit + 1, STAGE_COUNT_AT_MOST), skip=asked.offset
    )
    return {
        "cases": [line_plain(line) for line in lines[: asked.limit]],
        "offset": asked.offset,
        "more": len(lines) > asked.limit,
    }


def line_plain(line: CaseLine) -> dict[str, Any]:
    """One line of the list."""
    days = line.milestones
    return {
        "id": line.id,
        "side": line.side.value,
        "diagnosis": line.diagnosis,
        "invented": line.invented,
        "patient_id": line.patient,
        "version": line.version,
        "saved_at": line.updated_at.isoformat(),
        "saved_by": line.updated_by,
        "stage": line.stage.value,
        "next_due": {
            "what": line.next_due.value,
            "on": line.next_due_on.isoformat() if line.next_due_on else None,
        },
        "milestones": {
            "operated_on": days.operated_on.isoformat() if days.operated_on else None,
            "first_step_on": days.first_step_on.isoformat() if days.first_step_on else None,
            "last_step_on": days.last_step_on.isoformat() if days.last_step_on else None,
        },
        "findings": {"stop": line.stops, "caution": line.cautions, "note": line.notes},
    }


@router.post("", status_code=201, response_model=SavedAs)
def create(bench: Bench, who: Planner, body: NewCase) -> Response:
    """A new case from uploaded films."""
    case = new_case(bench, body)
    try:
        version = bench.store.cases.create(case, who=who.name, why="new case")
    except Contradiction as error:
        raise Failure(409, "taken", error.found, where=error.where, next_step=error.next_step) from None
    return JSONResponse({"id": case.id, "version": version}, status_code=201)


@router.get("/{case_id}")
def get(bench: Bench, who: Reader, case_id: str) -> Response:
    """A case as it stands."""
    return JSONResponse(case_plain(bench, case_id, None, who.name))


@router.put("/{case_id}", response_model=SavedAs)
def put(bench: Bench, who: Planner, case_id: str, body: SaveCase) -> Response:
    """Save a change; 409 with what differs when somebody else saved in between, and nothing is lost."""
    stored_case(bench, case_id)
    case = case_of(body.case)
    if case.id != case_id:
        raise Failure(
            422,
            "refused",
            f"the document is of case {case.id[:64]!r}.",
            where=f"case {case_id[:64]!r}",
            next_step="Save a document under its own identifier.",
        )
    beside = None
    if body.alterations is not None:
        kept = bench.store.cases.beside(case_id, _known(bench, case_id, body.base_version))
        beside = {**kept, ALTERATIONS: [a.model_dump(mode="json") for a in body.alterations]}
    version = save(bench, case, base=body.base_version, who=who.name, why=body.why, beside=beside)
    return JSONResponse({"id": case_id, "version": version})


@router.post("/{case_id}/films", status_code=201, response_model=SavedAs)
def add_films(bench: Bench, who: Planner, case_id: str, body: MoreFilms) -> Response:
    """Further films for a case, as they came from the store; 409 when somebody else saved in between."""
    case, _ = stored_case(bench, case_id, body.base_version)
    more = replace(case, films=(*case.films, *(film_of(bench, film) for film in body.films)))
    version = save(bench, more, base=body.base_version, who=who.name, why=body.why)
    return JSONResponse({"id": case_id, "version": version}, status_code=201)


def _known(bench: Workbench, case_id: str, version: int) -> int:
    return stored_case(bench, case_id, version)[1]
