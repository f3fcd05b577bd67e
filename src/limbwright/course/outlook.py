"""The whole leg after the operation: each bone's standing, advice today, and advice at every visit before."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from limbwright.course.advice.growth import GrowingLegs, growth
from limbwright.course.advice.pace import TROUBLED, Advice, advice
from limbwright.course.advice.said import Said
from limbwright.course.course import Course, Treatment
from limbwright.course.limits import schedule_findings
from limbwright.course.schedule import BothBones, side_by_side
from limbwright.course.standing import BoneFacts, Standing, standing
from limbwright.course.visit import Visit
from limbwright.finding import Finding, ordered
from limbwright.limb.anatomy import Bone
from limbwright.practice.profile import Profile


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class BoneOutlook:
    """One bone today and what was advised before."""

    standing: Standing
    """Where it is and where it is heading."""
    advice: Advice
    """What the rules say today."""
    history: tuple[tuple[date, Advice], ...]
    """What the rules said on the day of each visit, knowing what was known then; today's visit included."""
    findings: tuple[Finding, ...]
    """Advice and limits of the prescription, worst first."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class CourseOutlook:
    """All lengthened bones of a leg."""

    on: date
    """The day asked for."""
    bones: tuple[BoneOutlook, ...]
    """Bones that have been operated on by that day, in the order of the course."""
    together: tuple[BothBones, ...]
    """Schedules of all bones on one calendar."""
    findings: tuple[Finding, ...]
    """Everything to weigh, worst first, each once."""


def course_outlook(
    course: Course,
    *,
    on: date,
    facts: Mapping[Bone, BoneFacts],
    profile: Profile,
    legs: GrowingLegs | None = None,
) -> CourseOutlook:
    """Where a leg stands on a day, where it is heading, and what the rules say.

    Parameters
    ----------
    course : Course
        Treatments and visits.
    on : date
        The day.
    facts : mapping
        Age, nail and expected drift of each treated bone.
    profile : Profile
        The surgeon's rules.
    legs : GrowingLegs, optional
        Both legs before the operation, of a patient who still grows.
    """
    treatments = tuple(as_prescribed(t, course.visits, on) for t in course.treatments)
    target_mm = sum(t.target_mm for t in treatments)
    growing = tuple(growth(legs, target_mm=target_mm, profile=profile)) if legs is not None else ()
    bones = []
    for treatment in treatments:
        if treatment.operated_on <= on:
            bone = facts[treatment.prescription.bone]
            bones.append(_bone(course, treatment, on, facts=bone, profile=profile, growing=growing))
            growing = ()  # said once, with the first bone
    every = tuple(finding for bone in bones for finding in bone.findings)
    return CourseOutlook(
        on=on,
        bones=tuple(bones),
        together=side_by_side(tuple((t.prescription.bone, t.days()) for t in treatments)),
        findings=ordered(tuple(dict.fromkeys(every))),
    )


def _bone(
    course: Course,
    treatment: Treatment,
    on: date,
    *,
    facts: BoneFacts,
    profile: Profile,
    growing: tuple[Said, ...],
) -> BoneOutlook:
    history: list[tuple[date, Advice]] = []
    for visit in course.visits:
        if treatment.operated_on <= visit.seen_on <= on:
            then = standing(
                as_known(treatment, visit.seen_on),
                course.visits,
                on=visit.seen_on,
                facts=facts,
                profile=profile,
            )
            history.append((visit.seen_on, advice(then, troubled_visits=_troubled(history))))
    now = standing(treatment, course.visits, on=on, facts=facts, profile=profile)
    # Today's visit is part of the history; what stayed until today is counted without it.
    before = [entry for entry in history if entry[0] != (now.visit.seen_on if now.visit else None)]
    today = advice(now, troubled_visits=_troubled(before), more=growing)
    nail = facts.nail
    limits = schedule_findings(
        treatment.prescription.bone,
        treatment.amendments[-1].phases if treatment.amendments else treatment.prescription.phases,
        now.days,
        target_mm=treatment.target_mm,
        profile=profile,
        stroke_mm=None if nail is None else nail.stroke_mm,
        nail_rate_limit_mm_per_day=None if nail is None else nail.rate_limit_mm_per_day,
    )
    shown = limits if now.lengthening else ()
    return BoneOutlook(
        standing=now,
        advice=today,
        history=tuple(history),
        findings=ordered((*today.findings, *shown)),
    )


def as_prescribed(treatment: Treatment, visits: tuple[Visit, ...], on: date) -> Treatment:
    """The treatment with the changes that were prescribed by a day.

    A change carries the day from which it counts, not the day on which it was made. One that begins after a
    later visit is taken to have been decided there, and is not shown on days before it.
    """
    later = [treatment.day_number(v.seen_on) for v in visits if v.seen_on > on]
    first = min(later, default=None)
    kept = tuple(a for a in treatment.amendments if first is None or a.from_day <= first)
    return replace(treatment, amendments=kept)


def as_known(treatment: Treatment, on: date) -> Treatment:
    """The treatment as it was known on a day, before that day's own decisions."""
    day = treatment.day_number(on)
    return replace(
        treatment,
        amendments=tuple(a for a in treatment.amendments if a.from_day <= day),
        diary=tuple(entry for entry in treatment.diary if entry.on <= on),
        consolidated_on=_known(treatment.consolidated_on, on),
        full_weight_on=_known(treatment.full_weight_on, on),
        nail_removed_on=_known(treatment.nail_removed_on, on),
    )


def _known(day: date | None, on: date) -> date | None:
    return day if day is not None and day < on else None


def _troubled(history: list[tuple[date, Advice]]) -> int:
    """Visits in a row, counted back from the last, at which the pace was to slow, hold or reverse."""
    count = 0
    for _, said in reversed(history):
        if said.pace not in TROUBLED:
            break
        count += 1
    return count
