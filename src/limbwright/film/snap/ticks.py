"""Ticks of a ruler between two rough clicks."""

from dataclasses import dataclass

import numpy as np

from limbwright.error import Refused
from limbwright.film.film import Mark, Provenance, Ruler
from limbwright.film.tracing.guide import guide_through
from limbwright.film.tracing.plate import Plate, Point
from limbwright.film.tracing.strip import straightened
from limbwright.quantity import require_within

LEAST_TICKS = 4


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
    """
    step = "Give the true distance between neighbouring ticks in millimetres."
    require_within("interval_mm", interval_mm, 0.5, 100.0, "mm", next_step=step)
    guide = guide_through(plate, (first_px, second_px), step_mm=0.5)
    fine = 0.1
    strip = straightened(
        plate, guide, low_mm=-3.0, high_mm=3.0, offset_step_mm=0.3, depth_step_mm=fine, averaged_mm=0.0
    )
    from scipy.ndimage import gaussian_filter1d
    from scipy.signal import find_peaks

    profile = np.median(strip.grey, axis=1).astype(np.float64)
    ridge = -gaussian_filter1d(profile, 0.35 / fine, order=2, mode="nearest")
    noise = 1.4826 * float(np.median(np.abs(ridge - np.median(ridge))))
    height = max(6.0 * noise, 0.3 * float(np.quantile(ridge, 0.998)))
    peaks, _ = find_peaks(ridge, height=height, distance=max(1, round(0.3 * interval_mm / fine)))
    peaks = peaks[(peaks > 0) & (peaks < len(ridge) - 1)]
    refusal = Refused(
        f"{len(peaks)} evenly spaced ticks are to be seen, {LEAST_TICKS} are needed.",
        where=f"ruler from {first_px[0]:.0f}, {first_px[1]:.0f} to {second_px[0]:.0f}, {second_px[1]:.0f} px",
        next_step="Click on two ticks of the ruler that lie further apart, or mark two ticks by hand.",
    )
    if len(peaks) < LEAST_TICKS:
        raise refusal
    left, middle, right = ridge[peaks - 1], ridge[peaks], ridge[peaks + 1]
    place = (peaks + 0.5 * (left - right) / (left - 2 * middle + right)) * fine
    apart = float(np.median(np.diff(place)))
    if not 0.8 * interval_mm <= apart <= 1.5 * interval_mm:
        raise refusal
    number = np.rint((place - place[0]) / apart)
    line = np.polynomial.polynomial.polyfit(number, place, 1)
    residual = place - line[0] - line[1] * number
    keep = np.abs(residual) <= max(3 * 1.4826 * float(np.median(np.abs(residual))), 0.1)
    if keep.sum() < LEAST_TICKS:
        raise refusal
    line = np.polynomial.polynomial.polyfit(number[keep], place[keep], 1)
    ends = np.array([number[keep].min(), number[keep].max()])
    residual = place[keep] - line[0] - line[1] * number[keep]
    x, y = guide.at(line[0] + line[1] * ends, np.zeros(2))
    points = plate.px(np.stack([x, y], axis=1))
    sd_mm = max(float(np.std(residual)), 0.02) * 2.0 / np.sqrt(keep.sum())
    return FoundTicks(
        first_px=(float(points[0, 0]), float(points[0, 1])),
        last_px=(float(points[1, 0]), float(points[1, 1])),
        intervals=round(float(ends[1] - ends[0])),
        interval_mm=interval_mm,
        end_sd_px=float(sd_mm / plate.pixel_mm),
        support=float(keep.sum() / (ends[1] - ends[0] + 1)),
    )
