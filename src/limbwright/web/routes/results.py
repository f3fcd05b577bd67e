"""The practice audit: what all cases teach, as JSON and as CSV."""

from typing import Annotated, Any

from fastapi import APIRouter, Query, Response
from fastapi.responses import JSONResponse

from limbwright.case.caution import CAUTION
from limbwright.interop.plain_audit import audit_plain, cases_shortened
from limbwright.practice.audit.audit import practice_audit
from limbwright.practice.audit.funnel import Period
from limbwright.practice.audit.offer import offered_settings
from limbwright.practice.audit.sheet import Sheet, columns_sheet, csv_text, result_sheets
from limbwright.store.audit import Action
from limbwright.web.bench import Bench, Workbench
from limbwright.web.failure import Failure
from limbwright.web.identity import Reader

router = APIRouter(prefix="/api/results", tags=["practice audit"])
Invented = Annotated[bool, Query(description="Count invented (demo) cases too.")]
MostCases = Annotated[
    int | None,
    Query(ge=1, le=100_000, description="Cases listed behind one number; all of them without it."),
]
PeriodOfRates = Annotated[Period, Query(description="Periods in which rates are compared.")]


@router.get("")
def results(
    *,
    bench: Bench,
    who: Reader,
    period: PeriodOfRates = Period.YEAR,
    invented: Invented = False,
    most_cases: MostCases = None,
) -> Response:
    """Every question of the practice audit, with the cases behind each number."""
    return JSONResponse(results_plain(bench, period=period, invented=invented, most_cases=most_cases))


@router.get("/{name}.csv", response_class=Response, responses={200: {"content": {"text/csv": {}}}})
def sheet(
    bench: Bench,
    who: Reader,
    name: str,
    period: PeriodOfRates = Period.YEAR,
    invented: Invented = False,
) -> Response:
    """One result, or the columns (`treated_bones`), as CSV; the first line is the caution."""
    sheets = {one.name: one for one in _sheets(bench, period=period, invented=invented)}
    if name not in sheets:
        raise Failure(
            404,
            "not-found",
            f"there is no result of the name {name!r}.",
            where="practice audit",
            next_step=f"Ask for one of {', '.join(sheets)}.",
        )
    bench.store.audit.note(who.name, Action.EXPORTED, subject=f"practice audit, {name}")
    return Response(
        csv_text(sheets[name], first_line=CAUTION),
        media_type="text/csv",
        headers={"Content-Disposition": f'attachment; filename="{name}.csv"'},
    )


def results_plain(
    bench: Workbench, *, period: Period, invented: bool, most_cases: int | None = None
) -> dict[str, Any]:
    """The audit of all cases of the store; with `most_cases` no longer list of cases than that."""
    version, profile = bench.practice.profile()
    given = bench.store.cases.treated_bones(profile, invented=invented)
    found = practice_audit(given.columns, profile, period=period)
    offers = offered_settings(found, profile)
    answer = audit_plain(found, offers)
    return {
        "period": period.value,
        "invented": invented,
        "invented_left_out": given.invented_left_out,
        "profile_version": version,
        "left_out": [
            {"case": one.case_id, "found": one.found, "next": one.next_step} for one in given.left_out
        ],
        "sheets": [one.name for one in (*result_sheets(found, offers), columns_sheet(given.columns))],
        **(answer if most_cases is None else cases_shortened(answer, most_cases)),
    }


def _sheets(bench: Workbench, *, period: Period, invented: bool) -> tuple[Sheet, ...]:
    _, profile = bench.practice.profile()
    given = bench.store.cases.treated_bones(profile, invented=invented)
    found = practice_audit(given.columns, profile, period=period)
    return (*result_sheets(found, offered_settings(found, profile)), columns_sheet(given.columns))
