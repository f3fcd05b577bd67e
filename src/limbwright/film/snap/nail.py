"""Width of a nail of known diameter from two rough clicks on one of its segments."""

from dataclasses import dataclass

import numpy as np

from limbwright.error import Refused
from limbwright.film.film import KnownNail
from limbwright.film.tracing.guide import guide_through
from limbwright.film.tracing.plate import Plate, Point
from limbwright.film.tracing.strip import straightened
from limbwright.film.tracing.wall import SQUARE_ROOT_EDGE

FILTER_MM = 0.15
WIDEST_MM = 20.0
TITANIUM_PER_MM = 0.48
"""Attenuation of titanium alloy above bone and muscle at 50 keV (elemental coefficients of the Elam 2002
table). [1/mm]"""
LEAST_FOUND = 0.4


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundNail:
    """Image of one straight segment of a nail."""

    upper_px: Point
    """Middle of the nail near the first click: column and row [px]."""
    lower_px: Point
    """Near the second click [px]."""
    width_px: float
    """Width across the nail, in widths of a pixel [px]."""
    width_sd_px: float
    """Standard uncertainty of the width [px]."""
    direction_deg: float
    """Direction from straight down, lower end toward the viewer's right + [deg]."""
    direction_sd_deg: float
    """Standard uncertainty of it [deg]."""
    support: float
    """Share of the segment on which both edges were found, 0 to 1."""

    def as_evidence(self, *, diameter_mm: float) -> KnownNail:
        """The nail as a case keeps it: evidence of scale."""
        return KnownNail(diameter_mm=diameter_mm, diameter_px=self.width_px, diameter_sd_px=self.width_sd_px)


def find_nail(plate: Plate, first_px: Point, second_px: Point, *, blur_mm: float = 0.1) -> FoundNail:
    """Find both edges of a nail's segment.

    Parameters
    ----------
    plate : Plate
        The film.
    first_px, second_px : points
        Two clicks on one segment (thick part or rod), each within the nail.
    blur_mm : float
        Blur of the film. [plate mm]

    Raises
    ------
    Refused
        Where the segment shows no two parallel edges of metal.

    Notes
    -----
    Metal weakens the beam so much that the steepest grey lies nearly at the edge: the shift is computed for a
    round rod of the width found, titanium, with the blur, in light (`rod_shift_mm`).
    """
    guide = guide_through(plate, (first_px, second_px))
    strip = straightened(
        plate,
        guide,
        low_mm=-WIDEST_MM,
        high_mm=WIDEST_MM,
        offset_step_mm=max(0.07, 0.5 * plate.pixel_mm),
        depth_step_mm=1.0,
        averaged_mm=1.5,
    )
    slope = strip.slope(FILTER_MM)
    rows = np.arange(len(strip.depth_mm))
    refusal = Refused(
        "no two parallel edges of metal are to be seen.",
        where=f"nail from {first_px[0]:.0f}, {first_px[1]:.0f} to {second_px[0]:.0f}, {second_px[1]:.0f} px",
        next_step="Click twice on one straight segment of the nail, away from holes and screws.",
    )
    sides = []
    for sign in (-1.0, 1.0):
        gain = -sign * slope
        typical = np.quantile(gain.max(axis=1), 0.5)
        gain = np.where((sign * strip.offset_mm > -4.0)[None, :], gain, 0.0)
        # The strongest edge of the whole segment first, then row by row close to it.
        mean = np.median(gain, axis=0)
        line = float(strip.offset_mm[int(mean.argmax())])
        near = np.abs(strip.offset_mm - line) <= 2.0
        best = np.where(near[None, :], gain, -np.inf).argmax(axis=1)
        best = np.clip(best, 1, len(strip.offset_mm) - 2)
        left, middle, right = (gain[rows, best + k].astype(np.float64) for k in (-1, 0, 1))
        bend = left - 2 * middle + right
        shift = np.where(bend < 0, 0.5 * (left - right) / np.where(bend < 0, bend, -1.0), 0.0)
        offset = strip.offset_mm[best] + np.clip(shift, -1, 1) * strip.offset_step_mm
        sides.append((offset, middle > 0.4 * typical))
    both = sides[0][1] & sides[1][1]
    width = sides[1][0] - sides[0][0]
    if both.mean() < LEAST_FOUND or both.sum() < 8:
        raise refusal
    typical_width = float(np.median(width[both]))
    scatter = 1.4826 * float(np.median(np.abs(width[both] - typical_width)))
    inside = float(np.median(strip.grey[:, np.abs(strip.offset_mm) < 1.0]))
    beside = float(
        np.median(strip.grey[:, np.abs(np.abs(strip.offset_mm) - 0.5 * typical_width - 2.0) < 0.6])
    )
    if not 3.0 <= typical_width <= WIDEST_MM or scatter > 0.6 or inside <= beside:
        raise refusal
    keep = both & (np.abs(width - typical_width) <= 3 * max(scatter, 0.1))
    typical_width = float(np.mean(width[keep]))
    outward = rod_shift_mm(0.5 * typical_width, blur_mm=blur_mm, filter_mm=FILTER_MM)
    middle = 0.5 * (sides[0][0] + sides[1][0])
    fit = np.polynomial.polynomial.polyfit(strip.depth_mm[keep], middle[keep], 1)
    ends = np.array([strip.depth_mm[0], strip.depth_mm[-1]])
    x, y = guide.at(ends, fit[0] + fit[1] * ends)
    points = plate.px(np.stack([x, y], axis=1))
    residual = middle[keep] - np.polynomial.polynomial.polyval(strip.depth_mm[keep], fit)
    alone = max(1.0, keep.sum() / 3.0)
    spread = float(np.std(strip.depth_mm[keep]))
    return FoundNail(
        upper_px=(float(points[0, 0]), float(points[0, 1])),
        lower_px=(float(points[1, 0]), float(points[1, 1])),
        width_px=(typical_width + 2 * outward) / plate.column_mm,
        width_sd_px=float(np.hypot(scatter / np.sqrt(alone), 0.06) / plate.column_mm),
        direction_deg=float(np.degrees(np.arctan2(x[1] - x[0], y[1] - y[0]))),
        direction_sd_deg=float(
            np.degrees(np.hypot(np.std(residual), 0.03) / np.sqrt(alone) / max(spread, 1e-6))
        ),
        support=float(keep.mean()),
    )


def rod_shift_mm(radius_mm: float, *, blur_mm: float, filter_mm: float) -> float:
    """How far outside the steepest grey the true edge of a titanium rod lies.

    Parameters
    ----------
    radius_mm : float
        Radius on the film. [mm]
    blur_mm, filter_mm : float
        Blur of the film, which acts on light, and of the filter, which acts on grey. [mm]

    Notes
    -----
    Light behind a rod is exp(-2 mu sqrt(r^2 - x^2)), blurred by a Gaussian; grey is taken as -ln of it. For
    weak metal this tends to `SQUARE_ROOT_EDGE` times the blur.
    """
    from scipy.ndimage import gaussian_filter1d

    step = 0.01
    x = np.arange(-3.0, 3.0, step)
    depth = np.where(x > 0, 0.0, np.clip(radius_mm**2 - (radius_mm + x) ** 2, 0.0, None))
    light = np.exp(-2.0 * TITANIUM_PER_MM * np.sqrt(depth))
    light = gaussian_filter1d(light, max(blur_mm, 1e-3) / step, mode="nearest")
    slope = gaussian_filter1d(-np.log(light), filter_mm / step, order=1, mode="nearest")
    inner = np.abs(x) < 2.0
    steepest = float(x[inner][np.argmin(slope[inner])])
    return float(np.clip(-steepest, 0.0, SQUARE_ROOT_EDGE * (blur_mm + filter_mm)))
