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
from limbwright.course.schedule import film_days, last_distraction_day, schedule
from limbwright.error import LimbwrightError
from limbwright.finding import Severity
from limbwright.limb.anatomy import Side
from limbwright.quantity import Value

LISTING_VERSION = 1
"""Raised when these functions change what they say, so that stored rows are filled again."""
LONGEST_DIAGNOSIS = 200


class Step(StrEnum):
    """How far the document of a case has come."""

    MARKING = "marking films"
    MEASURED = "measured"
    GOAL = "goal set"
    PLANNED = "planned"
    OPERATED = "operated"


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


def listing(case: Case) -> Listing:
    """What the list shows of a case."""
    due, due_on = next_due(case)
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
    first, last = [], []
    for treatment in case.course.treatments:
        try:
            days = schedule(treatment.prescription, treatment.operated_on)
            first.append(next(day.on for day in days if day.steps))
            last.append(last_distraction_day(days).on)
        except (LimbwrightError, StopIteration):
            continue
    return Milestones(
        operated_on=min(treatment.operated_on for treatment in case.course.treatments),
        first_step_on=min(first, default=None),
        last_step_on=max(last, default=None),
    )


def next_due(case: Case) -> tuple[Due, date | None]:
    """What is due next and when, whether or not that day has passed.

    A film is done by a visit with a film or a length read from one, later than half an interval before it was
    due; a visit for another reason does not do it.
    """
    if case.course is None:
        return Due.NOTHING, None
    read = [
        visit.seen_on
        for visit in case.course.visits
        if visit.films or any(gain.measured_mm is not None for gain in visit.gained)
    ]
    waiting = []
    for treatment in case.course.treatments:
        half = timedelta(days=treatment.prescription.film_interval_days // 2)
        try:
            days = film_days(schedule(treatment.prescription, treatment.operated_on))
        except LimbwrightError:
            continue
        waiting += [day.on for day in days if not any(seen > day.on - half for seen in read)]
    return (Due.FILM, min(waiting)) if waiting else (Due.NOTHING, None)


def stage_on(step: Step, days: Milestones, today: date) -> Stage:
    """Where a case stands on its time axis on a day."""
    if step is not Step.OPERATED or days.operated_on is None:
        return Stage(step.value) if step is not Step.OPERATED else Stage.SCHEDULED
    if today < days.operated_on:
        return Stage.SCHEDULED
    if days.first_step_on is None or today < days.first_step_on:
        return Stage.LATENCY
    if days.last_step_on is None or today <= days.last_step_on:
        return Stage.LENGTHENING
    return Stage.HEALING


def due_on(due: Due, due_day: date | None, days: Milestones, today: date) -> tuple[Due, date | None]:
    """What is due as seen on a day: before the operation that is the operation."""
    if days.operated_on is not None and today < days.operated_on:
        return Due.OPERATION, days.operated_on
    return due, due_day


def _one_line(text: str) -> str:
    line = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return line if len(line) <= LONGEST_DIAGNOSIS else f"{line[: LONGEST_DIAGNOSIS - 1]}…"
