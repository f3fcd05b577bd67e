"""All geometric candidates of one bone as arrays, and the hard limits of the planner as filters over them.

Axes: level (every millimetre), nail, length gained, offset of the nail's line to lateral and to anterior.
What a level brings (depth, room, gaps, cortex) is worked out exactly every few millimetres and interpolated
between; survivors are worked out exactly afterwards.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from limbwright.implant.nail import Nail, NailEnd
from limbwright.limb.anatomy import Projection
from limbwright.limb.hinge import cut_shift_mm
from limbwright.plan.blocking import POSITIVE_SIDES
from limbwright.plan.canal import CanalAlong, outer_edges_mm
from limbwright.plan.circumstances import BoneQuality
from limbwright.plan.correction import Correction
from limbwright.plan.drift import CONCAVE, PLANE, expected_drift, fragment_tilt_deg, third_of
from limbwright.plan.hardware_limits import HardwareLimits
from limbwright.plan.motion import Floats
from limbwright.plan.nail_fit import canal_fit_mm
from limbwright.plan.osteotomy import POOR, bone_line, level_cost_mm, level_score
from limbwright.plan.path import driving_fragment
from limbwright.plan.planner import BoneTask, far_room_mm
from limbwright.plan.planner_rules import nail_rules
from limbwright.plan.route import Route, canals_on, route_at

Flags = npt.NDArray[np.bool_]
ANCHOR_MM = 8.0
NEAR_CUT_MM = 10.0
OFFSETS_LATERAL_MM = np.array([-1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5])
OFFSETS_ANTERIOR_MM = np.array([-1.0, -0.5, 0.0, 0.5, 1.0])
SLACK_MM = 0.5  # what interpolation may be off; the exact check decides


@dataclass(frozen=True, slots=True)
class Anchor:
    """What one level brings, exactly, for every nail."""

    level_mm: float
    to_cut_mm: float
    beyond_mm: float
    cortex_mm: Floats
    """(nails, 2 planes, 2 sides) least cortex left; infinite where it is not traced."""
    reamed_mm: Floats
    """(nails, 2, 2) most bone reamed away on each side."""
    narrowest_mm: float
    misfit_mm: Floats
    """(nails,) most that the nail's shape stands outside the reamed canal."""
    gap_mm: Floats
    """(nails, 2 planes, 2 fragments) gap on the concave side near the cut; entry fragment first."""


@dataclass(frozen=True, slots=True)
class Space:
    """Axes and everything that depends on level and nail, (levels, nails, ...)."""

    levels_mm: Floats
    nails: tuple[Nail, ...]
    gains_mm: Floats
    lateral_mm: Floats
    anterior_mm: Floats
    depth_mm: Floats
    beyond_mm: Floats
    """(levels,) free length beyond the cut."""
    cortex_mm: Floats
    reamed_mm: Floats
    narrowest_mm: Floats
    misfit_mm: Floats
    gap_mm: Floats
    shift_mm: Floats
    """(levels,) sideways shift of the bone ends."""
    cost_mm: Floats
    """(levels,) cost of the level as the distance from the apex it is worth."""
    allowed: Flags
    """(levels,) not infected, inside the free stretch."""
    toward: Floats
    """(levels, 2) +1 where frontal and sagittal drift are concave to lateral and anterior, else -1."""

    @property
    def size(self) -> int:
        """Geometric candidates."""
        axes = (self.levels_mm, self.gains_mm, self.lateral_mm, self.anterior_mm)
        return len(self.nails) * int(np.prod([len(a) for a in axes]))


def search_space(task: BoneTask, correction: Correction, limits: HardwareLimits) -> Space:
    """Axes and level tables of one bone; what the surgeon has fixed is one value long."""
    line = bone_line(task.leg, task.bone)
    choice, profile = task.choice, task.profile
    fixed_level = choice.osteotomy_below_joint_mm if choice is not None else None
    if fixed_level is not None:
        levels = np.array([fixed_level])
    else:
        levels = np.concatenate([np.arange(np.ceil(i.from_mm), i.to_mm + 1e-9) for i in limits.osteotomy])
    fixed_gain = choice.lengthening_mm if choice is not None else None
    around = np.arange(-profile.length_tolerance_mm, profile.length_tolerance_mm + 1e-9)
    gains = (
        np.array([task.lengthening_mm])
        if fixed_gain is not None
        else np.unique(np.maximum(task.lengthening_mm + around, 1.0))
    )
    nails = task.nails()
    anchors = [
        _anchor(task, correction, limits, float(level), nails)
        for level in np.linspace(
            levels[0], levels[-1], max(1, int(np.ceil((levels[-1] - levels[0]) / ANCHOR_MM)) + 1)
        )
    ]
    at = np.array([a.level_mm for a in anchors])

    def between(values: Floats) -> Floats:
        if len(at) == 1:
            return np.repeat(values, len(levels), axis=0)
        flat = values.reshape(len(at), -1)
        return np.stack([np.interp(levels, at, c) for c in flat.T], axis=1).reshape(
            (len(levels), *values.shape[1:])
        )

    to_cut = between(np.array([a.to_cut_mm for a in anchors]))
    bend = np.array([n.bend_depth_mm * (1 - np.cos(np.radians(n.bend_deg))) for n in nails])
    scores = [
        level_score(
            float(level),
            bone=task.bone,
            length_mm=line.length_mm,
            apex_below_joint_mm=correction.apex_below_joint_mm,
            correction_deg=correction.size_deg,
            judged=task.examination.bone_quality,
        )
        for level in levels
    ]
    toward = [
        [
            1.0 if CONCAVE[sense] in POSITIVE_SIDES else -1.0
            for sense in expected_drift(task.bone, third_of(float(level), line.length_mm)).senses()
        ]
        for level in levels
    ]
    return Space(
        levels_mm=levels,
        nails=nails,
        gains_mm=gains,
        lateral_mm=OFFSETS_LATERAL_MM,
        anterior_mm=OFFSETS_ANTERIOR_MM if task.leg.has_sagittal else np.array([0.0]),
        depth_mm=to_cut[:, None] - profile.nail_end_below_surface_mm + bend[None, :],
        beyond_mm=between(np.array([a.beyond_mm for a in anchors])),
        cortex_mm=between(np.array([a.cortex_mm for a in anchors])),
        reamed_mm=between(np.array([a.reamed_mm for a in anchors])),
        narrowest_mm=between(np.array([a.narrowest_mm for a in anchors])),
        misfit_mm=between(np.array([a.misfit_mm for a in anchors])),
        gap_mm=between(np.array([a.gap_mm for a in anchors])),
        shift_mm=np.array(
            [
                0.0
                if s.off_apex_mm is None
                else cut_shift_mm(cut_from_apex_mm=s.off_apex_mm, correction_deg=correction.size_deg)
                for s in scores
            ]
        ),
        cost_mm=level_cost_mm(
            levels,
            length_mm=line.length_mm,
            apex_below_joint_mm=correction.apex_below_joint_mm,
            near_apex_mm=profile.osteotomy_to_apex_mm,
            metaphysis_preference_mm=profile.metaphysis_preference_mm,
            poor_bone=[float(s.quality in POOR) for s in scores],
        ),
        allowed=np.array([s.quality is not BoneQuality.INFECTED_BEFORE for s in scores]),
        toward=np.array(toward),
    )


def feasible(space: Space, task: BoneTask) -> Flags:
    """Which candidates keep every hard limit, (levels, nails, gains, lateral, anterior)."""
    rules, profile = nail_rules(task.profile), task.profile
    length = np.array([n.length_mm for n in space.nails])
    exposed = np.array([max(n.exposed_thin_mm, rules.exposed_thin_mm) for n in space.nails])
    stroke = np.array([n.stroke_mm for n in space.nails])
    gain, depth = space.gains_mm[None, None, :], space.depth_mm[:, :, None]
    long_enough = depth + gain + rules.overlap_mm + exposed[None, :, None] <= length[None, :, None]
    room = depth[..., 0] + space.beyond_mm[:, None] - rules.tip_clearance_mm
    by_length = (
        long_enough
        & (gain <= stroke[None, :, None])
        & (length[None, :] <= room)[:, :, None]
        & _holes(space, task)
    )
    by_level = space.allowed & (np.abs(space.shift_mm) <= profile.max_translation_at_osteotomy_mm)
    reamer = np.array([_reamer(n, task) for n in space.nails])
    by_canal = (reamer[None, :] <= space.narrowest_mm[:, None] + rules.reaming_beyond_canal_mm + SLACK_MM) & (
        space.misfit_mm <= rules.misfit_mm + SLACK_MM
    )
    lateral, anterior = (
        _cortex(space, i, offsets) >= rules.cortex_left_mm - SLACK_MM
        for i, offsets in enumerate((space.lateral_mm, space.anterior_mm))
    )
    plain = by_length & by_level[:, None, None] & by_canal[:, :, None]
    return np.asarray(
        plain[:, :, :, None, None] & lateral[:, :, None, :, None] & anterior[:, :, None, None, :]
    )


def play_deg(space: Space, plane: int, offsets_mm: Floats) -> Floats:
    """Rigid play toward the expected drift in one plane, (levels, nails, offsets). [deg]

    A nail moved toward the concave side leaves less of it.
    """
    holes = [[n.hole_depth_mm(h) for h in n.holes] or [0.0, n.length_mm] for n in space.nails]
    far_entry, far_moving = (np.array([f(h) for h in holes]) for f in (min, max))
    spans = (
        np.maximum(space.depth_mm - far_entry[None, :], 20.0),
        np.maximum(far_moving[None, :] - space.depth_mm, 20.0),
    )
    toward = space.toward[:, plane][:, None, None]
    total = np.zeros((*space.depth_mm.shape, len(offsets_mm)))
    for fragment in range(2):
        gap = space.gap_mm[:, :, plane, fragment, None] - toward * offsets_mm
        total = total + fragment_tilt_deg(gap, 0.0, spans[fragment][:, :, None])
    return total


def _cortex(space: Space, plane: int, offsets_mm: Floats) -> Floats:
    """Least cortex left for each offset, (levels, nails, offsets): one side gains what the other loses."""
    low, high = (space.cortex_mm[:, :, plane, side, None] for side in (0, 1))
    return np.minimum(low + offsets_mm, high - offsets_mm)


def reamed_mm(space: Space, plane: int, offsets_mm: Floats) -> Floats:
    """Most bone reamed on one side for each offset, (levels, nails, offsets). [mm]"""
    low, high = (space.reamed_mm[:, :, plane, side, None] for side in (0, 1))
    return np.maximum(np.maximum(low - offsets_mm, high + offsets_mm), 0.0)


def _holes(space: Space, task: BoneTask) -> Flags:
    """Holes clear of both cut faces and enough screws in each fragment, (levels, nails, gains)."""
    rules = nail_rules(task.profile)
    shape = (len(space.levels_mm), len(space.nails), len(space.gains_mm))
    clear = np.ones(shape, dtype=bool)
    for i, nail in enumerate(space.nails):
        entry, far = np.zeros(shape[0]), np.zeros(shape[0])
        for hole in nail.holes:
            beyond = nail.hole_depth_mm(hole) - space.depth_mm[:, i]
            if hole.end is NailEnd.THIN:
                far += beyond > 0
                near = np.abs(beyond)[:, None] + 0.0 * space.gains_mm
            else:
                entry += beyond <= 0
                gained = np.minimum(space.gains_mm, nail.stroke_mm)
                near = np.where(
                    beyond[:, None] <= 0, -beyond[:, None], np.maximum(beyond[:, None] - gained, 0.0)
                )
            clear[:, i] &= near >= rules.hole_to_osteotomy_mm - SLACK_MM
        if nail.holes:
            enough = (entry >= rules.screws_per_fragment) & (far >= rules.screws_per_fragment)
            clear[:, i] &= enough[:, None]
    return clear


def _reamer(nail: Nail, task: BoneTask) -> float:
    over = nail.reamer_over_mm if nail.reamer_over_mm is not None else task.profile.over_reaming_mm
    return nail.thick_diameter_mm + over


def _anchor(
    task: BoneTask,
    correction: Correction,
    limits: HardwareLimits,
    level_mm: float,
    nails: tuple[Nail, ...],
) -> Anchor:
    route = route_at(
        task.leg,
        bone=task.bone,
        direction=task.direction,
        below_joint_mm=level_mm,
        correction=correction,
        lengthening_mm=task.lengthening_mm,
    )
    sunk, rules = task.profile.nail_end_below_surface_mm, nail_rules(task.profile)
    count = len(nails)
    cortex, reamed = np.full((count, 2, 2), np.inf), np.full((count, 2, 2), -np.inf)
    misfit, gap, narrow = np.full(count, -np.inf), np.zeros((count, 2, 2)), np.inf
    senses = expected_drift(task.bone, third_of(level_mm, bone_line(task.leg, task.bone).length_mm)).senses()
    entry = driving_fragment(task.direction)
    canals: dict[float, tuple[CanalAlong, ...]] = {}
    for i, nail in enumerate(nails):
        depth = route.osteotomy_depth_mm(nail, sunk)
        if depth not in canals:
            canals[depth] = canals_on(task.leg, route, depth)
        bore = _reamer(nail, task)
        for canal in canals[depth]:
            p = 0 if canal.projection is Projection.FRONTAL else 1
            depths = canal.depths_mm(0.0, nail.length_mm)
            if depths.size == 0:
                continue
            narrow = min(narrow, float(np.min(canal.width_mm(depths))))
            misfit[i] = max(misfit[i], float(np.max(canal_fit_mm(nail, bore, canal, depths)[0])))
            left = canal.cortex_left_mm(depths, bore / 2)
            for side, wall in enumerate(canal.gaps_mm(depths, bore / 2)):
                reamed[i, p, side] = max(reamed[i, p, side], -float(np.min(wall)))
                if left is not None:
                    cortex[i, p, side] = min(cortex[i, p, side], float(np.min(left[side])))
            sense = next(s for s in senses if PLANE[s] is canal.projection)
            outward = -1.0 if canal.fragment is entry else 1.0
            beside = canal.gaps_mm(depth + outward * NEAR_CUT_MM, nail.thick_diameter_mm / 2)
            gap[i, p, 0 if canal.fragment is entry else 1] = float(
                beside[1 if CONCAVE[sense] in POSITIVE_SIDES else 0]
            )
    return Anchor(
        level_mm=level_mm,
        to_cut_mm=route.surface_to_cut_mm,
        beyond_mm=far_room_mm(route, limits, level_mm, rules.tip_clearance_mm),
        cortex_mm=cortex,
        reamed_mm=np.where(np.isfinite(reamed), reamed, 0.0),
        narrowest_mm=narrow,
        misfit_mm=np.where(np.isfinite(misfit), misfit, 0.0),
        gap_mm=gap,
    )


def contact_width_mm(task: BoneTask, route: Route) -> float | None:
    """Outer width of the bone at the cut on the frontal film; None where it is not traced. [mm]"""
    edges = outer_edges_mm(task.leg, task.bone, Projection.FRONTAL, route.cut.point_mm, route.along())
    return None if edges is None else edges[1] - edges[0]
