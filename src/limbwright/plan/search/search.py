"""The search: hard limits over all candidates at once, the non-dominated ones exactly, at most six shown."""

from dataclasses import dataclass, replace

import numpy as np

from limbwright.error import LimbwrightError
from limbwright.limb.anatomy import Bone
from limbwright.mechanics import Construct, Plane, SpatialLoad, solve
from limbwright.plan.correction import correction_for
from limbwright.plan.decision import FragmentPath
from limbwright.plan.drift import Drift
from limbwright.plan.forecast.construct import modelled_bone
from limbwright.plan.forecast.forecast import region_of_plan
from limbwright.plan.forecast.loads import tissue_pull_of
from limbwright.plan.hardware_limits import HardwareLimits, hardware_limits
from limbwright.plan.motion import Floats, rotation_about, rotation_between, triple
from limbwright.plan.nail_fit import NailDemand, nail_verdict
from limbwright.plan.osteotomy import bone_line, level_score
from limbwright.plan.path import place_of, vector
from limbwright.plan.planner import BoneTask, LevelTried, PlannedBone, far_room_mm, proposal
from limbwright.plan.planner_rules import nail_rules
from limbwright.plan.route import Route, canals_on, route_at
from limbwright.plan.search.candidate import Parts, PlanCandidate, compared, described, sentence
from limbwright.plan.search.space import Flags, Space, feasible, play_deg, reamed_mm, search_space
from limbwright.quantity import Value

MOST = 6
SURVIVORS = 16
RESERVE_MM = 20.0
ALIKE_MM = 8.0
# Parts of the screening objective, and the difference in each that counts as clearly different.
SCALES = np.array([0.4, 2.0, 5.0, 8.0, 1.0, 0.5])
EXACT_SCALES = np.array([0.4, 2.0, 5.0, 8.0, 1.0, 0.5, 1.0])


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchResult(Value):
    """What the search of one bone found."""

    bone: Bone
    """Bone."""
    considered: int
    """Geometric candidates looked at."""
    feasible: int
    """Those that keep every hard limit, with levels between interpolated."""
    evaluated: int
    """Plans worked out exactly."""
    candidates: tuple[PlanCandidate, ...]
    """At most six clearly different plans none of which is worse than another in every part; the one nearest
    to the planner's own order of preference first."""


def search_bone(task: BoneTask) -> SearchResult:
    """Search all plans of one bone: level, nail, length, and offset of the nail's line.

    Parameters
    ----------
    task : BoneTask
        As for `plan_bone`; what its `choice` fixes is kept and the rest searched.

    Notes
    -----
    Deterministic. Levels are worked out exactly every 8 mm and interpolated between for the filters; every
    plan that is shown was worked out and judged exactly. Blocking screws follow the planner's rule for each
    candidate; `forecast.screws` refines them for the one that is chosen.
    """
    profile, bone = task.profile, task.bone
    length_mm = bone_line(task.leg, bone).length_mm
    correction = correction_for(
        task.leg,
        task.situation,
        targets=task.targets,
        tolerance_deg=profile.angle_tolerance_deg,
        sagittal_tolerance_deg=profile.sagittal_tolerance_deg,
        rotation_tolerance_deg=profile.rotation_tolerance_deg,
        correct_alignment=task.correct_alignment,
    )
    limits = hardware_limits(
        bone=bone, length_mm=length_mm, hardware=task.examination.hardware, profile=profile
    )
    if limits.reach(task.direction) is None or not limits.osteotomy or not task.nails():
        return SearchResult(bone=bone, considered=0, feasible=0, evaluated=0, candidates=())
    space = search_space(task, correction, limits)
    keep = feasible(space, task)
    shown = PlannedBone(bone=bone, plan=None, correction=correction, reasons=(correction.reason,))
    chosen = _screened(space, keep, task)
    exact = [
        found
        for where in chosen
        if (found := _evaluated(task, shown, limits=limits, space=space, where=where)) is not None
    ]
    return SearchResult(
        bone=bone,
        considered=space.size,
        feasible=int(np.count_nonzero(keep)),
        evaluated=len(chosen),
        candidates=_shown(exact),
    )


Where = tuple[int, int, int, int, int]


def _screened(space: Space, keep: Flags, task: BoneTask) -> list[Where]:
    """The best of each level and nail, and of those the non-dominated, thinned to clearly different ones."""
    if not keep.any():
        return []
    frontal = play_deg(space, 0, space.lateral_mm)
    sagittal = play_deg(space, 1, space.anterior_mm)
    reamed = np.maximum(
        reamed_mm(space, 0, space.lateral_mm)[:, :, :, None],
        reamed_mm(space, 1, space.anterior_mm)[:, :, None],
    )
    play = np.hypot(frontal[:, :, :, None], sagittal[:, :, None])
    off = np.abs(space.gains_mm - task.lengthening_mm)
    # One number per offset and per length picks within a level and nail; parts stay apart between them.
    within = (play / SCALES[0] + reamed / SCALES[5])[:, :, None] + (off / SCALES[1])[
        None, None, :, None, None
    ]
    flat = np.where(keep, within, np.inf).reshape(*keep.shape[:2], -1)
    pick = np.argmin(flat, axis=2)
    level, nail = np.nonzero(np.isfinite(np.min(flat, axis=2)))
    gain, lateral, anterior = np.unravel_index(pick[level, nail], keep.shape[2:])
    thick = np.array([n.thick_length_mm for n in space.nails])
    reserve = (
        thick[nail] - space.depth_mm[level, nail] - space.gains_mm[gain] - nail_rules(task.profile).overlap_mm
    )
    parts = np.stack(
        [
            play[level, nail, lateral, anterior],
            off[gain],
            np.maximum(RESERVE_MM - reserve, 0.0),
            space.cost_mm[level],
            np.abs(space.shift_mm[level]),
            reamed[level, nail, lateral, anterior],
        ],
        axis=1,
    )
    front = np.flatnonzero(nondominated(parts))
    order = front[_spread_out(parts[front] / SCALES, SURVIVORS)]
    return [(int(level[i]), int(nail[i]), int(gain[i]), int(lateral[i]), int(anterior[i])) for i in order]


def nondominated(parts: Floats) -> Flags:
    """Which rows of (n, parts), less being better, no other row beats in every part, (n,)."""
    order = np.lexsort(parts.T[::-1])
    kept: list[int] = []
    front = np.empty((0, parts.shape[1]))
    for i in order:
        row = parts[i]
        if len(front) and bool(np.any(np.all(front <= row, axis=1) & np.any(front < row, axis=1))):
            continue
        kept.append(int(i))
        front = np.vstack([front, row])
    flags = np.zeros(len(parts), dtype=bool)
    flags[kept] = True
    return flags


def _spread_out(parts: Floats, most: int) -> list[int]:
    """Rows far from each other, the least sum first; a row within one unit of a kept one is left out."""
    kept = [int(np.argmin(parts.sum(axis=1)))]
    distance = np.abs(parts - parts[kept[0]]).max(axis=1)
    while len(kept) < min(most, len(parts)):
        # Of the rows that are clearly different, prefer the good ones.
        worth = np.where(distance >= 1.0, distance - 0.25 * parts.sum(axis=1), -np.inf)
        best = int(np.argmax(worth))
        if not np.isfinite(worth[best]):
            break
        kept.append(best)
        distance = np.minimum(distance, np.abs(parts - parts[best]).max(axis=1))
    return kept


def _shown(exact: list[PlanCandidate]) -> tuple[PlanCandidate, ...]:
    if not exact:
        return ()
    parts = np.array([c.parts.array() for c in exact])
    front = np.flatnonzero(nondominated(parts))
    order = front[_spread_out(parts[front] / EXACT_SCALES, len(front))]
    first = exact[order[0]]
    told = [replace(first, words=described(first.parts))]
    for i in order[1:]:
        mine = exact[i]
        if compared(mine.parts, first.parts)[0] and not any(_alike(mine, other) for other in told):
            told.append(replace(mine, words=sentence(mine.parts, first.parts)))
    return tuple(told[:MOST])


def _alike(one: PlanCandidate, other: PlanCandidate) -> bool:
    """Whether two candidates are one plan to a surgeon: same thickness, as many screws, cut at one place."""
    cuts = [c.plan.osteotomy.below_joint_mm for c in (one, other)]
    return (
        one.plan.nail.thick_diameter_mm == other.plan.nail.thick_diameter_mm
        and one.parts.screws == other.parts.screws
        and abs(cuts[0] - cuts[1]) < ALIKE_MM
        and abs(one.parts.overlap_short_mm - other.parts.overlap_short_mm) < ALIKE_MM
    )


def moved_route(route: Route, lateral_mm: float, anterior_mm: float) -> Route:
    """The same lines moved aside together, so that the reduction stays what it is.

    The offset is given across the proximal line; the distal line moves by the same offset carried back.
    """
    aside = np.array([anterior_mm, 0.0, lateral_mm])
    u = vector(route.proximal.lower) - vector(route.proximal.upper)
    u = u / np.linalg.norm(u)
    aside = aside - (aside @ u) * u
    v = vector(route.distal.lower) - vector(route.distal.upper)
    v = v / np.linalg.norm(v)
    turned = rotation_about(u, route.rotation_correction_deg) @ rotation_between(v, u)
    return replace(
        route,
        proximal=_moved(route.proximal, aside),
        distal=_moved(route.distal, turned.T @ aside),
        surface_mm=triple(np.array(route.surface_mm) + aside),
    )


def _moved(path: FragmentPath, by_mm: Floats) -> FragmentPath:
    return replace(
        path, upper=place_of(vector(path.upper) + by_mm), lower=place_of(vector(path.lower) + by_mm)
    )


def _evaluated(
    task: BoneTask, shown: PlannedBone, *, limits: HardwareLimits, space: Space, where: Where
) -> PlanCandidate | None:
    """One candidate worked out exactly; None when a hard limit says no after all."""
    level, gain = round(float(space.levels_mm[where[0]]), 6), float(space.gains_mm[where[2]])
    nail, correction = space.nails[where[1]], shown.correction
    lateral, anterior = float(space.lateral_mm[where[3]]), float(space.anterior_mm[where[4]])
    mine = replace(task, lengthening_mm=gain)
    try:
        straight = route_at(
            task.leg,
            bone=task.bone,
            direction=task.direction,
            below_joint_mm=level,
            correction=correction,
            lengthening_mm=gain,
        )
    except LimbwrightError:  # no turn reaches the aim from this level
        return None
    route = moved_route(straight, lateral, anterior)
    rules, sunk = nail_rules(task.profile), task.profile.nail_end_below_surface_mm
    depth = route.osteotomy_depth_mm(nail, sunk)
    canals = canals_on(task.leg, route, depth)
    room = depth + far_room_mm(route, limits, level, rules.tip_clearance_mm)
    verdict = nail_verdict(
        nail,
        demand=NailDemand(osteotomy_depth_mm=depth, lengthening_mm=gain, room_mm=room),
        rules=rules,
        canals=canals,
    )
    if not verdict.fits:
        return None
    score = level_score(
        level,
        bone=task.bone,
        length_mm=bone_line(task.leg, task.bone).length_mm,
        apex_below_joint_mm=correction.apex_below_joint_mm,
        correction_deg=correction.size_deg,
        judged=task.examination.bone_quality,
    )
    found = proposal(mine, shown, LevelTried(score=score, route=route, verdicts=(verdict,)), (verdict,), [])
    plan = found.plan
    if plan is None:
        return None
    construct = modelled_bone(plan, canals, task.profile).construct
    load = tissue_pull_of(task.profile, region_of_plan(plan)).load(gain)
    held = _drift(construct, load, gain)
    bare = _drift(construct.with_blocking_screws(), load, gain) if plan.blocking_screws else held
    overlap = verdict.number("overlap at full length")
    reamed = max((n.value for n in verdict.numbers if n.name == "most bone reamed on one side"), default=0.0)
    none = 90.0
    return PlanCandidate(
        bone=task.bone,
        plan=plan,
        canals=canals,
        lateral_mm=lateral,
        anterior_mm=anterior,
        parts=Parts(
            drift_deg=none if held is None else float(np.hypot(held.varus_deg, held.procurvatum_deg)),
            drift_without_screws_deg=none
            if bare is None
            else float(np.hypot(bare.varus_deg, bare.procurvatum_deg)),
            length_off_mm=abs(gain - task.lengthening_mm),
            overlap_short_mm=max(RESERVE_MM - (overlap - rules.overlap_mm), 0.0),
            level_cost_mm=float(space.cost_mm[where[0]]),
            shift_mm=abs(float(space.shift_mm[where[0]])),
            reamed_mm=max(reamed, 0.0),
            screws=len(plan.blocking_screws),
        ),
        drift=held,
        probability=None,
        words="",
    )


def _drift(construct: Construct, load: SpatialLoad, gained_mm: float) -> Drift | None:
    """Drift at full length, each plane alone; None where one has no number."""
    frontal, sagittal = (
        solve(construct, plane, load.in_plane(plane), lengthening_mm=gained_mm).angulation_deg
        for plane in Plane
    )
    if frontal is None or sagittal is None:
        return None
    return Drift(varus_deg=frontal, procurvatum_deg=sagittal)
