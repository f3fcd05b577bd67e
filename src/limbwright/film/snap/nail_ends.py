"""Where a nail ends, and where its thin part leaves its thick part, from one rough click each."""

from dataclasses import dataclass

import numpy as np

from limbwright.error import Refused
from limbwright.film.film import Mark, Provenance
from limbwright.film.tracing.guide import through_curve
from limbwright.film.tracing.plate import Floats, Plate, Point
from limbwright.film.tracing.strip import Strip, straightened

REACH_MM = 5.0
"""How far a click may lie from the end, along the nail. [mm]"""
HALF_MM = 12.0
STEP_MM = 0.25
FILTER_MM = 0.4
LEAST_STEP = 0.12
"""Fall of grey at an end as a share of the metal's own grey, below which nothing is told; engineering
judgement, as found on phantom films."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundEnd:
    """An end of the nail, or of its thick part, on the nail's axis."""

    x_px: float
    """Column [px]."""
    y_px: float
    """Row [px]."""
    sd_mm: float
    """Standard uncertainty along the nail [plate mm]."""
    support: float
    """Fall of grey there as a share of the metal's, 0 to 1."""

    def mark(self, *, column_mm: float) -> Mark:
        """The end as a case keeps it, snapped."""
        sd_px = self.sd_mm / column_mm
        return Mark(x_px=self.x_px, y_px=self.y_px, sd_px=sd_px, provenance=Provenance.SNAPPED)


def find_nail_end(plate: Plate, click_px: Point, inside_px: Point, *, width_mm: float) -> FoundEnd:
    """Find the end of a nail near a click.

    Parameters
    ----------
    plate : Plate
        The film.
    click_px : point
        Up to `REACH_MM` from the end along the nail.
    inside_px : point
        Another point of the nail's axis, on the metal's side of the end.
    width_mm : float
        Diameter of the part that ends. [mm]

    Raises
    ------
    Refused
        Where the metal is not seen to end.
    """
    strip = _strip(plate, click_px, inside_px)
    middle = _middle(strip, width_mm)
    core = np.abs(strip.offset_mm - middle) < 0.3 * width_mm
    return _fall(plate, strip, middle, strip.grey[:, core].mean(axis=1), what="end of the nail")


def find_junction(
    plate: Plate, click_px: Point, thick_px: Point, *, thick_mm: float, thin_mm: float
) -> FoundEnd:
    """Find where the thin part leaves the thick part near a click.

    Parameters
    ----------
    plate, click_px
        As in `find_nail_end`.
    thick_px : point
        A point of the axis within the thick part.
    thick_mm, thin_mm : float
        Diameters of both parts. [mm]

    Raises
    ------
    Refused
        Where no step in width is to be seen.
    """
    strip = _strip(plate, click_px, thick_px)
    middle = _middle(strip, thick_mm)
    step = 0.5 * (thick_mm - thin_mm)
    away = np.abs(strip.offset_mm - middle)
    lane = (away > 0.5 * thin_mm + 0.2 * step) & (away < 0.5 * thick_mm - 0.2 * step)
    if not lane.any():
        raise _refused("step from thick to thin", click_px)
    return _fall(plate, strip, middle, strip.grey[:, lane].mean(axis=1), what="step from thick to thin")


def _strip(plate: Plate, click_px: Point, inside_px: Point) -> Strip:
    """The film about the click, rows running from outside into the metal."""
    plate.require_on_film((click_px, inside_px))
    click, inside = plate.mm(np.array([click_px, inside_px]))
    length = float(np.hypot(*(inside - click)))
    if length < 10.0:
        raise Refused(
            f"the other point of the nail lies only {length:.1f} mm away.",
            where=f"nail near {click_px[0]:.0f}, {click_px[1]:.0f} px",
            next_step="Mark both ends of the nail's part; they tell its direction.",
        )
    way = (inside - click) / length
    along = np.arange(-HALF_MM, HALF_MM + 0.5 * STEP_MM, STEP_MM)
    guide = through_curve(click + along[:, None] * way, along + HALF_MM, step_mm=STEP_MM)
    return straightened(
        plate,
        guide,
        low_mm=-HALF_MM,
        high_mm=HALF_MM,
        offset_step_mm=max(0.1, plate.pixel_mm),
        depth_step_mm=STEP_MM,
        averaged_mm=0.0,
    )


def _middle(strip: Strip, width_mm: float) -> float:
    """Offset of the nail's axis: where a bar of its width is brightest against its sides, inside the end."""
    rows = strip.depth_mm > HALF_MM + REACH_MM
    grey = np.median(strip.grey[rows], axis=0)
    best, place = -np.inf, 0.0
    for offset in strip.offset_mm[np.abs(strip.offset_mm) < 4.0]:
        away = np.abs(strip.offset_mm - offset)
        inside, beside = away < 0.5 * width_mm, (away > 0.5 * width_mm) & (away < 0.5 * width_mm + 3.0)
        gain = float(grey[inside].mean() - grey[beside].mean())
        if gain > best:
            best, place = gain, float(offset)
    return place


def _fall(plate: Plate, strip: Strip, middle: float, grey: Floats, *, what: str) -> FoundEnd:
    """The steepest rise of grey from outside into the metal, between rows by a parabola."""
    from scipy.ndimage import gaussian_filter1d

    depth = strip.depth_mm
    slope = gaussian_filter1d(grey.astype(np.float64), FILTER_MM / STEP_MM, order=1, mode="nearest")
    near = np.abs(depth - HALF_MM) <= REACH_MM
    best = int(np.clip(np.where(near, slope, -np.inf).argmax(), 1, len(depth) - 2))
    at = depth[best]
    inside = float(np.median(grey[(depth > at + 1.0) & (depth < at + 5.0)]))
    outside = float(np.median(grey[(depth < at - 1.0) & (depth > at - 5.0)]))
    share = (inside - outside) / max(abs(inside), 1e-9)
    x, y = strip.guide.at(np.array([at]), np.array([middle]))
    found = plate.px(np.stack([x, y], axis=1))[0]
    if share < LEAST_STEP:
        raise _refused(what, (float(found[0]), float(found[1])))
    left, top, right = (slope[best + k] for k in (-1, 0, 1))
    bend = left - 2 * top + right
    shift = 0.5 * (left - right) / bend if bend < 0 else 0.0
    x, y = strip.guide.at(np.array([at + np.clip(shift, -1, 1) * STEP_MM]), np.array([middle]))
    found = plate.px(np.stack([x, y], axis=1))[0]
    return FoundEnd(
        x_px=float(found[0]),
        y_px=float(found[1]),
        sd_mm=float(np.hypot(0.1, 0.5 * plate.pixel_mm)),
        support=float(np.clip(share, 0.0, 1.0)),
    )


def _refused(what: str, at_px: Point) -> Refused:
    return Refused(
        f"no {what} is to be seen.",
        where=f"nail near {at_px[0]:.0f}, {at_px[1]:.0f} px",
        next_step="Click nearer to it, or mark it by hand.",
    )
