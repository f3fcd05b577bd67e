"""After the operation: where the leg is, visits, prescription, diary, outcome, printed pages."""

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query, Response
from fastapi.responses import JSONResponse

from limbwright.case.followed import followed_case
from limbwright.course.change import amended
from limbwright.course.outcome import outcome
from limbwright.course.what_if import what_if
from limbwright.interop.plain_course import forecast_day_plain, what_if_plain
from limbwright.interop.plain_outcome import outcome_plain
from limbwright.report.closing_letter import printed_closing_letter
from limbwright.report.patient_sheet import DIARY_DAYS, printed_diary, printed_patient_sheet
from limbwright.store.audit import Action
from limbwright.web.bench import Bench, Workbench
from limbwright.web.casework import case_of, document_of, save, stored_case
from limbwright.web.course.asked import Prescribe, ReadFollowUp, SaveDiary, SaveVisit, TryChange
from limbwright.web.course.follow_up import read_follow_up, with_films
from limbwright.web.course.following import (
    amendment_of,
    course_of,
    course_plain,
    day_within,
    standing_of,
    usual_day,
    with_diary,
    with_treatment,
)
from limbwright.web.failure import Failure
from limbwright.web.identity import Planner, Reader, Signer
from limbwright.web.moment import today

router = APIRouter(prefix="/api/cases/{case_id}", tags=["course"])
On = Annotated[date | None, Query(description="The day asked for; today without it.")]
Language = Annotated[str, Query(description="ISO 639-1 code of the patient's language.", max_length=8)]
PDF: dict[int | str, dict[str, Any]] = {200: {"content": {"application/pdf": {}}}}


@router.get("/course")
def course(bench: Bench, who: Reader, case_id: str, on: On = None) -> Response:
    """Where each bone is on a day, where it is heading, what the rules say, and the four charts."""
    return JSONResponse(course_plain(bench, case_id, on))


@router.post("/course/visits", status_code=201)
def save_visit(bench: Bench, who: Planner, case_id: str, body: SaveVisit) -> Response:
    """Add a visit, or put it in the place of another one."""
    case, version = stored_case(bench, case_id, body.base_version)
    course_of(case)
    document = document_of(with_films(bench, case, body.films))
    seen_on = str(body.visit.get("seen_on", ""))
    visits = document["course"].get("visits", [])
    replaced = None if body.replaces is None else body.replaces.isoformat()
    others = [v for v in visits if v["seen_on"] != replaced]
    if any(v["seen_on"] == seen_on for v in others):
        raise Failure(
            409,
            "taken",
            f"there is a visit on {seen_on} already.",
            where=f"case {case_id}, visits",
            next_step="Open that visit and change it, or correct the date.",
        )
    document["course"]["visits"] = sorted([*others, body.visit], key=lambda v: str(v.get("seen_on", "")))
    changed = case_of(document)
    why = body.why or f"visit of {seen_on}"
    number = save(
        bench,
        changed,
        base=version,
        who=who.name,
        why=why,
        beside=bench.store.cases.beside(case_id, version),
    )
    return JSONResponse({"id": case_id, "version": number, "seen_on": seen_on}, status_code=201)


@router.post("/course/film-reading")
def read_film_of_visit(bench: Bench, who: Reader, case_id: str, body: ReadFollowUp) -> Response:
    """Read a follow-up film from rough clicks: marks, length, alignment, new bone; nothing is saved."""
    return JSONResponse(read_follow_up(bench, case_id, body))


@router.delete("/course/visits/{seen_on}")
def remove_visit(
    bench: Bench,
    who: Planner,
    case_id: str,
    seen_on: date,
    base_version: Annotated[int, Query(ge=0, le=1_000_000_000)],
) -> Response:
    """Take a visit out again; the versions before keep it."""
    case, version = stored_case(bench, case_id, base_version)
    document = document_of(case)
    visits = (document.get("course") or {}).get("visits", [])
    left = [v for v in visits if v["seen_on"] != seen_on.isoformat()]
    if len(left) == len(visits):
        raise Failure(
            404,
            "not-found",
            f"there is no visit on {seen_on}.",
            where=f"case {case_id}, visits",
            next_step="Look at the course for the days of its visits.",
        )
    document["course"]["visits"] = left
    number = save(
        bench,
        case_of(document),
        base=version,
        who=who.name,
        why=f"visit of {seen_on} taken out",
        beside=bench.store.cases.beside(case_id, version),
    )
    return JSONResponse({"id": case_id, "version": number})


@router.post("/course/what-if")
def try_change(bench: Bench, who: Reader, case_id: str, body: TryChange) -> Response:
    """A change tried out beside the course as prescribed; nothing is saved."""
    case, _ = stored_case(bench, case_id)
    day_within(course_of(case), body.on)
    _, profile = bench.practice.profile()
    s = standing_of(followed_case(case, profile, on=body.on), body.bone, case_id)
    tried = what_if(s, amendment_of(s, body.change, profile))
    return JSONResponse(
        {**what_if_plain(tried, s), "forecast": [forecast_day_plain(d) for d in tried.after.days]}
    )


@router.post("/course/prescription")
def prescribe(bench: Bench, who: Signer, case_id: str, body: Prescribe) -> Response:
    """Change what is prescribed for one bone from the day after `on`."""
    case, version = stored_case(bench, case_id, body.base_version)
    day_within(course_of(case), body.on)
    _, profile = bench.practice.profile()
    s = standing_of(followed_case(case, profile, on=body.on), body.bone, case_id)
    change = amendment_of(s, body.change, profile, reason=body.reason)
    treatment = next(t for t in course_of(case).treatments if t.prescription.bone is body.bone)
    number = save(
        bench,
        with_treatment(case, amended(treatment, change)),
        base=version,
        who=who.name,
        why=body.reason or f"prescription of the {body.bone} changed from day {change.from_day}",
        beside=bench.store.cases.beside(case_id, version),
    )
    return JSONResponse({"id": case_id, "version": number, "from_day": change.from_day})


@router.post("/course/diary")
def tick(bench: Bench, who: Planner, case_id: str, body: SaveDiary) -> Response:
    """Write days of the patient's diary."""
    case, version = stored_case(bench, case_id, body.base_version)
    treatment = next((t for t in course_of(case).treatments if t.prescription.bone is body.bone), None)
    if treatment is None:
        raise Failure(
            422,
            "refused",
            f"the {body.bone} is not being lengthened.",
            where=f"case {case_id}, course",
            next_step="Name a bone with a prescription.",
        )
    number = save(
        bench,
        with_treatment(case, with_diary(treatment, body.days)),
        base=version,
        who=who.name,
        why="diary",
        beside=bench.store.cases.beside(case_id, version),
    )
    return JSONResponse({"id": case_id, "version": number})


@router.get("/outcome")
def get_outcome(bench: Bench, who: Reader, case_id: str) -> Response:
    """What came of the treatment against what was planned."""
    return JSONResponse(case_outcome_plain(bench, case_id))


def case_outcome_plain(bench: Workbench, case_id: str) -> dict[str, Any]:
    """The outcome with the version it was worked out from; null before the operation."""
    case, version = stored_case(bench, case_id)
    _, profile = bench.practice.profile()
    found = None if case.course is None else outcome(case.course, profile, before=case.examination)
    return {"version": version, "outcome": None if found is None else outcome_plain(found)}


@router.get("/patient-sheet.pdf", response_class=Response, responses=PDF)
def sheet(
    *,
    bench: Bench,
    who: Reader,
    case_id: str,
    on: On = None,
    language: Language = "en",
    telephone: Annotated[str, Query(max_length=40)] = "",
) -> Response:
    """The patient's page: what to do each day, weight, exercises, when to call at once."""
    case, _ = stored_case(bench, case_id)
    day = day_within(course_of(case), on or usual_day(course_of(case)))
    _, profile = bench.practice.profile()
    pdf = printed_patient_sheet(case, profile, on=day, language=language, telephone=telephone)
    return _pdf(bench, pdf, who.name, case_id, "patient sheet")


@router.get("/diary.pdf", response_class=Response, responses=PDF)
def diary(
    *,
    bench: Bench,
    who: Reader,
    case_id: str,
    on: On = None,
    language: Language = "en",
    days: Annotated[int, Query(ge=1, le=400)] = DIARY_DAYS,
) -> Response:
    """The patient's diary with boxes to tick."""
    case, _ = stored_case(bench, case_id)
    day = day_within(course_of(case), on or usual_day(course_of(case)))
    pdf = printed_diary(case, on=day, days=days, language=language)
    return _pdf(bench, pdf, who.name, case_id, "diary")


@router.get("/closing-letter.pdf", response_class=Response, responses=PDF)
def letter(bench: Bench, who: Reader, case_id: str) -> Response:
    """The closing letter; an interim one while treatment goes on."""
    case, _ = stored_case(bench, case_id)
    course_of(case)
    _, profile = bench.practice.profile()
    pdf = printed_closing_letter(case, profile, printed_on=today())
    return _pdf(bench, pdf, who.name, case_id, "closing letter")


def _pdf(bench: Workbench, content: bytes, who: str, case_id: str, what: str) -> Response:
    bench.store.audit.note(who, Action.EXPORTED, case_id=case_id, subject=what)
    name = what.replace(" ", "-")
    return Response(
        content,
        media_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}.pdf"'},
    )
