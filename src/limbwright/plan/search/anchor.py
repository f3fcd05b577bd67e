"""What one level of the osteotomy brings, exactly: depth, room, canal, what each line leaves of the bone."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from limbwright.error import LimbwrightError
from limbwright.implant.nail import Direction, Nail
from limbwright.limb.anatomy import SIDES_OF_A_CUT, Fragment, Projection
from limbwright.mechanics.canal import Walls
from limbwright.plan.blocking import POSITIVE_SIDES
from limbwright.plan.bone_task import BoneTask
from limbwright.plan.canal import CanalAlong
from limbwright.plan.decision import NailPath, Place
from limbwright.plan.drift import CONCAVE, expected_drift, third_of
from limbwright.plan.hardware_limits import HardwareLimits
from limbwright.plan.motion import Floats
from limbwright.plan.nail_fit import shape_offset_mm
from limbwright.plan.osteotomy import bone_line
from limbwright.plan.planner_rules import nail_rules
from limbwright.plan.proposal import far_room_mm
from limbwright.plan.reduction import reduction
from limbwright.plan.route import Route
from limbwright.plan.search.level_lines import Lines, route_canals
from limbwright.plan.stage import cut_faces

ANCHOR_MM = 8.0
NEAR_CUT_MM = 10.0
MOST_OFFSET_MM = {Projection.FRONTAL: 1.5, Projection.SAGITTAL: 1.0}
OFFSET_STEP_MM = 0.5
TILTS_DEG = (-1.0, -0.5, 0.0, 0.5, 1.0)
TILT_STEP_DEG = 0.5
FREE = 1e3  # stands for a wall that was not traced [mm]


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
    order = np.lexsort((t, o, np.abs(o) / OFFSET_STEP_MM + np.abs(t) / TILT_STEP_DEG))
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
class Anchors:
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
        ends = np.array([n.length_mm - bend_mm(n) for n in nails])
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
            misfit_mm=np.array([_misfit(n, reamer_mm(n, task), tuple(canals.values())) for n in nails]),
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
        along = depth + bend_mm(nail)
        inside = (along >= 0) & (along <= nail.length_mm)
        offset = shape_offset_mm(along, bend_deg=nail.bend_deg, bend_depth_mm=nail.bend_depth_mm)
        radius = np.where(along <= nail.thick_length_mm, nail.thick_diameter_mm, nail.thin_diameter_mm) / 2
        low = np.maximum(-np.array(canal.inner.negative_mm), reamer_mm / 2)
        high = np.maximum(np.array(canal.inner.positive_mm), reamer_mm / 2)
        outside = np.maximum(radius - offset - low, radius + offset - high)[inside]
        worst = max(worst, float(outside.max(initial=-FREE)))
    return worst


def reamer_mm(nail: Nail, task: BoneTask) -> float:
    """Diameter of a nail's last reamer. [mm]"""
    over = nail.reamer_over_mm if nail.reamer_over_mm is not None else task.profile.over_reaming_mm
    return nail.thick_diameter_mm + over


def bend_mm(nail: Nail) -> float:
    """What a bend makes the way along the nail longer. [mm]"""
    return nail.bend_depth_mm * (1 - float(np.cos(np.radians(nail.bend_deg))))


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
