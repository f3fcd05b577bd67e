"""What is taken away: the operation plan on paper, the calendar."""

from dataclasses import replace
from datetime import date
from typing import Annotated

from fastapi import APIRouter, Query, Response

from limbwright.course.course import Treatment
from limbwright.course.schedule import schedule
from limbwright.error import LimbwrightError
from limbwright.film.reading import Picture
from limbwright.interop.calendar import Method, calendar_file, dropped_events, schedule_events
from limbwright.report.operation_plan import printed_operation_plan
from limbwright.store.audit import Action
from limbwright.web.bench import Bench, Workbench
from limbwright.web.casework import alterations_in, headers_of, stored_case
from limbwright.web.failure import Failure, refused
from limbwright.web.identity import Reader
from limbwright.web.moment import now, today
from limbwright.web.work.state import WorkState, planned_state

router = APIRouter(prefix="/api/cases/{case_id}", tags=["printed"])
OperatedOn = Annotated[date | None, Query(description="Day 0 of the schedule; the recorded day without it.")]

Language = Annotated[str, Query(description="ISO 639-1 code of the patient's language.", max_length=8)]
Cancelled = Annotated[
    bool,
    Query(description="Only the entries that changes of the prescription have dropped, to be cancelled."),
]


@router.get(
    "/operation-plan.pdf",
    response_class=Response,
    responses={200: {"content": {"application/pdf": {}}}},
)
def operation_plan(bench: Bench, who: Reader, case_id: str, operated_on: OperatedOn = None) -> Response:
    """The operation plan as PDF, as the case stands."""
    state, day = _planned(bench, case_id, operated_on)
    planned = state.planned
    if planned is None:
        raise _nothing(case_id)
    pdf = printed_operation_plan(
        state.case,
        planned,
        state.practice.profile,
        schedules=tuple(schedule(p, day) for p in planned.prescriptions),
        pictures=_pictures(bench, state),
        printed_on=today(),
    )
    bench.store.audit.note(who.name, Action.EXPORTED, case_id=case_id, subject="operation plan")
    return Response(
        pdf,
        media_type="application/pdf",
        headers={"Content-Disposition": 'inline; filename="operation-plan.pdf"'},
    )


@router.get(
    "/calendar.ics",
    response_class=Response,
    responses={200: {"content": {"text/calendar": {}}}},
)
def calendar(
    *,
    bench: Bench,
    who: Reader,
    case_id: str,
    operated_on: OperatedOn = None,
    language: Language = "en",
    cancelled: Cancelled = False,
) -> Response:
    """The schedule for the patient's calendar; every change of the prescription counts its sequence up."""
    case, _ = stored_case(bench, case_id)
    treatments: tuple[Treatment, ...]
    if case.course is not None and operated_on is None:
        treatments = case.course.treatments
    else:
        state, day = _planned(bench, case_id, operated_on)
        prescriptions = state.planned.prescriptions if state.planned else ()
        treatments = tuple(Treatment(operated_on=day, prescription=p) for p in prescriptions)
    if not treatments:
        raise _nothing(case_id)
    events = tuple(e for t in treatments for e in schedule_events(case_id, t, language=language))
    if cancelled:
        before = tuple(
            event
            for t in treatments
            for count in range(len(t.amendments))
            for event in schedule_events(
                case_id, replace(t, amendments=t.amendments[:count]), language=language
            )
        )
        events = tuple({e.uid: e for e in dropped_events(before, events)}.values())
    bench.store.audit.note(who.name, Action.EXPORTED, case_id=case_id, subject="calendar")
    return Response(
        calendar_file(
            events,
            stamped_at=now(),
            sequence=sum(len(t.amendments) for t in treatments),
            method=Method.CANCEL if cancelled else Method.PUBLISH,
        ),
        media_type="text/calendar",
        headers={"Content-Disposition": 'attachment; filename="schedule.ics"'},
    )


def _planned(bench: Workbench, case_id: str, operated_on: date | None) -> tuple[WorkState, date]:
    case, version = stored_case(bench, case_id)
    beside = bench.store.cases.beside(case_id, version)
    state = planned_state(case, alterations_in(beside), bench.practice.both(), headers_of(bench, case))
    if state.planned is None and state.planned_absent is not None:
        trouble = refused(state.planned_absent)
        raise Failure(
            409, "no-plan", trouble.found, where=trouble.where, next_step=trouble.next_step
        ) from state.planned_absent
    recorded = [t.operated_on for t in case.course.treatments] if case.course else []
    return state, operated_on or min(recorded, default=today())


def _pictures(bench: Workbench, state: WorkState) -> dict[str, Picture]:
    found = {}
    for film in state.case.films:
        if film.sha256 is None or not bench.store.films.has(film.sha256):
            continue
        try:
            found[film.name] = bench.lightbox.pyramid(film.sha256).film.picture
        except LimbwrightError:
            continue
    return found


def _nothing(case_id: str) -> Failure:
    return Failure(
        409,
        "no-plan",
        "there is no plan with a lengthening.",
        where=f"case {case_id}",
        next_step="Plan the case and resolve what stops it.",
    )
