"""Tip of a rounded prominence (greater trochanter, malleolus, fibular head) from a rough click."""

from dataclasses import dataclass

import numpy as np

from limbwright.error import Refused
from limbwright.film.film import Mark, Provenance
from limbwright.film.tracing.guide import through_curve
from limbwright.film.tracing.path import between_columns, smooth_paths
from limbwright.film.tracing.plate import Plate, Point
from limbwright.film.tracing.strip import straightened

CLICK_REACH_MM = 6.0
FILTER_MM = 0.5
OUTWARD = 0.4
"""How far outside the steepest grey a thin shell's edge lies, in blur widths: less than for a thick wall,
because
the shell itself is hardly thicker than the blur; engineering judgement, as found on phantom films."""
LEAST_SUPPORT = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundTip:
    """Highest or lowest point of a rounded contour."""

    x_px: float
    """Column [px]."""
    y_px: float
    """Row [px]."""
    along_sd_mm: float
    """Standard uncertainty along the contour: a rounded tip is flat there [plate mm]."""
    across_sd_mm: float
    """Standard uncertainty across the contour [plate mm]."""
    support: float
    """How clearly the contour is seen, 0 to 1."""

    def mark(self, *, column_mm: float) -> Mark:
        """The tip as a case keeps it, snapped."""
        sd_mm = float(np.hypot(self.along_sd_mm, self.across_sd_mm) / np.sqrt(2.0))
        return Mark(x_px=self.x_px, y_px=self.y_px, sd_px=sd_mm / column_mm, provenance=Provenance.SNAPPED)


def find_tip(plate: Plate, click_px: Point, *, points_up: bool, blur_mm: float = 0.1) -> FoundTip:
    """Find the tip that a rough click means.

    Parameters
    ----------
    plate : Plate
        The film.
    click_px : tuple of float
        Column and row, up to 4 mm from the tip.
    points_up : bool
        Whether the prominence points up the film, as the trochanter does, or down, as a malleolus does.
    blur_mm : float
        Blur of the film. [plate mm]

    Raises
    ------
    Refused
        Where no rounded contour is to be seen.
    """
    plate.require_on_film((click_px,))
    centre = plate.mm(np.array([click_px]))[0]
    half, step = 7.5, 0.3
    count = round(2 * half / step)
    line = centre + np.stack([np.arange(count + 1) * step - half, np.zeros(count + 1)], axis=1)
    guide = through_curve(line, np.arange(count + 1, dtype=np.float64) * step, step_mm=step)
    strip = straightened(
        plate,
        guide,
        low_mm=-CLICK_REACH_MM - 9.0,
        high_mm=CLICK_REACH_MM + 9.0,
        offset_step_mm=max(0.12, plate.pixel_mm),
        depth_step_mm=step,
        averaged_mm=0.9,
    )
    # Offsets run up the film here.
    sign = 1.0 if points_up else -1.0
    gain = np.asarray(-sign * strip.slope(FILTER_MM), dtype=np.float32)
    typical = float(np.quantile(gain.max(axis=1), 0.5))
    spread = float(np.quantile(np.abs(gain), 0.5)) + 1e-9
    refusal = Refused(
        "no rounded edge is to be seen.",
        where=f"tip near {click_px[0]:.0f}, {click_px[1]:.0f} px",
        next_step="Click nearer to the tip, or mark it by hand.",
    )
    if typical <= 0:
        raise refusal
    scaled = np.clip(gain / np.float32(typical), 0.0, 1.2)
    path = smooth_paths(scaled[None], reach=3, stiffness=0.03)[0]
    column, height = between_columns(gain, path)
    offset = sign * (strip.offset_mm[0] + column * strip.offset_step_mm)
    seen = height > 0.3 * typical
    contrast = float(np.median(height))
    support = float(np.clip(contrast / (contrast + 3.0 * spread), 0.0, 1.0) * seen.mean())
    if support < LEAST_SUPPORT or seen.sum() < 12:
        raise refusal
    depth = strip.depth_mm
    top = float(depth[seen][np.argmax(np.convolve(offset, np.ones(5) / 5, mode="same")[seen])])
    curve = None
    for _ in range(4):
        near = seen & (np.abs(depth - top) <= 4.5)
        if near.sum() < 10:
            raise refusal
        curve = np.polynomial.polynomial.polyfit(depth[near] - top, offset[near], 2)
        if curve[2] >= -1e-3:
            raise refusal
        top = float(np.clip(top - curve[1] / (2 * curve[2]), depth[0], depth[-1]))
    assert curve is not None
    near = seen & (np.abs(depth - top) <= 4.5)
    residual = offset[near] - np.polynomial.polynomial.polyval(depth[near] - top, curve)
    scatter = float(np.std(residual))
    height_at = float(curve[0]) + OUTWARD * float(np.hypot(FILTER_MM, blur_mm))
    x, y = guide.at(np.array([top]), np.array([sign * height_at]))
    found = plate.px(np.stack([x, y], axis=1))[0]
    return FoundTip(
        x_px=float(found[0]),
        y_px=float(found[1]),
        # A parabola of curvature 2c found with scatter s over 9 mm: slope error over curvature.
        along_sd_mm=float(np.hypot(0.6, (scatter + 0.05) / 4.5 / abs(2 * curve[2]))),
        across_sd_mm=float(np.hypot(0.2, scatter)),
        support=support,
    )
