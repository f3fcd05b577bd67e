"""The search over all plans of a leg: hard limits over all at once, survivors exactly, six shown."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from limbwright.limb.reading import Measure
from limbwright.plan.bone_task import BoneTask, PlannedBone
from limbwright.plan.decision import BonePlan
from limbwright.plan.hardware_limits import HardwareLimits, hardware_limits
from limbwright.plan.leg import LegModel
from limbwright.plan.osteotomy import bone_line
from limbwright.plan.search.candidate import (
    NO_NUMBER_DEG,
    SCALES,
    BoneCandidate,
    LegCandidate,
    Parts,
    compared,
    described,
    sentence,
)
from limbwright.plan.search.exact import ExactBone
from limbwright.plan.search.front import clearly_different, nondominated
from limbwright.plan.search.layout import drift_of
from limbwright.plan.search.level_lines import Lines, OneLevel, SecondHeld
from limbwright.plan.search.limits import Verdicts, verdicts
from limbwright.plan.search.line import STRAIGHT
from limbwright.plan.search.screening import play_deg, screened, survivors
from limbwright.plan.search.space import SEARCH_ALL, Held, Space, search_space
from limbwright.plan.uncertainty.chain import BoneEnd, Slip, end_values
from limbwright.quantity import Value

MOST = 6
SURVIVORS = 16
SURVIVORS_OF_TWO = 30
GAIN_STEPS = 5
ALIKE_MM, ALIKE_DEG, ALIKE_GAIN_MM = 8.0, 0.5, 2.0
AT_AIM_DEG = 0.25
USUAL_SHARE = 0.6  # drift as a share of the rigid play, where no candidate tells it
MOST_SHARE = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedTask(Value):
    """One bone to search: what is asked, and the plan in force."""

    task: BoneTask
    """What is asked."""
    plan: BonePlan
    """The plan in force."""
    proposed: PlannedBone
    """What it was weighed by."""
    held: Held = SEARCH_ALL
    """What is kept beside what the goal fixes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchResult(Value):
    """What the search of a leg found."""

    considered: int
    """Geometric candidates: every level, nail, length and line in each fragment and plane, of all bones."""
    feasible: int
    """Those that keep every hard limit, with levels between interpolated."""
    evaluated: int
    """Plans of a bone worked out exactly, each with its layouts of blocking screws."""
    reference: LegCandidate
    """The plan in force, in the same parts."""
    candidates: tuple[LegCandidate, ...]
    """Clearly different plans, none worse than another or than the plan in force in every part, each buying
    something against it."""


def search_leg(
    leg: LegModel,
    bones: Sequence[PlannedTask],
    *,
    targets: Mapping[Measure, float],
    others: Sequence[BonePlan] = (),
    most: int = MOST,
) -> SearchResult:
    """Search all plans of a leg: level, nail, length, line in each fragment and plane, blocking screws.

    Parameters
    ----------
    leg : LegModel
        The leg as it stands.
    bones : sequence of PlannedTask
        One for each bone that is lengthened, from proximal to distal; what a task's `choice` fixes is kept.
    targets : mapping
        Wanted readings at full length; the mechanical axis deviation counts.
    others : sequence of BonePlan
        Bones of the plan that are corrected and not lengthened, which stay as they are.
    most : int
        Candidates wanted.

    Notes
    -----
    Deterministic. With two bones the sum of their lengths counts against the goal, and the axis of the whole
    leg; each bone may gain more or less as long as the other makes up for it.
    """
    several = len(bones) > 1
    searched = [_BoneSearch(bone, several=several) for bone in bones]
    axis = _Axis(leg, [s.reference for s in searched], others, targets.get(Measure.MAD))
    reference = _leg_candidate([s.reference for s in searched], axis, off_mm=0.0)
    goal_mm = sum(bone.plan.lengthening_mm for bone in bones)
    tolerance = max((bone.task.profile.length_tolerance_mm for bone in bones), default=0.0)
    found = []
    for chosen in product(*(s.candidates for s in searched)):
        if all(c is s.reference for c, s in zip(chosen, searched, strict=True)):
            continue
        off = sum(c.plan.lengthening_mm for c in chosen) - goal_mm
        if abs(off) <= tolerance + 1e-9:
            found.append(_leg_candidate(chosen, axis, off_mm=off))
    return SearchResult(
        considered=_product([s.considered for s in searched]),
        feasible=_product([s.feasible for s in searched]),
        evaluated=sum(s.evaluated for s in searched),
        reference=reference,
        candidates=worth_comparing(reference, found, most=most),
    )


def _product(counts: list[int]) -> int:
    total = 1 if counts else 0
    for count in counts:
        total *= count
    return total


class _BoneSearch:
    """One bone: its exact candidates."""

    def __init__(self, bone: PlannedTask, *, several: bool) -> None:
        task, profile = bone.task, bone.task.profile
        length_mm = bone_line(task.leg, task.bone).length_mm
        limits = hardware_limits(
            bone=task.bone, length_mm=length_mm, hardware=task.examination.hardware, profile=profile
        )
        exact = _exact(bone, limits)
        self.reference = exact.of_plan(bone.plan, bone.proposed)
        self.considered = self.feasible = self.evaluated = 0
        self.candidates: list[BoneCandidate] = []
        space = _space(bone, exact, limits, several=several)
        if space is None:
            return
        kept = verdicts(space, task)
        self.considered, self.feasible = space.size, kept.count
        share = _share(exact, space, kept)
        found = screened(space, kept, task, share=share)
        chosen = survivors(space, found, SURVIVORS_OF_TWO if several else SURVIVORS, by_gain=several)
        self.evaluated = len(chosen)
        self.candidates = [c for where in chosen for c in exact.candidates(space, where)]
        if several:  # a candidate may leave one bone as it is
            self.candidates.append(self.reference)


def _exact(bone: PlannedTask, limits: HardwareLimits) -> ExactBone:
    """What every candidate of a bone shares: aims, and where the nail's lines come from."""
    task, plan = bone.task, bone.plan
    second = bone.proposed.second_correction
    if plan.second is None or second is None:
        correction = task.correction()
        lines: Lines = OneLevel(task, correction)
        return ExactBone(task=task, correction=correction, limits=limits, held=bone.held, lines=lines)
    # The level that is only corrected stays, and so do the lines: a middle fragment lies between them.
    correction = bone.proposed.correction
    lines = SecondHeld(
        task,
        (correction, second),
        second_mm=plan.second.osteotomy.below_joint_mm,
        upper_lengthens=plan.second.osteotomy.below_joint_mm > plan.osteotomy.below_joint_mm,
    )
    held = replace(bone.held, path=True)
    return ExactBone(task=task, correction=correction, limits=limits, held=held, lines=lines)


def _space(bone: PlannedTask, exact: ExactBone, limits: HardwareLimits, *, several: bool) -> Space | None:
    task = bone.task
    if limits.reach(task.direction) is None or not limits.osteotomy or not task.nails():
        return None
    gains = None
    if several and not (task.choice is not None and task.choice.lengthening_mm is not None):
        # The other bone makes up for what this one gains less, so the range is twice as wide and coarser.
        reach = 2 * task.profile.length_tolerance_mm
        around = np.round(np.linspace(-reach, reach, GAIN_STEPS))
        gains = np.unique(np.maximum(task.lengthening_mm + around, 1.0))
    return search_space(task, exact.correction, limits, gains_mm=gains, held=exact.held, lines=exact.lines)


def _share(exact: ExactBone, space: Space, kept: Verdicts) -> tuple[float, float]:
    """Drift as a share of the rigid play, told by one contact solve without screws at the best level."""
    level, nail = np.nonzero(kept.whole.any(axis=2))
    if not len(level):
        return USUAL_SHARE, USUAL_SHARE
    # The middle of the nails that fit at the level of least cost.
    best = np.flatnonzero(space.cost_mm[level] == space.cost_mm[level].min())
    pick = best[len(best) // 2]
    i, n = int(level[pick]), int(nail[pick])
    gain = int(np.flatnonzero(kept.whole[i, n])[-1])
    bare = replace(exact, held=replace(exact.held, screws=True))
    for made in bare.worked_out(
        round(float(space.levels_mm[i]), 6), float(space.gains_mm[gain]), n, STRAIGHT, space
    ):
        drift = drift_of(replace(made.plan, blocking_screws=()), made.canals, exact.task.profile)
        if drift is None:
            break
        pair = (np.array([i]), np.array([n]))
        shares = []
        for plane, angle in enumerate((drift.varus_deg, drift.procurvatum_deg)):
            play = float(sum(play_deg(space, plane, f, pair)[0, 0] for f in (0, 1)))
            shares.append(min(abs(angle) / play, MOST_SHARE) if play > 0.1 else USUAL_SHARE)
        return shares[0], shares[1]
    return USUAL_SHARE, USUAL_SHARE


class _Axis:
    """Mechanical axis of the leg at full length; changes are small, so each bone's counts for itself."""

    def __init__(
        self,
        leg: LegModel,
        reference: list[BoneCandidate],
        others: Sequence[BonePlan],
        target_mm: float | None,
    ) -> None:
        self.leg, self.reference, self.target = replace(leg, walls=()), reference, target_mm
        self.others = [BoneEnd(plan=p) for p in others]
        self.known: dict[int, float] = {}
        self.middle = self._mad(reference)

    def _mad(self, bones: Sequence[BoneCandidate]) -> float:
        ends = [BoneEnd(plan=b.plan, slip=Slip.of_drift(b.drift)) for b in bones]
        return float(end_values(self.leg, [*ends, *self.others], (Measure.MAD,))[0])

    def off_mm(self, bones: Sequence[BoneCandidate]) -> float:
        """Deviation beside the target; 0 where there is no target or no reading. [mm]"""
        if self.target is None or not np.isfinite(self.middle):
            return 0.0
        total = self.middle
        for i, bone in enumerate(bones):
            if bone is self.reference[i]:
                continue
            if id(bone) not in self.known:
                others = [*self.reference[:i], bone, *self.reference[i + 1 :]]
                self.known[id(bone)] = self._mad(others) - self.middle
            total += self.known[id(bone)]
        return abs(total - self.target)


def leg_parts(bones: Sequence[BoneCandidate], *, mad_off_mm: float, length_off_mm: float) -> Parts:
    """Parts of a leg from those of its bones: the worse one counts, of levels and screws both."""
    parts = [b.parts for b in bones]
    lost = [p.contact_lost_percent for p in parts]
    return Parts(
        end_off_deg=max(b.end_off_deg for b in bones),
        start_off_deg=max(b.start_off_deg for b in bones),
        mad_off_mm=mad_off_mm,
        length_off_mm=length_off_mm,
        overlap_short_mm=max(p.overlap_short_mm for p in parts),
        level_cost_mm=sum(p.level_cost_mm for p in parts),
        shift_mm=max(p.shift_mm for p in parts),
        contact_lost_percent=None if None in lost else max(x for x in lost if x is not None),
        reamed_mm=max(p.reamed_mm for p in parts),
        screws=sum(p.screws for p in parts),
    )


def _leg_candidate(bones: Sequence[BoneCandidate], axis: _Axis, *, off_mm: float) -> LegCandidate:
    parts = leg_parts(bones, mad_off_mm=axis.off_mm(bones), length_off_mm=abs(off_mm))
    return LegCandidate(bones=tuple(bones), parts=parts, buys=(), costs=(), words=described(parts))


def worth_comparing(
    reference: LegCandidate, found: Sequence[LegCandidate], *, most: int
) -> tuple[LegCandidate, ...]:
    """The non-dominated candidates that buy something, clearly different from each other and from the plan.

    A candidate that the plan in force beats in every part is left out; one that beats the plan is welcome.
    Where there is one that starts at the aim, one stands among those shown: turning a bone beyond it leans on
    a forecast.
    """
    numbered = [c for c in found if c.parts.end_off_deg < NO_NUMBER_DEG]
    if not numbered:
        return ()
    parts = np.array([reference.parts.array(), *(c.parts.array() for c in numbered)])
    front = [i for i in np.flatnonzero(nondominated(parts)) if i > 0]
    if not front:
        return ()
    shown: list[LegCandidate] = []
    for k in clearly_different(parts[front] / SCALES, len(front)):
        mine = numbered[front[k] - 1]
        buys, costs = compared(mine.parts, reference.parts)
        if not buys or any(_alike(mine, other) for other in (reference, *shown)):
            continue
        shown.append(replace(mine, buys=buys, costs=costs, words=sentence(buys, costs)))
    first, later = shown[:most], shown[most:]
    at_aim = [c for c in later if c.parts.start_off_deg < AT_AIM_DEG]
    if at_aim and all(c.parts.start_off_deg >= AT_AIM_DEG for c in first):
        first[-1] = at_aim[0]
    return tuple(first)


def _alike(one: LegCandidate, other: LegCandidate) -> bool:
    """Whether two candidates are one plan to a surgeon: same thickness, as many screws, cut at one place,
    as long, and turned alike.
    """
    return all(
        a.plan.nail.thick_diameter_mm == b.plan.nail.thick_diameter_mm
        and a.parts.screws == b.parts.screws
        and abs(a.level_mm - b.level_mm) < ALIKE_MM
        and abs(a.parts.overlap_short_mm - b.parts.overlap_short_mm) < ALIKE_MM
        and abs(a.plan.lengthening_mm - b.plan.lengthening_mm) < ALIKE_GAIN_MM
        and abs(a.turn_off.varus_deg - b.turn_off.varus_deg) < ALIKE_DEG
        and abs(a.turn_off.procurvatum_deg - b.turn_off.procurvatum_deg) < ALIKE_DEG
        for a, b in zip(one.bones, other.bones, strict=True)
    )
