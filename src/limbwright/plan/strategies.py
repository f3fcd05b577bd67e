"""The strategies for one leg: femur, tibia or both, together or staged, and the surgeon's own."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from limbwright.error import Contradiction, Refused
from limbwright.finding import Finding, Severity
from limbwright.growth.growth import Sex
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone
from limbwright.plan.barrier import Barrier, barriers, way_in
from limbwright.plan.burden import strategy_figure
from limbwright.plan.circumstances import Examination
from limbwright.plan.comparison import compare
from limbwright.plan.consequence import Treatment, strategy_of
from limbwright.plan.goal import BoneChoice, Goal, Staging
from limbwright.plan.hardware_limits import hardware_limits
from limbwright.plan.maturity import WayMaturity, ways_maturity
from limbwright.plan.share import shared_lengthening_mm, stages_needed
from limbwright.plan.situation import BoneSituation, LegSituation
from limbwright.plan.strategy import Strategy, StrategyName
from limbwright.plan.strategy_finding import strategy_findings
from limbwright.practice.by_bone import max_lengthening_mm
from limbwright.practice.profile import Profile
from limbwright.published import COMMON_PRACTICE
from limbwright.quantity import Value

LONG_BONES = (Bone.FEMUR, Bone.TIBIA)


@dataclass(frozen=True, slots=True, kw_only=True)
class Question(Value):
    """Everything a choice of bone rests on."""

    situation: LegSituation
    """Where shortening and deformity are."""
    goal: Goal
    """What is wanted, and what the surgeon has fixed."""
    examination: Examination
    """Joints, infection, hardware, growth plates seen open."""
    age_years: float
    """Age at operation [years]."""
    sex: Sex
    """Sex, for the age at which growth plates close."""
    skeletal_age_years: float | None = None
    """Bone age; wins over the calendar age; None = not known [years]."""

    @property
    def need_mm(self) -> float:
        """Length to gain, never negative. [mm]"""
        return max(0.0, self.situation.short_mm - self.goal.leave_short_mm)


def femur_direction(part: BoneSituation) -> Direction:
    """Way a femoral nail is offered first: retrograde for a main apex in the distal part, else antegrade."""
    level = [a for a in part.angulations if a.below_joint_mm is not None]
    main = max(level, key=lambda a: abs(a.frontal_deg) + abs(a.sagittal_deg), default=None)
    if main is None or main.below_joint_mm is None:
        return Direction.ANTEGRADE
    share = 100 * main.below_joint_mm / part.length_mm
    return Direction.RETROGRADE if share >= strategy_figure("retrograde_from_share") else Direction.ANTEGRADE


def deformed(part: BoneSituation, profile: Profile) -> bool:
    """Whether a bone has an apex or a rotation beyond the surgeon's tolerances."""
    return (
        any(
            abs(a.frontal_deg) > profile.angle_tolerance_deg
            or abs(a.sagittal_deg) > profile.sagittal_tolerance_deg
            for a in part.angulations
        )
        or abs(part.rotation_deg or 0.0) > profile.rotation_tolerance_deg
    )


def strategies(question: Question, profile: Profile) -> tuple[Strategy, ...]:
    """Femur, tibia, both together and both staged, each with its consequences; the surgeon's own first.

    Parameters
    ----------
    question : Question
        Situation, goal, examination, age and open growth plates.
    profile : Profile
        The surgeon's own numbers.

    Returns
    -------
    tuple of Strategy
        Four, or five when the surgeon has fixed bones. Excluded ones are kept, with the reasons.

    Raises
    ------
    Refused
        When the treated leg is longer than wanted, or nothing is off the goal.
    """
    _require_something_to_do(question, profile)
    standing = _barriers(question, profile)
    found = [
        _one_bone(question, StrategyName.FEMUR, Bone.FEMUR, standing, profile),
        _one_bone(question, StrategyName.TIBIA, Bone.TIBIA, standing, profile),
        _both(question, Staging.SIMULTANEOUS, standing, profile),
        _both(question, Staging.STAGED, standing, profile),
    ]
    if question.goal.bones:
        found.insert(0, _surgeons(question, standing, profile))
    return tuple(_weighed(strategy, question, profile) for strategy in found)


def _require_something_to_do(question: Question, profile: Profile) -> None:
    off = question.situation.short_mm - question.goal.leave_short_mm
    if off < -profile.length_tolerance_mm:
        raise Refused(
            f"the treated leg is already {-off:.0f} mm longer than wanted.",
            where="choice of bone",
            next_step="Check side and goal; a longer leg is not made equal by lengthening it.",
        )
    straight = not any(deformed(question.situation.of(bone), profile) for bone in LONG_BONES)
    if off <= profile.length_tolerance_mm and (straight or not question.goal.correct_alignment):
        raise Refused(
            f"length ({off:.0f} mm from the goal) and alignment are within the tolerances of the profile.",
            where="choice of bone",
            next_step="Check the measurements of both legs, or change the goal.",
        )


def question_ways(question: Question, profile: Profile) -> tuple[WayMaturity, ...]:
    """The growth plate that each way into femur and tibia crosses, for this patient."""
    return ways_maturity(
        sex=question.sex,
        age_years=question.age_years,
        skeletal_age_years=question.skeletal_age_years,
        examination=question.examination,
        profile=profile,
    )


def _barriers(question: Question, profile: Profile) -> tuple[Barrier, ...]:
    limits = tuple(
        hardware_limits(
            bone=bone,
            length_mm=question.situation.of(bone).length_mm,
            hardware=question.examination.hardware,
            profile=profile,
        )
        for bone in LONG_BONES
    )
    ways = question_ways(question, profile)
    return barriers(examination=question.examination, ways=ways, hardware=limits, profile=profile)


def _choice(question: Question, bone: Bone) -> BoneChoice | None:
    return next((c for c in question.goal.bones if c.bone is bone), None)


def _direction(
    question: Question, bone: Bone, standing: tuple[Barrier, ...], *, fixed: Direction | None = None
) -> tuple[Direction, tuple[Finding, ...]]:
    """Way into a bone, and the reasons against it when none is open."""
    part = question.situation.of(bone)
    preferred = fixed or (femur_direction(part) if bone is Bone.FEMUR else Direction.ANTEGRADE)
    concerning = tuple(b for b in standing if b.bone is bone)
    if fixed is not None:
        closing = tuple(b.finding for b in concerning if b.direction in {None, fixed})
        return preferred, closing
    way = way_in(bone, preferred, concerning)
    if way is None:
        return preferred, tuple(b.finding for b in concerning)
    return way, ()


def _treatment(
    question: Question, bone: Bone, lengthening_mm: float, direction: Direction, profile: Profile
) -> Treatment:
    """A bone's lengthening spread over as few stages as its limit allows."""
    part = question.situation.of(bone)
    limit_mm = max_lengthening_mm(profile, bone=bone, bone_length_mm=part.length_mm)
    stages = min(
        max(1, stages_needed(lengthening_mm, limit_mm)), int(strategy_figure("most_stages_of_one_bone"))
    )
    return Treatment(
        lengthening_mm=min(lengthening_mm, stages * limit_mm), stages=stages, direction=direction
    )


def _built(
    question: Question,
    name: StrategyName,
    treatments: Mapping[Bone, Treatment],
    profile: Profile,
    *,
    staging: Staging | None,
    excluded: tuple[Finding, ...],
) -> Strategy:
    """The strategy; the bone that gains more comes first when they are treated one after the other."""
    order = tuple(sorted(treatments, key=lambda b: (-treatments[b].lengthening_mm, b is Bone.TIBIA)))
    return strategy_of(
        name=name,
        situation=question.situation,
        treatments=treatments,
        order=order,
        staging=staging,
        leave_short_mm=question.goal.leave_short_mm,
        correct_alignment=question.goal.correct_alignment,
        examination=question.examination,
        age_years=question.age_years,
        profile=profile,
        excluded=excluded,
    )


def _one_bone(
    question: Question, name: StrategyName, bone: Bone, standing: tuple[Barrier, ...], profile: Profile
) -> Strategy:
    direction, closed = _direction(question, bone, standing)
    excluded = list(closed)
    if question.need_mm <= profile.length_tolerance_mm and not deformed(question.situation.of(bone), profile):
        excluded.append(_not_needed(bone))
    treatment = _treatment(question, bone, question.need_mm, direction, profile)
    return _built(question, name, {bone: treatment}, profile, staging=None, excluded=tuple(excluded))


def _shares(question: Question, profile: Profile) -> dict[Bone, float]:
    """Lengthening of both bones; a share too small to be worth a nail goes to the other bone."""
    situation = question.situation
    limits = {
        bone: max_lengthening_mm(profile, bone=bone, bone_length_mm=situation.of(bone).length_mm)
        for bone in LONG_BONES
    }
    femur, tibia = shared_lengthening_mm(
        need_mm=question.need_mm,
        femur_short_mm=situation.femur.short_mm,
        lower_leg_short_mm=situation.tibia.short_mm + situation.foot_short_mm,
        femur_limit_mm=limits[Bone.FEMUR],
        tibia_limit_mm=limits[Bone.TIBIA],
        knee_height_tolerance_mm=profile.knee_height_tolerance_mm,
    )
    if 0 < femur < profile.length_tolerance_mm:
        femur, tibia = 0.0, _with(femur, tibia, limits[Bone.TIBIA])
    elif 0 < tibia < profile.length_tolerance_mm:
        femur, tibia = _with(tibia, femur, limits[Bone.FEMUR]), 0.0
    return {Bone.FEMUR: femur, Bone.TIBIA: tibia}


def _with(small_mm: float, large_mm: float, limit_mm: float) -> float:
    """The larger share with the small one added, unless that alone would need another stage."""
    return large_mm if large_mm > limit_mm else min(large_mm + small_mm, limit_mm)


def _both(question: Question, staging: Staging, standing: tuple[Barrier, ...], profile: Profile) -> Strategy:
    shares = _shares(question, profile)
    treatments: dict[Bone, Treatment] = {}
    excluded: list[Finding] = []
    for bone in LONG_BONES:
        direction, closed = _direction(question, bone, standing)
        treatments[bone] = _treatment(question, bone, shares[bone], direction, profile)
        excluded += closed
        straight = not deformed(question.situation.of(bone), profile)
        if shares[bone] == 0 and (straight or not question.goal.correct_alignment):
            excluded.append(_not_needed(bone))
    wanted = question.goal.staging
    if wanted is not None and wanted is not staging and not question.goal.bones:
        excluded.append(_staging_fixed(wanted))
    name = StrategyName.BOTH_STAGED if staging is Staging.STAGED else StrategyName.BOTH_TOGETHER
    return _built(question, name, treatments, profile, staging=staging, excluded=tuple(excluded))


def _surgeons(question: Question, standing: tuple[Barrier, ...], profile: Profile) -> Strategy:
    """The strategy that the surgeon has fixed; what is left open is filled in by the rules."""
    bones = [choice.bone for choice in question.goal.bones]
    if Bone.FIBULA in bones or len(set(bones)) != len(bones):
        raise Contradiction(
            f"the bones fixed are {', '.join(bones)}, expected femur, tibia or one of each.",
            where="goal, bones",
            next_step="Name each bone once; the fibula follows the tibia.",
        )
    amounts = _amounts(question, profile)
    treatments: dict[Bone, Treatment] = {}
    excluded: list[Finding] = []
    for bone in LONG_BONES:
        choice = _choice(question, bone)
        if choice is None:
            continue
        direction, closed = _direction(question, bone, standing, fixed=choice.direction)
        excluded += closed
        treatments[bone] = (
            _treatment(question, bone, amounts[bone], direction, profile)
            if choice.lengthening_mm is None
            else Treatment(lengthening_mm=choice.lengthening_mm, stages=1, direction=direction)
        )
    if len(treatments) == 1:
        return _built(
            question, StrategyName.SURGEON, treatments, profile, staging=None, excluded=tuple(excluded)
        )
    ways = [question.goal.staging] if question.goal.staging else [Staging.SIMULTANEOUS, Staging.STAGED]
    built = tuple(
        _built(question, StrategyName.SURGEON, treatments, profile, staging=way, excluded=()) for way in ways
    )
    best = compare(built, situation=question.situation, profile=profile).first or 0
    return replace(built[best], excluded=tuple(excluded))


def _amounts(question: Question, profile: Profile) -> dict[Bone, float]:
    """Length of each bone the surgeon named; what is not fixed takes what is left."""
    fixed = {c.bone: c.lengthening_mm for c in question.goal.bones}
    if len(fixed) == 2 and all(length is None for length in fixed.values()):
        return _shares(question, profile)
    given = sum(length for length in fixed.values() if length is not None)
    left = max(0.0, question.need_mm - given)
    return {bone: left if length is None else length for bone, length in fixed.items()}


def _weighed(strategy: Strategy, question: Question, profile: Profile) -> Strategy:
    return replace(
        strategy,
        findings=strategy_findings(
            strategy,
            situation=question.situation,
            examination=question.examination,
            age_years=question.age_years,
            alignment_counts=question.goal.correct_alignment,
            profile=profile,
        ),
    )


def _not_needed(bone: Bone) -> Finding:
    return Finding(
        id="bone-not-needed",
        severity=Severity.NOTE,
        words=f"The {bone} has no deformity to correct and takes no share of the length.",
        next_step="Treat the other bone alone.",
        rule="Length goes where the shortening is, correction where the deformity is.",
        source=COMMON_PRACTICE,
    )


def _staging_fixed(wanted: Staging) -> Finding:
    return Finding(
        id="staging-fixed",
        severity=Severity.NOTE,
        words=f"The goal asks for both bones {wanted}.",
        next_step="Change the goal to compare both ways.",
        rule="What the surgeon has fixed is kept.",
        source=COMMON_PRACTICE,
    )
