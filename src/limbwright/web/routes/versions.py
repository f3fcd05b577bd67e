"""The history of a case: list, look, compare, restore."""

from typing import Annotated

from fastapi import APIRouter, Path, Query, Response
from fastapi.responses import JSONResponse

from limbwright.error import Missing
from limbwright.store.conflict import Conflict
from limbwright.web.bench import Bench
from limbwright.web.casework import (
    case_plain,
    conflict_failure,
    difference_plain,
    stored_case,
    version_plain,
)
from limbwright.web.failure import not_found
from limbwright.web.identity import Planner, Reader
from limbwright.web.wire import Restore, SavedAs

router = APIRouter(prefix="/api/cases/{case_id}", tags=["versions"])
Number = Annotated[int, Query(ge=1, le=1_000_000_000)]


@router.get("/versions")
def versions(bench: Bench, who: Reader, case_id: str) -> Response:
    """Every version, newest first."""
    stored_case(bench, case_id)
    lines = bench.store.cases.versions(case_id)
    return JSONResponse({"versions": [version_plain(v) for v in reversed(lines)]})


@router.get("/versions/{number}")
def version(
    bench: Bench, who: Reader, case_id: str, number: Annotated[int, Path(ge=1, le=1_000_000_000)]
) -> Response:
    """The case as of one version."""
    return JSONResponse(case_plain(bench, case_id, number, who.name))


@router.get("/compare")
def compare(bench: Bench, who: Reader, case_id: str, a: Number, b: Number) -> Response:
    """What differs between two versions, value by value."""
    for number in (a, b):
        stored_case(bench, case_id, number)
    differs = [difference_plain(change) for change in bench.store.cases.compare(case_id, a, b)]
    return JSONResponse({"a": a, "b": b, "differs": differs})


@router.post("/restore", response_model=SavedAs)
def restore(bench: Bench, who: Planner, case_id: str, body: Restore) -> Response:
    """Bring a version back, or one part of it, as a new version."""
    stored_case(bench, case_id)
    try:
        number = bench.store.cases.restore(
            case_id,
            body.version,
            based_on=body.base_version,
            who=who.name,
            why=body.why or f"version {body.version} restored",
            part=body.part,
        )
    except Conflict as conflict:
        raise conflict_failure(conflict) from None
    except Missing as error:
        raise not_found(error.found, error.where, error.next_step) from None
    return JSONResponse({"id": case_id, "version": number})
