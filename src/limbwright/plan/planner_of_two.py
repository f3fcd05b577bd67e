"""A plan with two osteotomies of one bone: both levels, which of them is lengthened, nail and findings.

Pairs of levels are tried in order of their cost until a nail fits. Bone that heals well counts at both
levels and once more at the one that is lengthened; of equal pairs the one whose second osteotomy stays on the
thick part comes first.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from limbwright.error import LimbwrightError
from limbwright.finding import Finding, ordered
from limbwright.implant.nail import Direction
from limbwright.plan.bone_task import BoneTask, LevelTried, PlannedBone
from limbwright.plan.circumstances import BoneQuality
from limbwright.plan.correction import Correction
from limbwright.plan.hardware_limits import HardwareLimits
from limbwright.plan.level_pair import LevelsWanted
from limbwright.plan.nail_fit import offered
from limbwright.plan.osteotomy import (
    POOR,
    LevelScore,
    bone_line,
    level_cost_mm,
    level_score,
    quality_at,
    scored_levels,
    zone_at,
)
from limbwright.plan.planner_finding import chosen_level_outside, chosen_nail_unfit
from limbwright.plan.proposal import judged, proposal
from limbwright.plan.route_of_two import route_of_two
from limbwright.plan.second_correction import corrections_of_two
from limbwright.plan.situation import Angulation
from limbwright.plan.two_level_finding import (
    apexes_left,
    middle_hold,
    middle_short,
    no_second_level,
    nothing_at_second,
    second_not_forecast,
    two_osteotomies,
)

LEVEL_STEP_MM = 5.0
_LEVELS_EACH = 8  # best levels of each osteotomy that are paired
_LEAN_MM = 1.0  # levels count along the bone, the fragment along the nail, which leans a little against it
_PAIRS_EACH = 10  # pairs of one arrangement for which lines are drawn and nails judged


@dataclass(frozen=True, slots=True)
class _Pair:
    """Two levels of one bone, which of them is lengthened, and what is bent at each."""

    lengthened: LevelScore
    second: LevelScore
    apexes: tuple[Angulation | None, Angulation | None]  # of the upper and the lower level
    cost_mm: float

    @property
    def upper_lengthens(self) -> bool:
        return self.lengthened.below_joint_mm < self.second.below_joint_mm

    @property
    def levels_mm(self) -> tuple[float, float]:
        upper, lower = sorted((self.lengthened.below_joint_mm, self.second.below_joint_mm))
        return upper, lower


def plan_twice(task: BoneTask, wanted: LevelsWanted, limits: HardwareLimits) -> PlannedBone:
    """Propose two osteotomies, path, nail and blocking screws for one bone.

    Parameters
    ----------
    task : BoneTask
        What is asked.
    wanted : LevelsWanted
        Why twice, and what each level corrects.
    limits : HardwareLimits
        What hardware leaves free.

    Returns
    -------
    PlannedBone
        Without a plan when no pair of levels and nail goes together; the finding `no-two-osteotomies` says
        why.
    """
    why: list[str] = []
    tried: _Tried | None = None
    for pair in _in_order(_pairs(task, wanted, limits)):
        corrections = corrections_of_two(
            task.leg,
            task.situation,
            pair.apexes,
            upper_lengthens=pair.upper_lengthens,
            targets=task.targets,
            profile=task.profile,
            correct_alignment=task.correct_alignment,
        )
        try:
            route = route_of_two(
                task.leg,
                bone=task.bone,
                direction=task.direction,
                below_joint_mm=pair.levels_mm,
                corrections=corrections,
                upper_lengthens=pair.upper_lengthens,
                lengthening_mm=task.lengthening_mm,
            )
        except LimbwrightError as reason:
            why.append(str(reason))
            continue
        judgement = judged(task, route, pair.lengthened, limits, pair.second)
        if any(v.fits for v in judgement.verdicts):
            tried = _Tried(judgement, corrections, pair)
            break
        tried = tried or _Tried(judgement, corrections, pair)
    if tried is None:
        why = why[:1] or [_no_pair(task, wanted)]
        return _stopped(task, wanted, why)
    return _proposed(task, wanted, limits, tried)


@dataclass(frozen=True, slots=True)
class _Tried:
    """A pair with its lines and every nail judged."""

    judgement: LevelTried
    corrections: tuple[Correction, Correction]
    pair: _Pair


def _proposed(task: BoneTask, wanted: LevelsWanted, limits: HardwareLimits, found: _Tried) -> PlannedBone:
    profile, tried, corrections, pair = task.profile, found.judgement, found.corrections, found.pair
    lengthened, second = corrections if pair.upper_lengthens else corrections[::-1]
    offers = offered(
        tried.verdicts,
        length_preference=profile.nail_length_preference,
        diameter_preference=profile.nail_diameter_preference,
        lengths=profile.nail_lengths_offered,
    )
    findings: list[Finding] = []
    if not offers and task.choice is not None and task.choice.nail is not None:
        offers = tried.verdicts
        findings.append(chosen_nail_unfit(offers[0], profile))
    upper, lower = pair.levels_mm
    if not offers:
        reasons = next((v.reasons for v in tried.verdicts), ())
        example = f" For example {tried.verdicts[0].nail.name}: {reasons[0]}" if reasons else ""
        return _stopped(
            task,
            wanted,
            [f"no nail of the catalogue fits, with the best levels {upper:.0f} and {lower:.0f} mm.{example}"],
        )
    which = "upper" if pair.upper_lengthens else "lower"
    shown = PlannedBone(
        bone=task.bone,
        plan=None,
        correction=lengthened,
        second_correction=second,
        levels=(tried.score,),
        route=tried.route,
        rejected=tuple(v for v in tried.verdicts if not v.fits and v not in offers),
        reasons=(
            wanted.reason,
            f"Aims at the upper osteotomy, {upper:.0f} mm below the joint: {corrections[0].reason}; at the "
            f"lower one, {lower:.0f} mm: {corrections[1].reason}; together, at full length. The {which} one "
            "is lengthened.",
        ),
    )
    made = proposal(task, shown, tried, offers, [*findings, *_outside(task, limits)])
    if made.plan is None or made.nail is None:
        raise TypeError("a nail was offered, so there is a plan")
    held = middle_hold(made.plan, made.nail)
    more = [
        two_osteotomies(made.plan, wanted),
        *(
            [middle_short(made.plan, profile)]
            if made.plan.middle_length_mm < profile.middle_fragment_min_mm - _LEAN_MM
            else []
        ),
        *([held] if held is not None else []),
        *([second_not_forecast(made.plan)] if task.lengthening_mm > 0 else []),
        *([nothing_at_second(made.plan)] if not second.needed else []),
        *_left(task, wanted),
    ]
    return replace(made, findings=ordered((*made.findings, *more)))


def _left(task: BoneTask, wanted: LevelsWanted) -> list[Finding]:
    if not wanted.left:
        return []
    sagittal = task.leg.has_sagittal
    return [apexes_left(task.bone, wanted.left, task.profile, has_sagittal=sagittal, cuts=2)]


def _stopped(task: BoneTask, wanted: LevelsWanted, why: list[str]) -> PlannedBone:
    return PlannedBone(
        bone=task.bone,
        plan=None,
        correction=corrections_of_two(
            task.leg,
            task.situation,
            (None, None),
            upper_lengthens=True,
            targets=task.targets,
            profile=task.profile,
            correct_alignment=task.correct_alignment,
        )[0],
        reasons=(wanted.reason,),
        findings=(no_second_level(task.bone, wanted, why, stop=wanted.asked),),
    )


def _no_pair(task: BoneTask, wanted: LevelsWanted) -> str:
    if not wanted.apexes and not _fixed(task)[1]:
        return "no apex beyond tolerance is left to correct, and no second level is given."
    return (
        f"no two free levels lie {task.profile.middle_fragment_min_mm:g} mm apart near enough to what they "
        "are to correct."
    )


def _fixed(task: BoneTask) -> tuple[float | None, float | None]:
    """Levels the surgeon has fixed: lengthened, second. [mm]"""
    choice = task.choice
    if choice is None:
        return None, None
    return choice.osteotomy_below_joint_mm, choice.second_osteotomy_below_joint_mm


def _outside(task: BoneTask, limits: HardwareLimits) -> list[Finding]:
    """Levels the surgeon has fixed where hardware, a joint or infected bone would not let the planner cut."""
    judged_bone = task.examination.bone_quality
    return [
        chosen_level_outside(task.bone, level, task.profile)
        for level in _fixed(task)
        if level is not None
        and (
            not any(free.holds(level) for free in limits.osteotomy)
            or quality_at(zone_at(level, limits.length_mm), task.bone, judged_bone)
            is BoneQuality.INFECTED_BEFORE
        )
    ]


def _pairs(task: BoneTask, wanted: LevelsWanted, limits: HardwareLimits) -> Iterator[_Pair]:
    """Every pair of levels worth trying, with its cost."""
    fixed = _fixed(task)
    if len(wanted.apexes) == 2:
        ways: list[tuple[Angulation | None, Angulation | None]] = [
            (wanted.apexes[0], wanted.apexes[1]),
            (wanted.apexes[1], wanted.apexes[0]),
        ]
    elif wanted.apexes:
        ways = [(None, wanted.apexes[0])]
    else:
        ways = [(None, None)] if fixed[1] is not None else []
    least = task.profile.middle_fragment_min_mm
    for for_length, for_second in ways:
        for length_score in _levels(task, for_length, limits, fixed[0]):
            for second_score in _levels(task, for_second, limits, fixed[1]):
                off = second_score.below_joint_mm - length_score.below_joint_mm
                both_fixed = None not in fixed
                if abs(off) < (1.0 if both_fixed else least):
                    continue
                apexes = (for_length, for_second) if off > 0 else (for_second, for_length)
                if _crossed(apexes):
                    continue
                deeper = (off > 0) is (task.direction is Direction.ANTEGRADE)
                cost = length_score.cost_mm + second_score.cost_mm + _healing_mm(task, length_score)
                yield _Pair(length_score, second_score, apexes, cost + (0.5 if deeper else 0.0))


def _in_order(pairs: Iterable[_Pair]) -> list[_Pair]:
    """The pairs to try: the cheapest of each arrangement, arrangements in the order of their cheapest."""
    arranged: dict[tuple[object, bool], list[_Pair]] = {}
    for pair in sorted(pairs, key=lambda pair: pair.cost_mm):
        arranged.setdefault((pair.apexes, pair.upper_lengthens), []).append(pair)
    return [pair for same in arranged.values() for pair in same[:_PAIRS_EACH]]


def _crossed(apexes: tuple[Angulation | None, Angulation | None]) -> bool:
    """Whether the upper level would correct the lower apex and the lower one the upper."""
    upper, lower = (None if a is None else a.below_joint_mm for a in apexes)
    return upper is not None and lower is not None and upper > lower


def _healing_mm(task: BoneTask, score: LevelScore) -> float:
    """Cost of lengthening in this bone once more, as the distance from an apex it is worth. [mm]"""
    return float(
        level_cost_mm(
            [score.below_joint_mm],
            length_mm=bone_line(task.leg, task.bone).length_mm,
            apex_below_joint_mm=None,
            near_apex_mm=0.0,
            metaphysis_preference_mm=task.profile.metaphysis_preference_mm,
            poor_bone=[score.quality in POOR],
        )[0]
    )


def _levels(
    task: BoneTask, apex: Angulation | None, limits: HardwareLimits, fixed_mm: float | None
) -> tuple[LevelScore, ...]:
    """Levels for one of the osteotomies, best first: the fixed one, or the best free ones."""
    profile = task.profile
    at = None if apex is None else apex.below_joint_mm
    size = 0.0
    if apex is not None:
        size = (apex.frontal_deg**2 + (apex.sagittal_deg**2 if task.leg.has_sagittal else 0.0)) ** 0.5
    length_mm = bone_line(task.leg, task.bone).length_mm
    if fixed_mm is not None:
        score = level_score(
            fixed_mm,
            bone=task.bone,
            length_mm=length_mm,
            apex_below_joint_mm=at,
            correction_deg=size,
            judged=task.examination.bone_quality,
        )
        # A fixed level goes to the apex it lies nearer to.
        return (replace(score, cost_mm=abs(score.off_apex_mm or 0.0)),)
    scores = scored_levels(
        bone=task.bone,
        length_mm=length_mm,
        free=limits.osteotomy,
        step_mm=LEVEL_STEP_MM,
        apex_below_joint_mm=at,
        correction_deg=size,
        near_apex_mm=profile.osteotomy_to_apex_mm,
        metaphysis_preference_mm=profile.metaphysis_preference_mm,
        max_translation_mm=profile.max_translation_at_osteotomy_mm,
        judged=task.examination.bone_quality,
        from_distal=task.direction is Direction.RETROGRADE,
    )
    return scores if apex is None else scores[:_LEVELS_EACH]
