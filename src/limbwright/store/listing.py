"""What the list of cases shows of a case: pure functions of the case, stored beside it and compared with
today.

Nothing stored depends on today: the steps before the operation are told by the document, everything after it
by days that the list compares with today when it is read. What is due stays due until it has been done, so
that an overdue film is seen.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from limbwright.case.case import Case
from limbwright.case.checks import missing_landmarks
from limbwright.course.course import Treatment
from limbwright.course.schedule import Day, film_days
from limbwright.error import LimbwrightError
from limbwright.finding import Severity
from limbwright.limb.anatomy import Side
from limbwright.practice.profile import Profile
from limbwright.quantity import Value

LISTING_VERSION = 3
"""Raised when these functions change what they say, so that stored rows are filled again."""
LONGEST_DIAGNOSIS = 200


class Step(StrEnum):
    """How far the document of a case has come."""

    MARKING = "marking films"
    MEASURED = "measured"
    GOAL = "goal set"
    PLANNED = "planned"
    OPERATED = "operated"
    UNREADABLE = "cannot be read"


class Stage(StrEnum):
    """Where a case stands on its time axis on a given day."""

    MARKING = "marking films"
    MEASURED = "measured"
    GOAL = "goal set"
    PLANNED = "planned"
    SCHEDULED = "operation scheduled"
    LATENCY = "latency"
    LENGTHENING = "lengthening"
    HEALING = "healing"
    HEALED = "healed"
    ENDED = "treatment ended"
    UNREADABLE = "cannot be read"


class Due(StrEnum):
    """What has to happen next."""

    NOTHING = ""
    OPERATION = "operation"
    FILM = "film"


@dataclass(frozen=True, slots=True, kw_only=True)
class Milestones(Value):
    """The days that divide the time axis after the operation; None where there is none."""

    operated_on: date | None = None
    """Day of the first operation."""
    first_step_on: date | None = None
    """Day of the first step of lengthening."""
    last_step_on: date | None = None
    """Day of the last step of lengthening, of all bones."""
    consolidated_on: date | None = None
    """Day on which the last bone was called consolidated; None while one is not."""
    ended_on: date | None = None
    """End of treatment."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Listing(Value):
    """What is stored of a case for the list."""

    side: Side
    """Treated leg."""
    invented: bool
    """True for a demo case."""
    patient: str
    """The patient's pseudonym."""
    diagnosis: str
    """The diagnosis, on one line and shortened."""
    step: Step
    """How far the document has come."""
    milestones: Milestones
    """Days after the operation."""
    next_due: Due
    """What is due next."""
    next_due_on: date | None
    """When; None when nothing is."""
    stops: int
    """Findings of the accepted plan that have to be resolved."""
    cautions: int
    """Findings of the accepted plan to weigh."""
    notes: int
    """Findings of the accepted plan to know."""


def listing(case: Case, profile: Profile) -> Listing:
    """What the list shows of a case; the practice profile says how often a healing bone is filmed."""
    due, due_on = next_due(case, profile)
    findings = case.plan.findings if case.plan is not None else ()
    return Listing(
        side=case.side,
        invented=case.invented,
        patient=case.patient.id,
        diagnosis=_one_line(case.diagnosis),
        step=step_of(case),
        milestones=milestones(case),
        next_due=due,
        next_due_on=due_on,
        stops=sum(finding.severity is Severity.STOP for finding in findings),
        cautions=sum(finding.severity is Severity.CAUTION for finding in findings),
        notes=sum(finding.severity is Severity.NOTE for finding in findings),
    )


def step_of(case: Case) -> Step:
    """How far the document of a case has come; the latest step counts."""
    if case.course is not None:
        return Step.OPERATED
    if case.plan is not None:
        return Step.PLANNED
    if missing_landmarks(case.films, case.side):
        return Step.MARKING
    return Step.MEASURED if case.goal is None else Step.GOAL


def milestones(case: Case) -> Milestones:
    """The days that divide the time axis; of two bones the first operation and first step, the last last
    step.

    A prescription that cannot be laid out day by day leaves its days out.
    """
    if case.course is None:
        return Milestones()
    treatments = case.course.treatments
    stepped = [day.on for treatment in treatments for day in _days_of(treatment) if day.steps]
    healed = [one.consolidated_on for one in treatments if one.consolidated_on is not None]
    return Milestones(
        operated_on=min(treatment.operated_on for treatment in treatments),
        first_step_on=min(stepped, default=None),
        last_step_on=max(stepped, default=None),
        consolidated_on=max(healed) if len(healed) == len(treatments) else None,
        ended_on=case.course.ended_on,
    )


def next_due(case: Case, profile: Profile) -> tuple[Due, date | None]:
    """What is due next and when, whether or not that day has passed.

    While a bone is lengthened films are due as prescribed. A film is done by a visit with a film or a length
    read from one, later than half an interval before it was due; a visit for another reason does not do it.
    After that, until every bone is called consolidated, the next film is due the practice's interval for
    healing bones after the last one.
    """
    if case.course is None or case.course.ended_on is not None:
        return Due.NOTHING, None
    read = [
        visit.seen_on
        for visit in case.course.visits
        if visit.films or any(gain.measured_mm is not None for gain in visit.gained)
    ]
    waiting = []
    for treatment in case.course.treatments:
        if treatment.consolidated_on is not None:
            continue
        films = film_days(_days_of(treatment))
        missed = [d.on for d in films if not any(seen > d.on - _half_interval(treatment, d) for seen in read)]
        if missed:
            waiting.append(missed[0])
        elif films:
            waiting.append(max(read) + timedelta(days=profile.film_interval_consolidation_days))
    return (Due.FILM, min(waiting)) if waiting else (Due.NOTHING, None)


def _days_of(treatment: Treatment) -> tuple[Day, ...]:
    """The schedule with all changes; empty when it cannot be laid out, which the course page says in
    words."""
    try:
        return treatment.days()
    except LimbwrightError:
        return ()


def _half_interval(treatment: Treatment, day: Day) -> timedelta:
    interval_days = treatment.prescription.film_interval_days
    for amendment in treatment.amendments:
        if amendment.from_day <= day.number and amendment.film_interval_days is not None:
            interval_days = amendment.film_interval_days
    return timedelta(days=interval_days // 2)


def stage_on(step: Step, days: Milestones, today: date) -> Stage:
    """Where a case stands on its time axis on a day."""
    if step is not Step.OPERATED:
        return Stage(step.value)
    after_last_step = None if days.last_step_on is None else days.last_step_on + timedelta(days=1)
    reached = Stage.SCHEDULED
    for begins_on, stage in (
        (days.operated_on, Stage.LATENCY),
        (days.first_step_on, Stage.LENGTHENING),
        (after_last_step, Stage.HEALING),
        (days.consolidated_on, Stage.HEALED),
        (days.ended_on, Stage.ENDED),
    ):
        if begins_on is not None and begins_on <= today:
            reached = stage
    return reached


def due_on(due: Due, due_day: date | None, days: Milestones, today: date) -> tuple[Due, date | None]:
    """What is due as seen on a day: before the operation that is the operation."""
    if days.operated_on is not None and today < days.operated_on:
        return Due.OPERATION, days.operated_on
    return due, due_day


def _one_line(text: str) -> str:
    line = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return line if len(line) <= LONGEST_DIAGNOSIS else f"{line[: LONGEST_DIAGNOSIS - 1]}…"
