"""One cortical edge along a shaft: path, sub-pixel place, smoothing, uncertainty, where it was not found."""

from dataclasses import dataclass

import numpy as np

from limbwright.film.tracing.path import between_columns, smooth_paths
from limbwright.film.tracing.plate import Floats, Image, Mask, Whole
from limbwright.film.tracing.strip import Strip

SQUARE_ROOT_EDGE = 0.765
"""A tube's shadow begins like a square root; blurred by sigma its steepest point lies 0.765 sigma inside the
true edge. Derived: the largest value over d of the integral of t^(-1/2) exp(-(d-t)^2/2) for t > 0."""

BURNT_OUT_MM = (0.5, 1.0, 1.5)
"""Places outside an edge at which the film must not be burnt out. [mm]"""
RIVAL_FROM = 0.7
"""Steepness of another edge, as a share of the chosen one's, from which it may be the right one; engineering
judgement, as found on phantom films."""
RIVAL_SHARE_OF_DISTANCE = 0.4
"""What such an edge adds to the standard uncertainty, as a share of its distance; engineering judgement."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class EdgeTrace:
    """One edge by depth; offsets toward the viewer's right +, from the guide."""

    offset_mm: Floats
    """Smoothed and corrected for blur; NaN where not found. Shape (n,)."""
    sd_mm: Floats
    """Standard uncertainty across, NaN where not found."""
    found: Mask
    """Where the film shows the edge."""
    contrast: Floats
    """Slope of the grey along the path, grey per mm."""

    @property
    def share_found(self) -> float:
        """Share of the depths at which it was found."""
        return float(self.found.mean())


def trace_edge(
    strip: Strip,
    gain: Image,
    *,
    around_mm: Floats,
    reach_mm: tuple[Floats, Floats],
    outward: float,
    sigma_mm: float,
    sigma_sd_mm: float,
    least_contrast: float,
    stiffness: float,
    softness_mm: float,
    beyond_mm: float = 0.0,
    smoothed_half_mm: float = 8.0,
    steadied_rows: int = 1,
    rival_mm: float | None = None,
    burnt_out: Mask | None = None,
    pinned: dict[int, float],
) -> EdgeTrace:
    """Follow one edge.

    Parameters
    ----------
    strip : Strip
        Fine strip.
    gain : (n, m) float32
        Slope in the sense of the edge, + where it rises or falls as wanted.
    around_mm, reach_mm : arrays of (n,)
        Where it is expected, and how far toward smaller and larger offsets it may lie from there.
    outward : float
        +1 where outside of the bone is toward larger offsets, else -1.
    sigma_mm, sigma_sd_mm : float
        Blur of film and filter together, and its standard uncertainty.
    least_contrast : float
        Slope below which the edge is not there.
    stiffness : float
        Cost of sideways steps against typical gain 1.
    softness_mm : float
        How sharply the bone itself ends there: standard uncertainty beyond blur and noise.
    beyond_mm : float
        How far outside the steepest grey the edge lies beyond what blur explains.
    smoothed_half_mm : float
        Half length of the stretch over which the edge is smoothed.
    steadied_rows : int
        Rows over which the gain is averaged while the path is sought; the edge itself is placed row by row.
    rival_mm : float, optional
        Distance from which another edge of the same kind counts as a rival: where one is nearly as steep, the
        uncertainty holds it as well.
    burnt_out : (n, m) bool, optional
        Where the film is burnt out: an edge whose outer side is, is not where it seems, and is not found.
    pinned : dict
        Row to offset: the path goes through these.
    """
    rows = np.arange(len(strip.depth_mm))
    low, high = around_mm - reach_mm[0], around_mm + reach_mm[1]
    outside = (strip.offset_mm[None, :] < low[:, None]) | (strip.offset_mm[None, :] > high[:, None])
    typical = max(float(np.quantile(np.where(outside, 0.0, gain).max(axis=1), 0.6)), least_contrast, 1e-9)
    steadied = _steadied(gain, steadied_rows)
    scaled = np.clip(steadied / np.float32(typical), 0.0, 1.5)
    scaled[outside] = -20.0
    for row, offset in pinned.items():
        scaled[row] = -100.0
        pin = int(np.clip(np.rint(strip.column_of(np.array(offset))), 1, len(strip.offset_mm) - 2))
        scaled[row, pin - 1 : pin + 2] = 100.0
    path = smooth_paths(scaled[None], reach=3, stiffness=stiffness)[0]
    column, contrast = between_columns(gain, path)
    raw = strip.offset_mm[0] + column * strip.offset_step_mm
    found = (contrast >= max(least_contrast, 0.2 * typical)) & (contrast > 0)
    at = np.clip(np.rint(column).astype(np.intp), 0, len(strip.offset_mm) - 1)
    found &= strip.usable[rows, at]
    if burnt_out is not None:
        for beyond in BURNT_OUT_MM:
            beside = at + round(outward * beyond / strip.offset_step_mm)
            found &= ~burnt_out[rows, np.clip(beside, 0, len(strip.offset_mm) - 1)]
    # An edge that stops and starts within a few millimetres is texture, not an edge.
    found = _runs(found, 5)
    corrected = raw + outward * (SQUARE_ROOT_EDGE * sigma_mm + beyond_mm)
    for row, offset in pinned.items():
        corrected[row], found[row] = offset, True
    smooth, noise = smoothed(strip.depth_mm, corrected, found, half_mm=smoothed_half_mm)
    for row, offset in pinned.items():
        smooth[row] = offset
    systematic = np.hypot(SQUARE_ROOT_EDGE * sigma_sd_mm, softness_mm)
    if rival_mm is not None:
        away = _rival_distance(strip, np.where(outside, 0.0, steadied), at, rival_mm)
        systematic = np.hypot(systematic, RIVAL_SHARE_OF_DISTANCE * away)
    keep = found & np.isfinite(smooth)
    return EdgeTrace(
        offset_mm=np.where(keep, smooth, np.nan),
        sd_mm=np.where(keep, np.hypot(noise, systematic), np.nan),
        found=keep,
        contrast=contrast,
    )


def _rival_distance(strip: Strip, gain: Floats, path: Whole, rival_mm: float) -> Floats:
    """Distance of the steepest other edge in every row, 0 where there is none nearly as steep. Shape (n,)."""
    from scipy.ndimage import maximum_filter1d, median_filter

    columns = np.arange(gain.shape[1])
    rows = np.arange(len(path))
    own = np.asarray(maximum_filter1d(gain, 5, axis=1))[rows, path]
    step = strip.offset_step_mm
    other = np.where(np.abs(columns[None, :] - path[:, None]) * step < rival_mm, 0.0, gain)
    place = other.argmax(axis=1)
    rival = other[rows, place] > RIVAL_FROM * np.maximum(own, 1e-9)
    return np.asarray(
        median_filter(np.where(rival, np.abs(place - path) * step, 0.0), size=9, mode="nearest")
    )


def _steadied(gain: Image, rows: int) -> Image:
    from scipy.ndimage import uniform_filter1d

    return gain if rows <= 1 else np.asarray(uniform_filter1d(gain, rows, axis=0, mode="nearest"))


def _runs(found: Mask, shortest: int) -> Mask:
    from scipy.ndimage import binary_closing, binary_opening

    size = np.ones(shortest, dtype=bool)
    padded = np.pad(found, shortest, mode="edge")
    return np.asarray(binary_opening(binary_closing(padded, size), size)[shortest:-shortest] & True)


def smoothed(depth_mm: Floats, value: Floats, use: Mask, *, half_mm: float) -> tuple[Floats, Floats]:
    """Robust local parabola of evenly spaced values, and the standard uncertainty of what it gives.

    Parameters
    ----------
    depth_mm, value : (n,) float64
        Evenly spaced depths and values.
    use : (n,) bool
        Values to be used.
    half_mm : float
        Half length of the window.

    Returns
    -------
    smooth, sd : (n,) float64
        NaN where fewer than five values lie in the window.
    """
    step = float(depth_mm[1] - depth_mm[0])
    half = max(2, min(round(half_mm / step), (len(value) - 1) // 2))
    reach = np.arange(-half, half + 1)
    kernel = (1.0 - np.abs(reach / (half + 1.0)) ** 3) ** 3
    powers = [kernel * (reach * step) ** k for k in range(5)]
    weight = use.astype(np.float64)
    clean = np.where(use, value, 0.0)
    smooth, spread = np.full(len(value), np.nan), np.full(len(value), np.nan)
    for _ in range(3):
        moments = [np.convolve(weight, power[::-1], mode="same") for power in powers]
        fits = [np.convolve(weight * clean, power[::-1], mode="same") for power in powers[:3]]
        matrix = np.stack([np.stack([moments[i + j] for j in range(3)], axis=-1) for i in range(3)], axis=-2)
        matrix = matrix + 1e-9 * np.eye(3)
        inverse = np.linalg.inv(matrix)
        smooth = np.einsum("nj,jn->n", inverse[:, 0], np.stack(fits))
        error = np.where(use, value - smooth, 0.0)
        local = np.sqrt(np.convolve(weight * error**2, kernel, mode="same") / np.maximum(moments[0], 1e-9))
        squares = np.convolve(weight**2, (kernel**2)[::-1], mode="same")
        # Neighbouring rows share pixels: two millimetres count as one independent reading.
        alone = np.maximum(moments[0] ** 2 / np.maximum(squares, 1e-9) * min(1.0, step / 2.0), 1.0)
        spread = local * np.sqrt(inverse[:, 0, 0] * moments[0]) / np.sqrt(alone)
        limit = 4.685 * np.maximum(1.4826 * np.median(np.abs(error[use])) if use.any() else 0.0, 0.02)
        weight = np.where(use, np.clip(1.0 - (error / limit) ** 2, 0.0, None) ** 2, 0.0)
        count = np.convolve((weight > 0.05).astype(float), np.ones_like(kernel), mode="same")
    lacking = count < 5
    return np.where(lacking, np.nan, smooth), np.where(lacking, np.nan, spread)
