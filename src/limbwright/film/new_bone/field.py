"""The gap and the fragments beside it, straightened into one strip with walls, soft tissue and metal."""

from dataclasses import dataclass, replace

import numpy as np

from limbwright.error import Refused
from limbwright.film.new_bone.scatter import without_scatter
from limbwright.film.reading.development import Development
from limbwright.film.tracing.guide import Guide, through_curve
from limbwright.film.tracing.plate import Floats, Mask, Plate, Point
from limbwright.film.tracing.shaft import ShaftTrace
from limbwright.film.tracing.strip import Strip, straightened
from limbwright.quantity import require_within

STEP_MM = 0.5
SOFT_MM = (3.0, 14.0)
"""Distances from the outer walls between which soft tissue is measured; engineering judgement. [mm]"""
METAL_MARGIN_MM = 1.2


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class GapField:
    """The gap and its neighbours, straightened, with everything that is read off it."""

    strip: Strip
    """Film along both fragments."""
    attenuation: Floats
    """Of every place, in units of the development. Shape of the strip."""
    soft: Floats
    """Attenuation that soft tissue alone would have."""
    left_outer: Floats
    """Offset of the outer wall at the viewer's left by depth, straight across the gap [mm]."""
    right_outer: Floats
    """At the viewer's right."""
    left_inner: Floats
    """Inner wall at the viewer's left."""
    right_inner: Floats
    """At the viewer's right."""
    metal: Mask
    """True where metal hides the bone."""

    def without_scatter(self, scattered: float) -> "GapField":
        """The same with an even layer of scattered light taken off. [open fields]"""
        attenuation = without_scatter(self.attenuation, scattered)
        soft = _soft_tissue(self.strip, attenuation, self.left_outer, self.right_outer)
        return replace(self, attenuation=attenuation, soft=soft)


def gap_field(
    plate: Plate,
    upper: ShaftTrace,
    lower: ShaftTrace,
    gap_px: tuple[Point, Point],
    development: Development,
) -> tuple[GapField, tuple[float, float]]:
    """The straightened gap, and the depths of both clicks along it. [mm]"""
    plate.require_on_film(gap_px)
    guide, walls = _joined(upper, lower)
    depth_of = [_depth_at(guide, plate.mm(np.array([p]))[0]) for p in gap_px]
    require_within(
        "gap between the clicks",
        depth_of[1] - depth_of[0],
        2.0,
        200.0,
        "mm",
        next_step="Click on the upper end of the gap first, then on the lower end.",
    )
    reach = float(np.nanmax(np.abs(np.stack([walls[0], walls[1]])))) + 16.0
    strip = straightened(
        plate,
        guide,
        low_mm=-reach,
        high_mm=reach,
        offset_step_mm=max(0.15, plate.pixel_mm),
        depth_step_mm=STEP_MM,
        averaged_mm=STEP_MM,
    )
    at = strip.depth_mm
    edges = [np.interp(at, guide.depth_mm, wall) for wall in walls]
    attenuation = development.attenuation(strip.grey)
    metal = np.zeros(strip.grey.shape, dtype=bool)
    nails = [np.interp(at, guide.depth_mm, n) for n in walls[4:]]
    if len(nails) == 2:
        metal = (strip.offset_mm[None, :] > nails[0][:, None] - METAL_MARGIN_MM) & (
            strip.offset_mm[None, :] < nails[1][:, None] + METAL_MARGIN_MM
        )
    white = float(plate.grey[::4, ::4].max()) if plate.white is None else plate.white
    metal |= strip.grey >= 0.995 * white
    soft = _soft_tissue(strip, attenuation, edges[0], edges[1])
    return (
        GapField(
            strip=strip,
            attenuation=attenuation,
            soft=soft,
            left_outer=edges[0],
            right_outer=edges[1],
            left_inner=edges[2],
            right_inner=edges[3],
            metal=metal,
        ),
        (depth_of[0], depth_of[1]),
    )


def _film_points(trace: ShaftTrace, offset: Floats) -> Floats:
    """Film millimetres of offsets at every depth of a trace. Shape (n, 2)."""
    x, y = trace.guide.at(trace.depth_mm, offset)
    return np.stack([x, y], axis=1)


def _joined(upper: ShaftTrace, lower: ShaftTrace) -> tuple[Guide, list[Floats]]:
    """One guide down both fragments and, along it, outer and inner walls (and the nail's edges)."""
    middles = []
    for trace in (upper, lower):
        keep = trace.outer[0].found & trace.outer[1].found
        offset = 0.5 * (trace.outer[0].offset_mm + trace.outer[1].offset_mm)
        if keep.sum() < 10:
            raise Refused(
                "the outer walls of a fragment were found over less than 10 mm.",
                where="new bone",
                next_step="Trace the fragments above and below the gap again.",
            )
        middles.append(_film_points(trace, offset)[keep])
    points = np.concatenate(middles)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    fine = np.linspace(0.0, along[-1], round(along[-1] / STEP_MM) + 1)
    dense = np.stack([np.interp(fine, along, points[:, k]) for k in (0, 1)], axis=1)
    guide = through_curve(dense, fine, step_mm=STEP_MM)
    both = (upper, lower)
    walls = [_along(guide, [(t, t.outer[side].offset_mm) for t in both]) for side in (0, 1)]
    walls += [_along(guide, [(t, _inner_or_usual(t, side)) for t in both]) for side in (0, 1)]
    nailed = [(t, t.nail) for t in both if t.nail is not None]
    if nailed:
        walls.append(_along(guide, [(t, nail.left_mm) for t, nail in nailed]))
        walls.append(_along(guide, [(t, nail.right_mm) for t, nail in nailed]))
    return guide, walls


def _inner_or_usual(trace: ShaftTrace, side: int) -> Floats:
    """Inner edge of a trace; where a canal is not seen, cortex is taken as a fifth of the width."""
    edge = trace.inner[side]
    if edge.found.sum() >= 5:
        return edge.offset_mm
    width = trace.outer[1].offset_mm - trace.outer[0].offset_mm
    return np.asarray(trace.outer[side].offset_mm + (0.2 if side == 0 else -0.2) * width)


def _along(guide: Guide, parts: list[tuple[ShaftTrace, Floats]]) -> Floats:
    """Offset from the joint guide of edges of both fragments, straight across the gap."""
    depths: list[float] = []
    offsets: list[float] = []
    for trace, value in parts:
        keep = np.isfinite(value)
        at = _film_points(trace, np.where(keep, value, 0.0))[keep]
        for point in at[:: max(1, len(at) // 60)]:
            depth, offset = _place(guide, point)
            depths.append(depth)
            offsets.append(offset)
    order = np.argsort(depths)
    return np.asarray(np.interp(guide.depth_mm, np.array(depths)[order], np.array(offsets)[order]))


def _place(guide: Guide, point: Floats) -> tuple[float, float]:
    row = int(np.argmin((guide.x_mm - point[0]) ** 2 + (guide.y_mm - point[1]) ** 2))
    away = point - np.array([guide.x_mm[row], guide.y_mm[row]])
    offset = away[0] * guide.normal_x[row] + away[1] * guide.normal_y[row]
    return float(guide.depth_mm[row]), float(offset)


def _depth_at(guide: Guide, point: Floats) -> float:
    return _place(guide, point)[0]


def _soft_tissue(strip: Strip, attenuation: Floats, left: Floats, right: Floats) -> Floats:
    """Soft tissue's attenuation at every place: a parabola across, from what lies beside the bone.

    A limb is round: soft tissue is thicker in front of and behind the bone than beside it. A second bone
    or metal
    beside it is brighter than the parabola and is left out.
    """
    offset = strip.offset_mm
    reach = np.minimum(left - SOFT_MM[0] - offset[0], offset[-1] - right - SOFT_MM[0])
    blocks = np.array_split(
        np.arange(len(strip.depth_mm)), max(2, round(len(strip.depth_mm) * STEP_MM / 8.0))
    )
    middles, curves = [], []
    for rows in blocks:
        level = np.median(attenuation[rows], axis=0)
        low, high = float(np.median(left[rows])), float(np.median(right[rows]))
        beside = ((offset < low - SOFT_MM[0]) & (offset > low - SOFT_MM[1])) | (
            (offset > high + SOFT_MM[0]) & (offset < high + SOFT_MM[1])
        )
        if beside.sum() < 6 or reach[rows].min() < 1.0:
            continue
        middles.append(float(strip.depth_mm[rows].mean()))
        curves.append(_hollow_parabola(offset[beside], level[beside]))
    if not middles:
        raise Refused(
            "no soft tissue is to be seen beside the bone.",
            where="new bone",
            next_step="Measure on a film that shows the limb on both sides of the bone.",
        )
    table = np.array(curves)
    smooth = [np.interp(strip.depth_mm, middles, table[:, k]) for k in range(3)]
    return np.asarray(
        smooth[0][:, None] + smooth[1][:, None] * offset[None, :] + smooth[2][:, None] * offset[None, :] ** 2
    )


def _hollow_parabola(offset: Floats, level: Floats) -> tuple[float, float, float]:
    """Parabola through soft tissue, never bulging toward the dark; what is brighter is left out."""
    weight = np.ones(len(offset))
    curve: Floats = np.zeros(3)
    for _ in range(8):
        curve = np.asarray(
            np.polynomial.polynomial.polyfit(offset, level, 2, w=np.sqrt(weight)), dtype=np.float64
        )
        if curve[2] > 0.0:
            line = np.polynomial.polynomial.polyfit(offset, level, 1, w=np.sqrt(weight))
            curve = np.array([line[0], line[1], 0.0])
        error = level - np.polynomial.polynomial.polyval(offset, curve)
        spread = 1.4826 * float(np.median(np.abs(error))) + 1e-9
        weight = np.where(error > 0, np.clip(1.0 - (error / (3.0 * spread)) ** 2, 1e-4, None) ** 2, 1.0)
        weight = np.where(error < -6.0 * spread, 1e-4, weight)
    return float(curve[0]), float(curve[1]), float(curve[2])
