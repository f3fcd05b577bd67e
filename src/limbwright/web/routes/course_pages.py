"""The pages after the operation, and what the practice's cases teach."""

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, Response

from limbwright.course.clinical import NerveSign, Wound
from limbwright.course.complication import ComplicationKind, Remedy
from limbwright.course.hardware_sign import HardwareSignKind
from limbwright.course.new_bone import NewBoneTexture
from limbwright.course.patient.translation import LANGUAGES
from limbwright.film.new_bone import NewBoneShape
from limbwright.practice.audit.funnel import Period
from limbwright.web.bench import Bench
from limbwright.web.casework import case_plain
from limbwright.web.course.following import course_plain
from limbwright.web.identity import Reader
from limbwright.web.moment import today
from limbwright.web.page import Page
from limbwright.web.routes.course import case_outcome_plain
from limbwright.web.routes.results import results_plain

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)
On = Annotated[date | None, Query()]
CASES_SHOWN = 200
"""Links to cases behind one number on the results page."""


@router.get("/cases/{case_id}/course")
def course(request: Request, bench: Bench, who: Reader, case_id: str, on: On = None) -> Response:
    """Where the leg is, where it is heading, what the rules say."""
    data = {**_document(bench, case_id, who.name), "course": course_plain(bench, case_id, on)}
    data |= {"languages": list(LANGUAGES), "day": today().isoformat()}
    page = Page(page="course", title=f"Course, {case_id}", data=data, case_id=case_id)
    return bench.pages.shown(request, page, who)


@router.get("/cases/{case_id}/visit")
def visit(request: Request, bench: Bench, who: Reader, case_id: str, on: On = None) -> Response:
    """One visit, new or to be changed."""
    data: dict[str, Any] = {
        **_document(bench, case_id, who.name),
        "on": (on or today()).isoformat(),
        "choices": {
            "shape": [v.value for v in NewBoneShape],
            "texture": [v.value for v in NewBoneTexture],
            "wound": [v.value for v in Wound],
            "nerve_sign": [v.value for v in NerveSign],
            "hardware": [v.value for v in HardwareSignKind],
        },
    }
    page = Page(page="visit", title=f"Visit, {case_id}", data=data, case_id=case_id)
    return bench.pages.shown(request, page, who)


@router.get("/cases/{case_id}/outcome")
def outcome(request: Request, bench: Bench, who: Reader, case_id: str) -> Response:
    """What came of it against what was planned."""
    data = {
        **_document(bench, case_id, who.name),
        **case_outcome_plain(bench, case_id),
        "choices": {
            "kind": [v.value for v in ComplicationKind],
            "remedy": [v.value for v in Remedy],
        },
    }
    page = Page(page="outcome", title=f"Outcome, {case_id}", data=data, case_id=case_id)
    return bench.pages.shown(request, page, who)


@router.get("/results")
def results(
    request: Request,
    bench: Bench,
    who: Reader,
    period: Period = Period.YEAR,
    invented: bool = False,
) -> Response:
    """What all cases of the practice teach."""
    data = {
        "results": results_plain(bench, period=period, invented=invented, most_cases=CASES_SHOWN),
        "periods": [p.value for p in Period],
    }
    return bench.pages.shown(request, Page(page="results", title="Practice audit", data=data), who)


def _document(bench: Bench, case_id: str, who: str) -> dict[str, Any]:
    return {"document": case_plain(bench, case_id, None, who)}
