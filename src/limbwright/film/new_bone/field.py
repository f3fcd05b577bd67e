"""The gap and the fragments beside it, straightened into one strip with walls, soft tissue and metal."""

from dataclasses import dataclass

import numpy as np

from limbwright.error import Refused
from limbwright.film.new_bone.development import Development
from limbwright.film.tracing.guide import Guide, through_curve
from limbwright.film.tracing.plate import Floats, Mask, Plate, Point
from limbwright.film.tracing.shaft import ShaftTrace
from limbwright.film.tracing.strip import Strip, straightened
from limbwright.film.tracing.wall import smoothed
from limbwright.quantity import require_within

STEP_MM = 0.5
SOFT_MM = (3.0, 7.0)
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
    reach = float(np.nanmax(np.abs(np.stack([walls[0], walls[1]])))) + 12.0
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
    """Soft tissue's attenuation at every place, straight across from one side of the bone to the other."""
    offset = strip.offset_mm[None, :]
    bands = []
    for sign, wall in ((-1.0, left), (1.0, right)):
        away = sign * (offset - wall[:, None])
        band = np.where((away >= SOFT_MM[0]) & (away <= SOFT_MM[1]), attenuation, np.nan)
        level = np.nanmedian(band, axis=1)
        smooth, _ = smoothed(strip.depth_mm, level, np.isfinite(level), half_mm=10.0)
        bands.append(np.where(np.isfinite(smooth), smooth, np.nanmedian(level)))
    share = np.clip((offset - left[:, None]) / (right - left)[:, None], 0.0, 1.0)
    return np.asarray(bands[0][:, None] * (1 - share) + bands[1][:, None] * share)
