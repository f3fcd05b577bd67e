"""Cases become the plain columns of the practice audit, one row for each treated bone.

What a case does not record stays "not recorded". What concerns the whole leg (mechanical axis, an adverse
event without a bone) stands in the row of the first treated bone only, so that it is counted once.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from itertools import chain

from limbwright.case.case import Case
from limbwright.case.measured import MeasuredLeg, measured_case, measured_leg
from limbwright.course.complication import Complication, ComplicationKind, PaleyClass, Remedy, paley_class
from limbwright.course.course import Course, Treatment
from limbwright.course.schedule import last_distraction_day
from limbwright.course.visit import Visit
from limbwright.error import Contradiction, LimbwrightError, Missing, OutOfRange
from limbwright.limb.anatomy import Bone
from limbwright.limb.reading import ABOVE_RANGE, Measure
from limbwright.plan.decision import BonePlan
from limbwright.plan.osteotomy import zone_at
from limbwright.practice.audit.columns import AuditColumns, TreatedBone, columns_of
from limbwright.practice.profile import Profile
from limbwright.quantity import Sense, Value

FRONTAL_ANGLE = {Bone.FEMUR: Measure.MLDFA, Bone.TIBIA: Measure.MPTA}
SAGITTAL_ANGLE = {Bone.FEMUR: Measure.PDFA, Bone.TIBIA: Measure.PPTA}


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut(Value):
    """A case that the audit cannot count, and why."""

    case_id: str
    """Id of the case."""
    found: str
    """What contradicts itself."""
    next_step: str
    """How to mend it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AuditInput(Value):
    """What goes into an audit, and what had to stay out of it."""

    columns: AuditColumns
    """One row for each treated bone."""
    left_out: tuple[LeftOut, ...]
    """Cases with values that cannot be true; to be shown beside the results."""


def audit_columns(cases: Iterable[Case], profile: Profile) -> AuditInput:
    """Columns of the practice audit from cases; a case that was not operated on has no row.

    Parameters
    ----------
    cases : iterable of Case
        All cases of the practice.
    profile : Profile
        Reading errors and the choice of template, for the alignment at the end.

    Raises
    ------
    Contradiction
        If a case id occurs twice: the same leg would be counted twice.
    """
    by_case: dict[str, tuple[TreatedBone, ...]] = {}
    left_out: list[LeftOut] = []
    for case in cases:
        if case.id in by_case:
            raise Contradiction(
                f"the case {case.id!r} is there twice.",
                where="cases of the audit",
                next_step="Keep the newest version of the case, or give the other leg its own id.",
            )
        by_case[case.id] = ()
        try:
            by_case[case.id] = treated_bones(case, profile)
        except LimbwrightError as error:
            left_out.append(_left_out(case.id, error))
    try:
        columns = columns_of(chain.from_iterable(by_case.values()))
    except OutOfRange:
        # Columns are checked as a whole, which is quick; only when something is wrong, case by case.
        for case_id, rows in by_case.items():
            try:
                columns_of(rows)
            except OutOfRange as error:
                left_out.append(_left_out(case_id, error))
                by_case[case_id] = ()
        columns = columns_of(chain.from_iterable(by_case.values()))
    return AuditInput(columns=columns, left_out=tuple(left_out))


def _left_out(case_id: str, error: LimbwrightError) -> LeftOut:
    return LeftOut(case_id=case_id, found=f"{error.where}: {error.found}", next_step=error.next_step)


def treated_bones(case: Case, profile: Profile) -> tuple[TreatedBone, ...]:
    """Rows of one case, in the order of its treatments; none before the operation.

    Raises
    ------
    LimbwrightError
        If the case contradicts itself: an operation before birth, a prescription that would never end.
    """
    return () if case.course is None else tuple(_rows(case, case.course, profile))


def _rows(case: Case, course: Course, profile: Profile) -> Iterator[TreatedBone]:
    full_on = [_full_length_on(treatment) for treatment in course.treatments]
    errors = _end_errors(case, full_on, profile)
    plans = {} if case.plan is None else {plan.bone: plan for plan in case.plan.bones}
    for index, treatment in enumerate(course.treatments):
        bone = treatment.prescription.bone
        plan = plans.get(bone)
        first = index == 0
        after = _visits_from(full_on[index], course.visits)
        aligned = next((a for v in after if (a := v.alignment_of(bone)) is not None), None)
        counts = _events(course, bone, first=first)
        yield TreatedBone(
            case_id=case.id,
            bone=bone.value,
            entry=_entry(treatment, plan),
            level="" if plan is None else _level(plan),
            age_years=case.age_years(treatment.operated_on),
            operated_on=treatment.operated_on,
            followed_days=_followed_days(treatment, course.visits),
            healed=treatment.consolidated_on is not None,
            planned_mm=treatment.prescription.target_mm if plan is None else plan.lengthening_mm,
            gained_mm=_gained_mm(bone, after),
            frontal_error_deg=errors.get(FRONTAL_ANGLE[bone]),
            sagittal_error_deg=errors.get(SAGITTAL_ANGLE[bone]),
            mad_error_mm=errors.get(Measure.MAD) if first else None,
            frontal_drift_deg=None if aligned is None else aligned.varus_deg,
            sagittal_drift_deg=None if aligned is None else aligned.procurvatum_deg,
            blocking_screws=None if plan is None else len(plan.blocking_screws),
            calf_release=_calf_release(course, plan) if bone is Bone.TIBIA else None,
            problems=None if counts is None else counts[PaleyClass.PROBLEM],
            obstacles=None if counts is None else counts[PaleyClass.OBSTACLE],
            minor_complications=None if counts is None else counts[PaleyClass.MINOR_COMPLICATION],
            major_complications=None if counts is None else counts[PaleyClass.MAJOR_COMPLICATION],
        )


def _entry(treatment: Treatment, plan: BonePlan | None) -> str:
    """Way the nail went in: that of the nail really put in, else the plan's."""
    if treatment.nail is not None:
        return treatment.nail.direction.value
    return "" if plan is None else plan.direction.value


def _level(plan: BonePlan) -> str:
    cut = plan.osteotomy
    return zone_at(cut.below_joint_mm, cut.below_joint_mm + cut.above_distal_joint_mm).value


def _followed_days(treatment: Treatment, visits: tuple[Visit, ...]) -> float | None:
    """Days to consolidation, or to the last visit; None when the bone was never seen after its operation."""
    last = treatment.consolidated_on or max((v.seen_on for v in visits), default=None)
    return None if last is None or last < treatment.operated_on else float(treatment.day_number(last))


def _full_length_on(treatment: Treatment) -> date | None:
    """Day of the last lengthening as prescribed; None when nothing was lengthened."""
    try:
        return last_distraction_day(treatment.days()).on
    except Missing:
        return None


def _visits_from(full_on: date | None, visits: tuple[Visit, ...]) -> tuple[Visit, ...]:
    """Visits from the last day of lengthening on, in the order of their dates; none without such a day."""
    return () if full_on is None else tuple(v for v in visits if v.seen_on >= full_on)


def _gained_mm(bone: Bone, after: tuple[Visit, ...]) -> float | None:
    """Length read last, at full length or later; a reading on the way is not the end."""
    read = [gain.measured_mm for v in after if (gain := v.gained_of(bone)) is not None]
    return next((mm for mm in reversed(read) if mm is not None), None)


def _calf_release(course: Course, plan: BonePlan | None) -> bool | None:
    """Planned for the operation, or a contracture of the tibia's joints operated on later.

    That it was not released is known only at the end of treatment, and only with the plan.
    """
    if plan is not None and plan.calf_release:
        return True
    if any(_is_release(event) for event in course.complications):
        return True
    return None if course.ended_on is None or plan is None else False


def _is_release(event: Complication) -> bool:
    contracture = event.kind is ComplicationKind.JOINT_CONTRACTURE
    return contracture and event.bone is Bone.TIBIA and event.remedy is Remedy.OPERATIVE


def _events(course: Course, bone: Bone, *, first: bool) -> Counter[PaleyClass] | None:
    """Adverse events by class; None while treatment goes on, since none yet is not none."""
    if course.ended_on is None:
        return None
    return Counter(
        paley_class(event, treatment_ended_on=course.ended_on)
        for event in course.complications
        if event.bone is bone or (event.bone is None and first)
    )


def _end_errors(case: Case, full_on: list[date | None], profile: Profile) -> dict[Measure, float]:
    """Alignment on the last standing films at full length minus target, varus +, procurvatum +, medial +."""
    known = [on for on in full_on if on is not None]
    if len(known) < len(full_on) or (case.goal is not None and not case.goal.correct_alignment):
        return {}
    end = _leg_at_end(case, max(known), profile)
    if end is None:
        return {}
    try:
        before = measured_case(case, profile)
    except LimbwrightError:
        # Without measurable films from before there is no target to compare the end with.
        return {}
    targets = {measure: template.value for measure, template in before.templates.items()}
    if case.goal is not None:
        targets |= case.goal.targets_deg
    errors = {}
    for measure in (Measure.MAD, *FRONTAL_ANGLE.values(), *SAGITTAL_ANGLE.values()):
        reading = end.get(measure)
        if reading is not None and measure in targets:
            more = reading.value.value - targets[measure]
            above_is = ABOVE_RANGE[measure][0]
            positive = above_is in (Sense.VARUS, Sense.PROCURVATUM, Sense.MEDIAL)
            errors[measure] = more if positive else -more
    return errors


def _leg_at_end(case: Case, full_on: date, profile: Profile) -> MeasuredLeg | None:
    """The treated leg on its last day with a standing film at full length."""
    days = {f.taken_on for f in case.films if f.standing and f.taken_on is not None and f.taken_on >= full_on}
    for day in sorted(days, reverse=True):
        films = tuple(f for f in case.films if f.taken_on == day and f.standing)
        try:
            leg = measured_leg(films, case.side, age_years=case.age_years(day), profile=profile)
        except LimbwrightError:
            # Films that cannot be measured leave the day out; an earlier one may tell.
            continue
        if leg is not None:
            return leg
    return None
