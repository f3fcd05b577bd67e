"""All geometric candidates of one bone as factors: level, nail, length gained, and the line in each fragment
and plane.

What a level brings (depth, room, gaps, cortex) is worked out exactly every few millimetres and interpolated
between; what is shown in the end is worked out exactly. A candidate's verdict is made of the verdicts of its
factors, so that thousands of millions of them cost no more than the factors do.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from limbwright.error import LimbwrightError
from limbwright.implant.nail import Direction, Nail
from limbwright.limb.anatomy import SIDES_OF_A_CUT, Fragment, Projection
from limbwright.mechanics.canal import Walls
from limbwright.plan.blocking import POSITIVE_SIDES
from limbwright.plan.canal import CanalAlong, by_side
from limbwright.plan.circumstances import BoneQuality
from limbwright.plan.correction import Correction
from limbwright.plan.decision import NailPath, Place
from limbwright.plan.drift import CONCAVE, expected_drift, third_of
from limbwright.plan.hardware_limits import HardwareLimits
from limbwright.plan.leg import LegModel
from limbwright.plan.motion import Floats
from limbwright.plan.nail_fit import shape_offset_mm
from limbwright.plan.osteotomy import POOR, bone_line, level_cost_mm, level_score
from limbwright.plan.planner import BoneTask, far_room_mm
from limbwright.plan.planner_rules import nail_rules
from limbwright.plan.reduction import reduction
from limbwright.plan.route import Route, canals_on, route_at
from limbwright.plan.route_of_two import route_of_two
from limbwright.plan.stage import cut_faces
from limbwright.quantity import Value

Flags = npt.NDArray[np.bool_]
ANCHOR_MM = 8.0
NEAR_CUT_MM = 10.0
MOST_OFFSET_MM = {Projection.FRONTAL: 1.5, Projection.SAGITTAL: 1.0}
OFFSET_STEP_MM = 0.5
TILTS_DEG = (-1.0, -0.5, 0.0, 0.5, 1.0)
SLACK_MM = 0.5  # what interpolation may be off; the exact check decides
LEAN_MM = 1.0  # levels count along the bone, the fragment along the nail, which leans a little against it
FREE = 1e3  # stands for a wall that was not traced [mm]


@dataclass(frozen=True, slots=True, kw_only=True)
class Held(Value):
    """What is kept beside what the goal fixes; the rest is searched."""

    path: bool = False
    """Keep the best-fit line in both fragments."""
    screws: bool = False
    """Keep to the planner's rule for blocking screws."""


SEARCH_ALL = Held()


class Lines(Protocol):
    """Where the nail's lines of a level come from."""

    def route(self, level_mm: float, gain_mm: float) -> Route:
        """The best fit at a level of the osteotomy that is lengthened."""

    def may_cut(self, level_mm: float) -> bool:
        """Whether another osteotomy leaves room for one here."""


@dataclass(frozen=True, slots=True)
class OneLevel:
    """Lines of a bone that is cut once."""

    task: BoneTask
    correction: Correction

    def route(self, level_mm: float, gain_mm: float) -> Route:
        """The best fit at a level."""
        return route_at(
            self.task.leg,
            bone=self.task.bone,
            direction=self.task.direction,
            below_joint_mm=level_mm,
            correction=self.correction,
            lengthening_mm=gain_mm,
        )

    def may_cut(self, level_mm: float) -> bool:
        """Anywhere."""
        return True


@dataclass(frozen=True, slots=True)
class SecondHeld:
    """Lines of a bone that is cut twice: the level that is only corrected stays where the plan has it."""

    task: BoneTask
    corrections: tuple[Correction, Correction]
    """At the osteotomy that is lengthened, and at the other one."""
    second_mm: float
    """Level of the other one [mm]."""
    upper_lengthens: bool
    """Whether the upper one is lengthened."""

    def route(self, level_mm: float, gain_mm: float) -> Route:
        """The best fit with the lengthened osteotomy at a level."""
        levels = (level_mm, self.second_mm) if self.upper_lengthens else (self.second_mm, level_mm)
        return route_of_two(
            self.task.leg,
            bone=self.task.bone,
            direction=self.task.direction,
            below_joint_mm=levels,
            corrections=self.corrections if self.upper_lengthens else self.corrections[::-1],
            upper_lengthens=self.upper_lengthens,
            lengthening_mm=gain_mm,
        )

    def may_cut(self, level_mm: float) -> bool:
        """On its own side of the other one, as far from it as a middle fragment needs."""
        between = self.second_mm - level_mm if self.upper_lengthens else level_mm - self.second_mm
        return between >= self.task.profile.middle_fragment_min_mm - LEAN_MM


@dataclass(frozen=True, slots=True)
class Cells:
    """Offsets and tilts of the line in one fragment and plane, the best fit first."""

    offset_mm: Floats
    tilt_deg: Floats

    def aside_mm(self, beyond_cut_mm: npt.ArrayLike) -> Floats:
        """Offset of the line at distances distal to the cut (...,), (cells, ...). [mm]"""
        s = np.asarray(beyond_cut_mm, dtype=float)
        slope = np.tan(np.radians(self.tilt_deg))
        offsets = np.expand_dims(self.offset_mm, tuple(range(1, s.ndim + 1)))
        return np.asarray(offsets + np.multiply.outer(slope, s))


def cells_of(projection: Projection, *, moves: bool) -> Cells:
    """The line's cells in one plane; the best fit alone where it is held."""
    most = MOST_OFFSET_MM[projection] if moves else 0.0
    offsets = np.arange(-most, most + 1e-9, OFFSET_STEP_MM)
    tilts = np.array(TILTS_DEG if moves else (0.0,))
    o, t = (x.ravel() for x in np.meshgrid(offsets, tilts, indexing="ij"))
    order = np.lexsort((t, o, np.abs(o) / OFFSET_STEP_MM + np.abs(t) / 0.5))
    return Cells(offset_mm=o[order], tilt_deg=t[order])


@dataclass(frozen=True, slots=True)
class Anchor:
    """What one level brings, exactly. Planes frontal, sagittal; fragments proximal, distal."""

    level_mm: float
    to_cut_mm: float
    beyond_mm: float
    narrowest_mm: float
    misfit_mm: Floats
    """(nails,) most that a bent nail's shape stands outside the reamed canal, on the best fit."""
    shift_mm: Floats
    """(2,) shift of the distal bone end once corrected, lateral and anterior +."""
    room_mm: tuple[Floats, Floats]
    """Per plane (nails, 2 fragments, cells): least distance from the nail's line to an inner wall."""
    bone_mm: tuple[Floats, Floats]
    """The same to an outer edge."""
    gap_mm: Floats
    """(2 planes, 2 fragments) inner wall from the line on the concave side near the cut, best fit."""


@dataclass(frozen=True, slots=True)
class Space:
    """Axes and factors of all candidates of one bone."""

    levels_mm: Floats
    nails: tuple[Nail, ...]
    reamer_mm: Floats
    """(nails,) last reamer."""
    gains_mm: Floats
    cells: tuple[Cells, Cells]
    """Cells of the line, frontal and sagittal, alike in both fragments."""
    depth_mm: Floats
    """(levels, nails) depth of the osteotomy along the nail."""
    beyond_mm: Floats
    """(levels,) free length beyond the cut."""
    narrowest_mm: Floats
    """(levels,) narrowest canal."""
    misfit_mm: Floats
    """(levels, nails)."""
    room_mm: tuple[Floats, Floats]
    """Per plane (levels, nails, 2 fragments, cells): least distance from the line to an inner wall."""
    bone_mm: tuple[Floats, Floats]
    """The same to an outer edge."""
    gap_mm: Floats
    """(levels, 2 planes, 2 fragments)."""
    shift_mm: Floats
    """(levels, 2) shift of the distal bone end once corrected, lateral and anterior +."""
    expected_shift_mm: Floats
    """(levels,) shift by distance from the apex, which the planner limits."""
    cost_mm: Floats
    """(levels,) cost of the level as the distance from the apex it is worth."""
    allowed: Flags
    """(levels,) not infected, and clear of a second osteotomy."""
    toward: Floats
    """(levels, 2) +1 where frontal and sagittal drift are concave to lateral and anterior, else -1."""
    antegrade: bool

    @property
    def size(self) -> int:
        """Geometric candidates: every level, nail, length, and every line in each fragment and plane."""
        lines = [len(c.offset_mm) ** 2 for c in self.cells]
        return len(self.levels_mm) * len(self.nails) * len(self.gains_mm) * lines[0] * lines[1]


def search_space(
    task: BoneTask,
    correction: Correction,
    limits: HardwareLimits,
    *,
    gains_mm: Floats | None = None,
    held: Held | None = None,
    lines: Lines | None = None,
) -> Space | None:
    """Axes and factors of one bone; what the surgeon has fixed is one value long.

    Parameters
    ----------
    gains_mm : (n,), optional
        Lengths to gain; the task's ± the practice's tolerance unless given.
    held : Held, optional
        What is kept beside what the goal fixes.
    lines : Lines, optional
        Where the nail's lines come from; those of one osteotomy unless given.

    Returns
    -------
    Space or None
        None where no level can be worked out, as when no turn of the distal fragment reaches the aim.
    """
    line, profile = bone_line(task.leg, task.bone), task.profile
    fixed = task.choice.osteotomy_below_joint_mm if task.choice is not None else None
    levels = (
        np.array([fixed])
        if fixed is not None
        else np.concatenate([np.arange(np.ceil(i.from_mm), i.to_mm + 1e-9) for i in limits.osteotomy])
    )
    nails = task.nails()
    keep_line = held is not None and held.path
    cells = (
        cells_of(Projection.FRONTAL, moves=not keep_line),
        cells_of(Projection.SAGITTAL, moves=not keep_line and task.leg.has_sagittal),
    )
    own = lines or OneLevel(task, correction)
    anchors = _Anchors(task, own, limits, cells).along(levels)
    if not anchors:
        return None
    between = _Between(np.array([a.level_mm for a in anchors]), levels)
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
    senses = [expected_drift(task.bone, third_of(float(x), line.length_mm)).senses() for x in levels]
    bend = np.array([_bend_mm(n) for n in nails])
    return Space(
        levels_mm=levels,
        nails=nails,
        reamer_mm=np.array([_reamer(n, task) for n in nails]),
        gains_mm=_gains(task) if gains_mm is None else gains_mm,
        cells=cells,
        depth_mm=between([a.to_cut_mm for a in anchors])[:, None] - profile.nail_end_below_surface_mm + bend,
        beyond_mm=between([a.beyond_mm for a in anchors]),
        narrowest_mm=between([a.narrowest_mm for a in anchors]),
        misfit_mm=between([a.misfit_mm for a in anchors]),
        room_mm=(between([a.room_mm[0] for a in anchors]), between([a.room_mm[1] for a in anchors])),
        bone_mm=(between([a.bone_mm[0] for a in anchors]), between([a.bone_mm[1] for a in anchors])),
        gap_mm=between([a.gap_mm for a in anchors]),
        shift_mm=between([a.shift_mm for a in anchors]),
        expected_shift_mm=np.array([s.translation_mm for s in scores]),
        cost_mm=level_cost_mm(
            levels,
            length_mm=line.length_mm,
            apex_below_joint_mm=correction.apex_below_joint_mm,
            near_apex_mm=profile.osteotomy_to_apex_mm,
            metaphysis_preference_mm=profile.metaphysis_preference_mm,
            poor_bone=[float(s.quality in POOR) for s in scores],
        ),
        allowed=np.array(
            [
                s.quality is not BoneQuality.INFECTED_BEFORE and own.may_cut(float(level))
                for s, level in zip(scores, levels, strict=True)
            ]
        ),
        toward=np.array([[1.0 if CONCAVE[x] in POSITIVE_SIDES else -1.0 for x in both] for both in senses]),
        antegrade=task.direction is Direction.ANTEGRADE,
    )


def _gains(task: BoneTask) -> Floats:
    """Lengths to gain, in millimetres about the goal; the surgeon's own alone where it is fixed."""
    if task.choice is not None and task.choice.lengthening_mm is not None:
        return np.array([task.lengthening_mm])
    tolerance = task.profile.length_tolerance_mm
    around = np.arange(-tolerance, tolerance + 1e-9)
    return np.unique(np.maximum(task.lengthening_mm + around, 1.0))


def _reamer(nail: Nail, task: BoneTask) -> float:
    over = nail.reamer_over_mm if nail.reamer_over_mm is not None else task.profile.over_reaming_mm
    return nail.thick_diameter_mm + over


def _bend_mm(nail: Nail) -> float:
    """What a bend makes the way along the nail longer. [mm]"""
    return nail.bend_depth_mm * (1 - float(np.cos(np.radians(nail.bend_deg))))


class _Between:
    """Straight lines between the anchors."""

    def __init__(self, at_mm: Floats, levels_mm: Floats) -> None:
        self.low = np.clip(np.searchsorted(at_mm, levels_mm, side="right") - 1, 0, max(len(at_mm) - 2, 0))
        self.high = np.minimum(self.low + 1, len(at_mm) - 1)
        span = at_mm[self.high] - at_mm[self.low]
        share = (levels_mm - at_mm[self.low]) / np.where(span > 0, span, 1.0)
        self.share = np.clip(share, 0.0, 1.0)

    def __call__(self, values: npt.ArrayLike) -> Floats:
        """(anchors, ...) to (levels, ...)."""
        table = np.asarray(values, dtype=float)
        share = self.share.reshape(-1, *[1] * (table.ndim - 1))
        return np.asarray(table[self.low] * (1 - share) + table[self.high] * share)


@dataclass(frozen=True, slots=True)
class _Anchors:
    """What is worked out exactly at a few levels."""

    task: BoneTask
    lines: Lines
    limits: HardwareLimits
    cells: tuple[Cells, Cells]

    def along(self, levels_mm: Floats) -> list[Anchor]:
        """Anchors from the first to the last level; one from which no turn reaches the aim is left out."""
        count = max(1, int(np.ceil((levels_mm[-1] - levels_mm[0]) / ANCHOR_MM)) + 1)
        found = []
        for level in np.linspace(levels_mm[0], levels_mm[-1], count):
            try:
                found.append(self.at(float(level)))
            except LimbwrightError:
                continue
        return found

    def at(self, level_mm: float) -> Anchor:
        """One level."""
        task, cells, nails = self.task, self.cells, self.task.nails()
        route = self.lines.route(level_mm, task.lengthening_mm)
        depth = route.surface_to_cut_mm - task.profile.nail_end_below_surface_mm
        canals = {(c.projection, c.fragment): c for c in route_canals(task.leg, route, depth)}
        antegrade = task.direction is Direction.ANTEGRADE
        sign = 1.0 if antegrade else -1.0
        senses = expected_drift(
            task.bone, third_of(level_mm, bone_line(task.leg, task.bone).length_mm)
        ).senses()
        shape = (len(nails), 2)
        room, bone = ([np.full((*shape, len(c.offset_mm)), FREE) for c in cells] for _ in range(2))
        gap, narrow = np.full((2, 2), FREE), FREE
        ends = np.array([n.length_mm - _bend_mm(n) for n in nails])
        for p, (projection, own) in enumerate(zip(Projection, cells, strict=True)):
            for f, fragment in enumerate(SIDES_OF_A_CUT):
                canal = canals.get((projection, fragment))
                if canal is None:
                    continue
                narrow = min(narrow, _narrowest(canal, float(ends.max())))
                room[p][:, f] = _least(canal.inner, own, depth, sign, ends)
                if canal.outer is not None:
                    bone[p][:, f] = _least(canal.outer, own, depth, sign, ends)
                far = -NEAR_CUT_MM if fragment is Fragment.PROXIMAL else NEAR_CUT_MM
                beside = canal.gaps_mm(depth + sign * far, 0.0)
                gap[p, f] = float(beside[1 if CONCAVE[senses[p]] in POSITIVE_SIDES else 0])
        return Anchor(
            level_mm=level_mm,
            to_cut_mm=route.surface_to_cut_mm,
            beyond_mm=far_room_mm(route, self.limits, level_mm, nail_rules(task.profile).tip_clearance_mm),
            narrowest_mm=narrow,
            misfit_mm=np.array([_misfit(n, _reamer(n, task), tuple(canals.values())) for n in nails]),
            shift_mm=_shift_of_ends(task, route),
            room_mm=(room[0], room[1]),
            bone_mm=(bone[0], bone[1]),
            gap_mm=gap,
        )


def _least(walls: Walls, cells: Cells, cut_mm: float, sign: float, ends_mm: Floats) -> Floats:
    """Least distance from each line to either edge, as far as each nail reaches, (nails, cells). [mm]"""
    depth = np.array(walls.depth_mm)
    inside = depth >= 0.0
    depth = depth[inside]
    if depth.size == 0:
        return np.full((len(ends_mm), len(cells.offset_mm)), FREE)
    aside = cells.aside_mm(sign * (depth - cut_mm))
    low, high = -np.array(walls.negative_mm)[inside], np.array(walls.positive_mm)[inside]
    least = np.minimum.accumulate(np.minimum(low + aside, high - aside), axis=1)
    reached = np.searchsorted(depth, ends_mm, side="right") - 1
    return np.where((reached >= 0)[:, None], least[:, np.maximum(reached, 0)].T, FREE)


def _narrowest(canal: CanalAlong, end_mm: float) -> float:
    found = canal.narrowest(0.0, end_mm)
    return FREE if found is None else found[1]


def _misfit(nail: Nail, reamer_mm: float, canals: tuple[CanalAlong, ...]) -> float:
    """Most that a bent nail's shape stands outside the reamed canal; a straight one lies in its bore. [mm]"""
    worst = -FREE
    for canal in canals:
        if nail.bend_deg == 0 or nail.bend_plane is not canal.projection:
            continue
        depth = np.array(canal.inner.depth_mm)
        along = depth + _bend_mm(nail)
        inside = (along >= 0) & (along <= nail.length_mm)
        offset = shape_offset_mm(along, bend_deg=nail.bend_deg, bend_depth_mm=nail.bend_depth_mm)
        radius = np.where(along <= nail.thick_length_mm, nail.thick_diameter_mm, nail.thin_diameter_mm) / 2
        low = np.maximum(-np.array(canal.inner.negative_mm), reamer_mm / 2)
        high = np.maximum(np.array(canal.inner.positive_mm), reamer_mm / 2)
        outside = np.maximum(radius - offset - low, radius + offset - high)[inside]
        worst = max(worst, float(outside.max(initial=-FREE)))
    return worst


def route_canals(leg: LegModel, route: Route, depth_mm: float) -> tuple[CanalAlong, ...]:
    """Traced canals along a route by their side of the osteotomy that is lengthened."""
    found = canals_on(leg, route, depth_mm)
    if route.second is None:
        return found
    deeper = route.second.deeper_mm > 0
    side = Fragment.DISTAL if deeper is (route.direction is Direction.ANTEGRADE) else Fragment.PROXIMAL
    return by_side(found, side)


def _shift_of_ends(task: BoneTask, route: Route) -> Floats:
    """Shift of the bone ends at the osteotomy that is lengthened, lateral and anterior +. [mm]"""
    nowhere = Place(anterior_mm=0.0, proximal_mm=0.0, lateral_mm=0.0)
    k = [cut is route.cut for cut in route.cuts()].index(True)
    above, below = (piece.path for piece in route.pieces()[k : k + 2])
    reduced = reduction(
        path=NailPath(entry=nowhere, proximal=above, distal=below),
        cut=route.cut,
        rotation_correction_deg=route.rotation_correction_deg,
    )
    faces = cut_faces(task.leg, reduced)
    return np.array([faces.shift_lateral_mm, faces.shift_anterior_mm])
