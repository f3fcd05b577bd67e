"""Screening: the best lines of every level and nail, and of all lengths with them the non-dominated ones.

Drift is taken as rigid play toward its expected direction times what a contact solve says of it. Within a
level and nail one sum picks the line; between levels, nails and lengths the parts stay apart.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from limbwright.plan.bone_task import BoneTask
from limbwright.plan.drift import fragment_tilt_deg
from limbwright.plan.motion import Floats
from limbwright.plan.planner_rules import nail_rules
from limbwright.plan.search.anchor import NEAR_CUT_MM, OFFSET_STEP_MM, TILT_STEP_DEG, Cells
from limbwright.plan.search.front import clearly_different, nondominated
from limbwright.plan.search.limits import Verdicts, aside_mm
from limbwright.plan.search.space import Flags, Space

RESERVE_MM = 20.0
# Parts of the screening, and the difference in each that counts as clearly different: angle left at the end
# [deg], length off, overlap short, level, shift of the ends, bone reamed [mm], angle at the start [deg].
SCALES = np.array([0.4, 2.0, 5.0, 8.0, 1.0, 0.5, 1.0])
OVERCORRECTION_PRICE = 0.1  # a turn against a drift that may not come, as a share of its size
AWAY_PRICE = 0.02  # per step away from the best fit, so that equals stay with it
LEAST_SPAN_MM = 20.0

Whole = npt.NDArray[np.intp]
Pairs = tuple[Whole, Whole]
"""Levels and nails, (pairs,) each."""

Where = tuple[int, int, int, int, int, int, int]
"""Level, nail, gain, and cell of the line: frontal proximal and distal, sagittal proximal and distal."""


@dataclass(frozen=True, slots=True)
class Screened:
    """Candidates left for comparison, one row each."""

    where: tuple[Where, ...]
    parts: Floats
    """(n, 7) in the order of `SCALES`."""


def play_deg(space: Space, plane: int, fragment: int, pairs: Pairs) -> Floats:
    """Rigid play of one fragment toward the expected drift for every cell of the line, (pairs, cells). [deg]

    A line moved toward the concave side leaves less of it.
    """
    level, nail = pairs
    radius = np.array([n.thick_diameter_mm / 2 for n in space.nails])
    beyond = -NEAR_CUT_MM if fragment == 0 else NEAR_CUT_MM
    aside = space.cells[plane].aside_mm(beyond)
    toward = space.toward[level, plane][:, None]
    gap = (space.gap_mm[level, plane, fragment] - radius[nail])[:, None] - toward * aside
    return np.asarray(fragment_tilt_deg(gap, 0.0, _span_mm(space, fragment)[level, nail][:, None]))


def _span_mm(space: Space, fragment: int) -> Floats:
    """From the cut to the hole of a fragment farthest from it, (levels, nails). [mm]"""
    holes = [[n.hole_depth_mm(h) for h in n.holes] or [0.0, n.length_mm] for n in space.nails]
    if (fragment == 0) is space.antegrade:
        span = space.depth_mm - np.array([min(h) for h in holes])
    else:
        span = np.array([max(h) for h in holes]) - space.depth_mm
    return np.asarray(np.maximum(span, LEAST_SPAN_MM))


@dataclass(frozen=True, slots=True)
class _Plane:
    """One plane of the chosen line of every pair, (pairs,) each."""

    cell: Pairs
    end_deg: Floats
    shift_mm: Floats
    reamed_mm: Floats
    turn_deg: Floats
    found: Flags


def _best_line(
    space: Space,
    kept: Verdicts,
    pairs: Pairs,
    plane: int,
    *,
    share: float,
    straight: bool,
) -> _Plane:
    """The line of least sum in one plane for every pair of level and nail.

    Parameters
    ----------
    share : float
        Drift as a share of the rigid play.
    straight : bool
        Whether the fragments keep one line with the bone corrected, so that the reduction stays.
    """
    level, nail = pairs
    cells = space.cells[plane]
    n = len(cells.offset_mm)
    rows = np.arange(len(level))
    play = [play_deg(space, plane, f, pairs) for f in (0, 1)]
    bore = space.reamer_mm[nail][:, None] / 2
    reamed = [np.maximum(bore - space.room_mm[plane][level, nail, f], 0.0) for f in (0, 1)]
    away = np.abs(cells.offset_mm) / OFFSET_STEP_MM + np.abs(cells.tilt_deg) / TILT_STEP_DEG
    if straight:
        p = d = np.arange(n)
    else:
        p, d = (x.ravel() for x in np.meshgrid(np.arange(n), np.arange(n), indexing="ij"))
    turn = cells.tilt_deg[d] - cells.tilt_deg[p]
    ok = (
        kept.lines[plane][level, nail, 0][:, p]
        & kept.lines[plane][level, nail, 1][:, d]
        & kept.ends[plane][level][:, p, d]
    )
    drift = -space.toward[level, plane][:, None] * share * (play[0][:, p] + play[1][:, d])
    end = np.abs(drift + turn)
    shift = np.abs(aside_mm(space, plane)[level][:, p, d])
    most = np.maximum(reamed[0][:, p], reamed[1][:, d])
    total = (
        (end + OVERCORRECTION_PRICE * np.abs(turn)) / SCALES[0]
        + shift / SCALES[4]
        + most / SCALES[5]
        + AWAY_PRICE * (away[p] + away[d])
    )
    best = np.argmin(np.where(ok, total, np.inf), axis=1)
    return _Plane(
        cell=(p[best], d[best]),
        end_deg=end[rows, best],
        shift_mm=shift[rows, best],
        reamed_mm=most[rows, best],
        turn_deg=np.abs(turn)[best],
        found=ok[rows, best],
    )


def screened(space: Space, kept: Verdicts, task: BoneTask, *, share: tuple[float, float]) -> Screened:
    """All lengths of every level and nail with their best straight and their best free line.

    Parameters
    ----------
    share : pair of float
        Drift as a share of the rigid play, frontal and sagittal.

    Notes
    -----
    In each plane the line of least (|d + t| + 0.1 |t|) / 0.4 + |a| + r / 0.5 + 0.02 w is picked: d drift as a
    share of the play toward its concave side, t turn beyond the aim [deg], a shift of the ends [mm], r bone
    reamed on one side [mm], w steps away from the best fit.
    """
    level, nail = np.nonzero(kept.whole.any(axis=2))
    rows, where = [], []
    overlap_mm = nail_rules(task.profile).overlap_mm
    thick = np.array([n.thick_length_mm for n in space.nails])
    for straight in (True, False):
        planes = [
            _best_line(space, kept, (level, nail), p, share=share[p], straight=straight) for p in (0, 1)
        ]
        found = planes[0].found & planes[1].found
        pair, gain = np.nonzero(kept.whole[level, nail] & found[:, None])
        i, n = level[pair], nail[pair]
        reserve = thick[n] - space.depth_mm[i, n] - space.gains_mm[gain] - overlap_mm
        rows.append(
            np.stack(
                [
                    np.hypot(planes[0].end_deg, planes[1].end_deg)[pair],
                    np.abs(space.gains_mm[gain] - task.lengthening_mm),
                    np.maximum(RESERVE_MM - reserve, 0.0),
                    space.cost_mm[i],
                    np.hypot(planes[0].shift_mm, planes[1].shift_mm)[pair],
                    np.maximum(planes[0].reamed_mm, planes[1].reamed_mm)[pair],
                    np.hypot(planes[0].turn_deg, planes[1].turn_deg)[pair],
                ],
                axis=1,
            )
        )
        cells = [c[pair] for plane in planes for c in plane.cell]
        where += list(zip(i, n, gain, *cells, strict=True))
    return Screened(
        where=tuple((*(int(x) for x in w),) for w in where),  # type: ignore[misc]  # seven whole numbers each
        parts=np.concatenate(rows),
    )


def survivors(space: Space, found: Screened, most: int, *, by_gain: bool = False) -> tuple[Where, ...]:
    """Candidates to work out exactly: the non-dominated ones, thinned to clearly different ones.

    Parameters
    ----------
    by_gain : bool
        Whether each length is thinned by itself, as when another bone makes up for it.
    """
    if not found.where:
        return ()
    groups = [np.arange(len(found.where))]
    if by_gain:
        gains = np.array([w[2] for w in found.where])
        groups = [np.flatnonzero(gains == g) for g in np.unique(gains)]
    chosen: list[Where] = []
    for group in groups:
        parts = found.parts[group] if not by_gain else np.delete(found.parts[group], 1, axis=1)
        scales = SCALES if not by_gain else np.delete(SCALES, 1)
        front = np.flatnonzero(nondominated(parts))
        share = max(most // len(groups), 1)
        chosen += [found.where[group[front[k]]] for k in clearly_different(parts[front] / scales, share)]
    return tuple(chosen)


def cell_shift(cells: Cells, proximal: int, distal: int) -> tuple[float, float, float, float]:
    """Offset and tilt in the proximal and in the distal fragment."""
    return (
        float(cells.offset_mm[proximal]),
        float(cells.tilt_deg[proximal]),
        float(cells.offset_mm[distal]),
        float(cells.tilt_deg[distal]),
    )
