"""Ticks of a ruler between two rough clicks."""

from dataclasses import dataclass

import numpy as np

from limbwright.error import Refused
from limbwright.film.film import Mark, Provenance, Ruler
from limbwright.film.tracing.guide import Guide, guide_through
from limbwright.film.tracing.plate import Floats, Image, Plate, Point, Whole
from limbwright.film.tracing.strip import straightened
from limbwright.quantity import require_within

LEAST_TICKS = 4
HALF_WIDTH_MM = 3.0
FINE_MM = 0.1
"""Spacing of the samples along the ruler; engineering judgement. [mm]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundTicks:
    """Evenly spaced ticks of a ruler."""

    first_px: Point
    """First tick: column and row [px]."""
    last_px: Point
    """Last tick [px]."""
    intervals: int
    """Intervals between the first and the last tick."""
    interval_mm: float
    """True distance of neighbouring ticks [mm]."""
    end_sd_px: float
    """Standard uncertainty of each end from the fit through all ticks [px]."""
    support: float
    """Share of the ticks between both ends that were found, 0 to 1."""

    def as_evidence(self, *, depth_off_bone_mm: float = 0.0, depth_off_bone_sd_mm: float = 20.0) -> Ruler:
        """The ruler as a case keeps it: evidence of scale, its ticks marked as snapped."""
        start, end = (
            Mark(x_px=at[0], y_px=at[1], sd_px=self.end_sd_px, provenance=Provenance.SNAPPED)
            for at in (self.first_px, self.last_px)
        )
        return Ruler(
            start=start,
            end=end,
            length_mm=self.intervals * self.interval_mm,
            depth_off_bone_mm=depth_off_bone_mm,
            depth_off_bone_sd_mm=depth_off_bone_sd_mm,
        )


def find_ticks(plate: Plate, first_px: Point, second_px: Point, *, interval_mm: float = 10.0) -> FoundTicks:
    """Find the ticks of a ruler between two clicks on it.

    Parameters
    ----------
    plate : Plate
        The film, its spacing right within a fifth.
    first_px, second_px : points
        Clicks near two ticks, up to 4 mm off.
    interval_mm : float
        True distance of neighbouring ticks. [mm]

    Raises
    ------
    Refused
        Where fewer than four evenly spaced ticks are to be seen.

    Notes
    -----
    Rough clicks give a line that is not quite the ruler's. Ticks stand square to the ruler, so their own
    lean, as seen between both halves of the strip, tells its direction, and the ends are laid along that.
    """
    step = "Give the true distance between neighbouring ticks in millimetres."
    require_within("interval_mm", interval_mm, 0.5, 100.0, "mm", next_step=step)
    found = _comb(plate, guide_through(plate, (first_px, second_px), step_mm=0.5), interval_mm)
    if found is not None and abs(found.lean) > 2.0 * found.lean_sd:
        # Once more along the ruler's own direction, so that each tick is met at the same part of it.
        ends = plate.px(np.stack(found.along(), axis=0))
        if _on_film(plate, ends):
            turned = guide_through(plate, tuple((float(x), float(y)) for x, y in ends), step_mm=0.5)
            found = _comb(plate, turned, interval_mm) or found
    if found is None:
        raise Refused(
            f"fewer than {LEAST_TICKS} evenly spaced ticks are to be seen.",
            where=f"ruler from {first_px[0]:.0f}, {first_px[1]:.0f} to {second_px[0]:.0f}, "
            f"{second_px[1]:.0f} px",
            next_step="Click on two ticks of the ruler that lie further apart, or mark two ticks by hand.",
        )
    return found.ticks(plate, interval_mm)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Comb:
    """Evenly spaced ticks along a straight guide."""

    guide: Guide
    middle_mm: float
    """Depth of the middle between the first and the last tick."""
    apart_mm: float
    """Distance of neighbouring ticks along the guide."""
    intervals: int
    seen: int
    """How many of the ticks were found."""
    scatter_mm: float
    lean: float
    """Angle from the guide to the ruler, toward offset +. [rad]"""
    lean_sd: float

    def along(self) -> tuple[Floats, Floats]:
        """Both ends of the guide, turned about the middle into the ruler's direction. [film mm]"""
        reach = np.array([-self.middle_mm, self.guide.length_mm - self.middle_mm])
        x, y = self.guide.at(self.middle_mm + reach * np.cos(self.lean), reach * np.sin(self.lean))
        # Depths beyond the guide are held at its ends: go on in its direction.
        down = np.array([-self.guide.normal_y[0], self.guide.normal_x[0]])
        beyond = self.middle_mm + reach * np.cos(self.lean)
        over = beyond - np.clip(beyond, 0.0, self.guide.length_mm)
        points = np.stack([x, y], axis=1) + over[:, None] * down[None, :]
        return points[0], points[1]

    def ticks(self, plate: Plate, interval_mm: float) -> FoundTicks:
        """First and last tick on the film."""
        half = 0.5 * self.apart_mm * self.intervals * np.cos(self.lean)
        reach = half * np.array([-1.0, 1.0])
        x, y = self.guide.at(self.middle_mm + reach * np.cos(self.lean), reach * np.sin(self.lean))
        points = plate.px(np.stack([x, y], axis=1))
        sd_mm = np.hypot(
            max(self.scatter_mm, 0.01) * 2.0 / np.sqrt(self.seen),
            # The cosine of the lean, to second order.
            half * np.hypot(np.sin(self.lean) * self.lean_sd, 0.5 * self.lean_sd**2),
        )
        return FoundTicks(
            first_px=(float(points[0, 0]), float(points[0, 1])),
            last_px=(float(points[1, 0]), float(points[1, 1])),
            intervals=self.intervals,
            interval_mm=interval_mm,
            end_sd_px=float(sd_mm / plate.pixel_mm),
            support=float(self.seen / (self.intervals + 1)),
        )


def _comb(plate: Plate, guide: Guide, interval_mm: float) -> _Comb | None:
    """The ticks along a guide; None where there are too few, or not evenly spaced."""
    from scipy.signal import find_peaks

    strip = straightened(
        plate,
        guide,
        low_mm=-HALF_WIDTH_MM,
        high_mm=HALF_WIDTH_MM,
        offset_step_mm=0.3,
        depth_step_mm=FINE_MM,
        averaged_mm=0.0,
    )
    ridge = _ridge(strip.grey)
    noise = 1.4826 * float(np.median(np.abs(ridge - np.median(ridge))))
    height = max(6.0 * noise, 0.3 * float(np.quantile(ridge, 0.998)))
    peaks, _ = find_peaks(ridge, height=height, distance=max(1, round(0.3 * interval_mm / FINE_MM)))
    peaks = peaks[(peaks > 0) & (peaks < len(ridge) - 1)]
    if len(peaks) < LEAST_TICKS:
        return None
    place = _placed(ridge, peaks)
    apart = float(np.median(np.diff(place)))
    if not 0.8 * interval_mm <= apart <= 1.5 * interval_mm:
        return None
    number = np.rint((place - place[0]) / apart)
    line = np.polynomial.polynomial.polyfit(number, place, 1)
    residual = place - line[0] - line[1] * number
    keep = np.abs(residual) <= max(3 * 1.4826 * float(np.median(np.abs(residual))), 0.1)
    if keep.sum() < LEAST_TICKS:
        return None
    line = np.polynomial.polynomial.polyfit(number[keep], place[keep], 1)
    first, last = number[keep].min(), number[keep].max()
    lean, lean_sd = _lean(strip.grey, peaks[keep])
    return _Comb(
        guide=guide,
        middle_mm=float(line[0] + line[1] * 0.5 * (first + last)),
        apart_mm=float(line[1]),
        intervals=round(float(last - first)),
        seen=int(keep.sum()),
        scatter_mm=float(np.std(place[keep] - line[0] - line[1] * number[keep])),
        lean=lean,
        lean_sd=lean_sd,
    )


def _on_film(plate: Plate, points_px: Floats) -> bool:
    last = np.array([plate.columns - 1, plate.rows - 1])
    return bool((points_px >= 0).all() and (points_px <= last).all())


def _ridge(grey: Image) -> Floats:
    """How much each depth stands out against what lies above and below it."""
    from scipy.ndimage import gaussian_filter1d

    profile = np.median(grey, axis=1).astype(np.float64)
    return np.asarray(-gaussian_filter1d(profile, 0.35 / FINE_MM, order=2, mode="nearest"))


def _placed(ridge: Floats, peaks: Whole) -> Floats:
    """Depths of peaks, between samples. [mm]"""
    left, middle, right = ridge[peaks - 1], ridge[peaks], ridge[peaks + 1]
    bend = left - 2 * middle + right
    shift = np.where(bend < 0, 0.5 * (left - right) / np.where(bend < 0, bend, -1.0), 0.0)
    return np.asarray((peaks + np.clip(shift, -1.0, 1.0)) * FINE_MM)


def _lean(grey: Image, peaks: Whole) -> tuple[float, float]:
    """Angle from the guide to the ruler, toward offset +, from the lean of its ticks, and its sd. [rad]

    Ticks that do not reach across the strip are left out.
    """
    third = grey.shape[1] // 3
    places, heights = [], []
    for half in (grey[:, :third], grey[:, -third:]):
        ridge = _ridge(half)
        # A tick that leans peaks a little earlier on one side.
        near = np.clip(peaks[:, None] + np.arange(-6, 7)[None, :], 1, len(ridge) - 2)
        best = near[np.arange(len(peaks)), ridge[near].argmax(axis=1)]
        places.append(_placed(ridge, best))
        heights.append(ridge[best])
    weaker = np.minimum(heights[0], heights[1])
    across = weaker > 0.6 * np.quantile(np.maximum(heights[0], heights[1]), 0.75)
    apart = (grey.shape[1] - third) * 2.0 * HALF_WIDTH_MM / (grey.shape[1] - 1)
    slope = (places[1] - places[0])[across] / apart
    if len(slope) < 3:
        return 0.0, 0.1
    middle = float(np.median(slope))
    spread = max(1.4826 * float(np.median(np.abs(slope - middle))), 0.01)
    return float(-np.arctan(middle)), float(1.25 * spread / np.sqrt(len(slope)))
