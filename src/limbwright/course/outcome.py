"""What came of the treatment of one bone: length, alignment, motion, healing, against plan."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from limbwright.course.alignment import Alignment
from limbwright.course.complication import Complication, PaleyClass, paley_class
from limbwright.course.course import Course, Treatment
from limbwright.course.index import (
    FEWEST_READINGS,
    LEAST_GAIN_MM,
    accuracy_percent,
    days_per_cm,
    precision_percent,
)
from limbwright.course.joint_angle import JointAngle
from limbwright.course.ledger import ledger
from limbwright.course.schedule import last_distraction_day
from limbwright.course.score import Score
from limbwright.course.visit import Visit
from limbwright.error import Missing
from limbwright.finding import Finding, Number, Severity, ordered
from limbwright.limb.anatomy import Bone
from limbwright.limb.reading import Measure
from limbwright.plan.circumstances import Examination
from limbwright.plan.rule import rule_source
from limbwright.practice.profile import Profile
from limbwright.published import COMMON_PRACTICE
from limbwright.quantity import Directed, Measured, Value


@dataclass(frozen=True, slots=True, kw_only=True)
class MotionKept(Value):
    """One joint motion before the operation and at the last visit that measured it."""

    name: str
    """Which motion, in words."""
    before_deg: float | None
    """Before the operation; None = not examined [deg]."""
    end_deg: float | None
    """At the end; None = not examined [deg]."""
    better_when_more: bool
    """True where more degrees are better; False for a loss of extension."""

    def lost_deg(self) -> float | None:
        """Degrees lost, gained negative; None where either is missing. [deg]"""
        if self.before_deg is None or self.end_deg is None:
            return None
        return (self.before_deg - self.end_deg) * (1 if self.better_when_more else -1)


@dataclass(frozen=True, slots=True, kw_only=True)
class AngleKept(Value):
    """One joint-orientation angle on the first film after the operation and on the last one that shows it."""

    measure: Measure
    """Which angle."""
    first_deg: float | None
    """On the first film; None where only one film shows it [deg]."""
    end: Measured
    """On the last film [deg]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneOutcome(Value):
    """What came of one lengthened bone; what was not recorded is None."""

    bone: Bone
    """Femur or tibia."""
    planned_mm: float
    """Length prescribed at the operation [mm]."""
    achieved: Measured | None
    """Length on the last film at full length or later that read it [mm]."""
    accuracy_percent: float | None
    """100 (1 - abs(achieved - planned) / planned) [%]."""
    precision_percent: float | None
    """100 (1 - standard deviation of measured over prescribed length); None below three films [%]."""
    healing_index_days_per_cm: float | None
    """Days from the operation to consolidation for each centimetre [days/cm]."""
    distraction_index_days_per_cm: float | None
    """Days from the operation to the last dose for each centimetre [days/cm]."""
    maturation_index_days_per_cm: float | None
    """Days from the last dose to consolidation for each centimetre [days/cm]."""
    frontal: Directed | None
    """Angulation since the operation at the end, frontal film [deg]."""
    sagittal: Directed | None
    """Angulation since the operation at the end, sagittal film [deg]."""
    joint_angles: tuple[AngleKept, ...]
    """Joint-orientation angles on follow-up films."""
    motion: tuple[MotionKept, ...]
    """Joint motions before and at the end."""
    findings: tuple[Finding, ...]
    """What to weigh, worst first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassifiedEvent(Value):
    """An adverse event with its class."""

    event: Complication
    """What happened."""
    paley: PaleyClass
    """Problem, obstacle, minor or major complication."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome(Value):
    """What came of the treatment of one leg."""

    bones: tuple[BoneOutcome, ...]
    """One for each lengthened bone."""
    events: tuple[ClassifiedEvent, ...]
    """Adverse events in the order of the course."""
    scores: tuple[Score, ...]
    """Patient-reported scores by name and date."""

    def count(self, paley: PaleyClass) -> int:
        """Events of one class."""
        return Counter(e.paley for e in self.events)[paley]


def outcome(course: Course, profile: Profile, *, before: Examination | None = None) -> Outcome:
    """Compare what came of a course with what was planned.

    Parameters
    ----------
    course : Course
        Treatments, visits, adverse events, scores.
    profile : Profile
        Tolerances.
    before : Examination, optional
        Joint motion before the operation.
    """
    return Outcome(
        bones=tuple(bone_outcome(t, course.visits, profile, before=before) for t in course.treatments),
        events=tuple(
            ClassifiedEvent(event=e, paley=paley_class(e, treatment_ended_on=course.ended_on))
            for e in course.complications
        ),
        scores=tuple(sorted(course.scores, key=lambda s: (s.name, s.on))),
    )


def bone_outcome(
    treatment: Treatment, visits: tuple[Visit, ...], profile: Profile, *, before: Examination | None = None
) -> BoneOutcome:
    """What came of one bone, from its last readings."""
    bone = treatment.prescription.bone
    planned = treatment.prescription.target_mm
    seen = tuple(v for v in visits if v.seen_on >= treatment.operated_on)
    until = seen[-1].seen_on if seen else treatment.operated_on
    book = ledger(treatment, seen, until=until, profile=profile)
    films = [d for d in book.days if d.measured is not None]
    last_dose = _last_dose_day(treatment)
    ends = [d.measured for d in films if d.number >= (last_dose or 0)]
    achieved = ends[-1] if ends else None
    gained_mm = None if achieved is None or achieved.value < LEAST_GAIN_MM else achieved.value
    ratios = tuple(
        d.measured.value / d.prescribed_mm
        for d in films
        if d.measured is not None and d.prescribed_mm >= LEAST_GAIN_MM
    )
    healed = None if treatment.consolidated_on is None else treatment.day_number(treatment.consolidated_on)
    alignments = [a for v in seen if (a := v.alignment_of(bone)) is not None]
    motion = _motion(seen, before)

    def index(days: int | None) -> float | None:
        known = days is not None and days >= 0 and gained_mm is not None
        return days_per_cm(days=days or 0, gained_mm=gained_mm or 0) if known else None

    return BoneOutcome(
        bone=bone,
        planned_mm=planned,
        achieved=achieved,
        accuracy_percent=None
        if achieved is None or planned < LEAST_GAIN_MM
        else accuracy_percent(planned_mm=planned, achieved_mm=achieved.value),
        precision_percent=precision_percent(ratios) if len(ratios) >= FEWEST_READINGS else None,
        healing_index_days_per_cm=index(healed),
        distraction_index_days_per_cm=index(last_dose),
        maturation_index_days_per_cm=index(
            None if healed is None or last_dose is None else healed - last_dose
        ),
        frontal=next((a.frontal for a in reversed(alignments) if a.frontal is not None), None),
        sagittal=next((a.sagittal for a in reversed(alignments) if a.sagittal is not None), None),
        joint_angles=_angles(bone, seen, profile),
        motion=motion,
        findings=ordered(
            (
                *_length(bone, planned, achieved, profile),
                *_angled(bone, alignments, profile),
                *_motion_lost(motion, profile),
                *_not_healed(treatment),
            )
        ),
    )


def _last_dose_day(treatment: Treatment) -> int | None:
    try:
        return last_distraction_day(treatment.days()).number
    except Missing:
        return None


def _angles(bone: Bone, visits: tuple[Visit, ...], profile: Profile) -> tuple[AngleKept, ...]:
    read: dict[Measure, list[JointAngle]] = {}
    for visit in visits:
        for angle in visit.joint_angles:
            if angle.bone is bone:
                read.setdefault(angle.measure, []).append(angle)
    return tuple(
        AngleKept(
            measure=measure,
            first_deg=read[measure][0].deg if len(read[measure]) > 1 else None,
            end=Measured(
                value=read[measure][-1].deg,
                sd=read[measure][-1].sd_deg or profile.angle_reading_sd_deg,
                unit="deg",
            ),
        )
        for measure in Measure
        if measure in read
    )


def _motion(visits: tuple[Visit, ...], before: Examination | None) -> tuple[MotionKept, ...]:
    found = []
    for name, field, more in (
        ("knee flexion", "knee_flexion_deg", True),
        ("loss of knee extension", "knee_extension_loss_deg", False),
        ("ankle dorsiflexion, knee straight", "ankle_dorsiflexion_deg", True),
    ):
        ends = [getattr(v.clinical, field) for v in visits if v.clinical is not None]
        end = next((value for value in reversed(ends) if value is not None), None)
        was = None if before is None else getattr(before, field)
        if end is not None or was is not None:
            found.append(MotionKept(name=name, before_deg=was, end_deg=end, better_when_more=more))
    return tuple(found)


def _length(bone: Bone, planned: float, achieved: Measured | None, profile: Profile) -> Iterator[Finding]:
    if achieved is None:
        yield Finding(
            id="outcome-length-not-read",
            severity=Severity.CAUTION,
            words=f"No film at full length gives the length gained in the {bone}.",
            next_step="Enter it from the last film.",
            rule="An outcome needs the length that was gained.",
            source=COMMON_PRACTICE,
        )
        return
    off = achieved.value - planned
    if abs(off) > profile.length_tolerance_mm:
        yield Finding(
            id="outcome-length-off",
            severity=Severity.CAUTION,
            words=f"The {bone} gained {achieved.value:.1f} mm of {planned:g} mm planned: {abs(off):.1f} mm "
            f"{'more' if off > 0 else 'less'}, beyond {profile.length_tolerance_mm:g} mm.",
            next_step="Record why; weigh a lift or a later stage.",
            numbers=(
                Number(name="gained", value=achieved.value, unit="mm"),
                Number(name="planned", value=planned, unit="mm"),
                Number(name="tolerance", value=profile.length_tolerance_mm, unit="mm"),
            ),
            rule="The length gained lies within length_tolerance_mm of the plan.",
            source=rule_source(profile, "length_tolerance_mm"),
        )


def _angled(bone: Bone, alignments: list[Alignment], profile: Profile) -> Iterator[Finding]:
    """Angulation since the operation at the end, beyond the practice's limit."""
    for film in ("frontal", "sagittal"):
        read = (getattr(a, film) for a in reversed(alignments))
        end: Directed | None = next((value for value in read if value is not None), None)
        if end is None or end.magnitude <= profile.drift_limit_deg:
            continue
        yield Finding(
            id="outcome-angulated",
            severity=Severity.CAUTION,
            words=f"The {bone} ends {end.magnitude:.1f} deg in {end.direction} on the {film} film since the "
            f"operation; the limit is {profile.drift_limit_deg:g} deg.",
            next_step="Judge it on a long standing film, and weigh a correction before or at nail removal.",
            numbers=(
                Number(name="angulation", value=end.magnitude, unit="deg"),
                Number(name="limit", value=profile.drift_limit_deg, unit="deg"),
            ),
            rule="Angulation since the operation beyond drift_limit_deg is pointed out.",
            source=rule_source(profile, "drift_limit_deg"),
        )


def _motion_lost(motion: tuple[MotionKept, ...], profile: Profile) -> Iterator[Finding]:
    limit = profile.beyond_noise_sd * 2**0.5 * profile.joint_motion_sd_deg
    for one in motion:
        lost = one.lost_deg()
        if lost is not None and lost > limit:
            yield Finding(
                id="outcome-motion-lost",
                severity=Severity.CAUTION,
                words=f"{one.name.capitalize()}: {one.before_deg:g} deg before, {one.end_deg:g} deg at the "
                "end, "
                f"{lost:g} deg worse.",
                next_step="Plan therapy, or a release.",
                numbers=(
                    Number(name="before", value=one.before_deg or 0.0, unit="deg"),
                    Number(name="at the end", value=one.end_deg or 0.0, unit="deg"),
                    Number(name="more than reading noise from", value=limit, unit="deg"),
                ),
                rule="Motion lost by more than beyond_noise_sd of two measurements is pointed out.",
                source=rule_source(profile, "beyond_noise_sd", "joint_motion_sd_deg"),
            )


def _not_healed(treatment: Treatment) -> Iterator[Finding]:
    if treatment.consolidated_on is None:
        yield Finding(
            id="outcome-not-consolidated",
            severity=Severity.NOTE,
            words=f"The {treatment.prescription.bone} has not been called consolidated.",
            next_step="Record the day when three of four cortices are bridged and it carries without pain.",
            rule="Healing index and maturation index need the day of consolidation.",
            source=COMMON_PRACTICE,
        )
