"""What a traced shaft says: mid-diaphyseal line, canal, isthmus, bow."""

from dataclasses import dataclass

import numpy as np

from limbwright.error import Refused
from limbwright.film.tracing.plate import Floats, Mask
from limbwright.film.tracing.shaft import ShaftTrace
from limbwright.film.tracing.wall import EdgeTrace, smoothed
from limbwright.finding import Finding, Number, Severity
from limbwright.published import COMMON_PRACTICE
from limbwright.quantity import Measured

LEAST_LINE_MM = 12.0
"""Shortest stretch of traced shaft that gives a line; engineering judgement. [mm]"""
SMOOTHED_HALF_MM = 12.0
"""Half window of the width curve in which the isthmus is sought; engineering judgement. [mm]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShaftLine:
    """Straight mid-diaphyseal line over a stretch of shaft, in film pixels and plate millimetres."""

    upper_px: tuple[float, float]
    """Its point at the upper end of the stretch: column and row [px]."""
    lower_px: tuple[float, float]
    """Its point at the lower end [px]."""
    direction_deg: float
    """Angle of the line (run down the film) from straight down, lower end toward the viewer's right +, in
    millimetres [deg]."""
    direction_sd_deg: float
    """Standard uncertainty of it [deg]."""
    offset_sd_mm: float
    """Standard uncertainty across, at the middle of the stretch [mm]."""
    bow_mm: float
    """Largest distance of the traced middle from the line, after smoothing [mm]."""
    bow_sd_mm: float
    """Standard uncertainty of it [mm]."""
    length_mm: float
    """Length of the stretch [mm]."""
    points: int
    """Depths that carry it."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class WidthCurve:
    """Width of bone or canal by depth; NaN where it was not found."""

    depth_mm: Floats
    """Shape (n,)."""
    width_mm: Floats
    """At right angles to the shaft. Shape (n,)."""
    sd_mm: Floats
    """Standard uncertainty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Isthmus:
    """Narrowest place of the canal, from a robust smoothed width curve."""

    width: Measured
    """Width there [mm]."""
    depth_mm: float
    """Depth along the trace [mm]."""
    depth_interval_mm: tuple[float, float]
    """Depths over which the canal is as narrow within the uncertainty [mm]."""
    x_px: float
    """Middle of the canal there, column [px]."""
    y_px: float
    """Row [px]."""
    findings: tuple[Finding, ...]
    """What weakens it: stretches that the film does not show."""


def middle(trace: ShaftTrace, edges: tuple[EdgeTrace, EdgeTrace]) -> tuple[Floats, Floats, Mask]:
    """Offset halfway between two edges, its standard uncertainty, and where both were found."""
    left, right = edges
    both = left.found & right.found
    return (
        0.5 * (left.offset_mm + right.offset_mm),
        0.5 * np.hypot(left.sd_mm, right.sd_mm),
        both,
    )


def width_curve(trace: ShaftTrace, edges: tuple[EdgeTrace, EdgeTrace]) -> WidthCurve:
    """Distance of two edges at every depth, at right angles to the middle line."""
    left, right = edges
    offset, _, _ = middle(trace, edges)
    lean = np.gradient(np.where(np.isfinite(offset), offset, 0.0), trace.depth_mm)
    lean = np.where(np.isfinite(offset), np.clip(lean, -0.3, 0.3), 0.0)
    width = (right.offset_mm - left.offset_mm) / np.sqrt(1.0 + lean**2)
    # Blur moves both edges outward or inward together: the systematic parts add up.
    return WidthCurve(depth_mm=trace.depth_mm, width_mm=width, sd_mm=left.sd_mm + right.sd_mm)


def shaft_line(
    trace: ShaftTrace,
    *,
    from_mm: float | None = None,
    to_mm: float | None = None,
    edges: tuple[EdgeTrace, EdgeTrace] | None = None,
) -> ShaftLine:
    """Straight line through the middle of a stretch of shaft.

    Parameters
    ----------
    trace : ShaftTrace
        The traced shaft.
    from_mm, to_mm : float, optional
        Depths; the whole trace unless given. On a bowed or bent bone give the straight stretch you mean.
    edges : tuple of EdgeTrace, optional
        Inner edges for the canal's centre line; outer edges, as the mid-diaphyseal line is defined, unless
        given.

    Raises
    ------
    Refused
        Where fewer than 12 mm of the stretch show both edges.

    Notes
    -----
    Tukey's biweight. Residuals are correlated over about 10 mm (shape of the bone, not noise), which is what
    the stated uncertainty counts as one reading.
    """
    edges = trace.outer if edges is None else edges
    offset, sd, both = middle(trace, edges)
    depth = trace.depth_mm
    low = depth[0] if from_mm is None else from_mm
    high = depth[-1] if to_mm is None else to_mm
    use = both & (depth >= low) & (depth <= high) & ~trace.hidden
    step = float(depth[1] - depth[0])
    if use.sum() * step < LEAST_LINE_MM:
        raise Refused(
            f"{use.sum() * step:.0f} mm of the stretch from {low:.0f} to {high:.0f} mm show both edges, "
            f"{LEAST_LINE_MM:g} mm are needed.",
            where="mid-diaphyseal line",
            next_step="Choose a longer stretch, or mark the line by two points.",
        )
    x, y = trace.guide.at(depth[use], offset[use])
    points = np.stack([x, y], axis=1)
    centre, along = points.mean(axis=0), points[-1] - points[0]
    along = along / np.hypot(*along)
    weight = np.ones(len(points))
    residual = np.zeros(len(points))
    for _ in range(8):
        across = np.array([along[1], -along[0]])
        at, away = (points - centre) @ along, (points - centre) @ across
        moments = np.polynomial.polynomial.polyfit(at, away, 1, w=np.sqrt(weight))
        centre = centre + moments[0] * across
        along = along + moments[1] * across
        along = along / np.hypot(*along)
        residual = (points - centre) @ np.array([along[1], -along[0]])
        limit = 4.685 * max(1.4826 * float(np.median(np.abs(residual))), 0.03)
        weight = np.clip(1.0 - (residual / limit) ** 2, 1e-6, None) ** 2
    at = (points - centre) @ along
    scatter = float(np.sqrt(np.average(residual**2, weights=weight)))
    alone = max(1.0, len(points) * step / 10.0)
    typical = float(np.nanmedian(sd[use]))
    offset_sd = float(np.hypot(scatter / np.sqrt(alone), 0.7 * typical))
    spread = float(np.sqrt(np.average((at - at.mean()) ** 2)))
    # Edges of left and right are blurred alike, so the line suffers from their scatter only.
    slope_sd = float(np.hypot(scatter, 0.5 * typical) / np.sqrt(alone) / max(spread, 1e-6))
    smooth, left = smoothed(depth[use], residual, np.ones(len(residual), dtype=bool), half_mm=15.0)
    furthest = int(np.nanargmax(np.abs(smooth)))
    ends = np.stack([centre + along * at.min(), centre + along * at.max()]) / np.array(
        [trace.column_mm, trace.row_mm]
    )
    return ShaftLine(
        upper_px=(float(ends[0, 0]), float(ends[0, 1])),
        lower_px=(float(ends[1, 0]), float(ends[1, 1])),
        direction_deg=float(np.degrees(np.arctan2(along[0], along[1]))),
        direction_sd_deg=float(np.degrees(slope_sd)),
        offset_sd_mm=offset_sd,
        bow_mm=float(abs(smooth[furthest])),
        # Beside the noise there, what blurs one edge more than the other, and where the line itself lies.
        bow_sd_mm=float(np.sqrt(left[furthest] ** 2 + (0.5 * typical) ** 2 + scatter**2 / alone)),
        length_mm=float(at.max() - at.min()),
        points=int(use.sum()),
    )


def canal_centre_line_px(trace: ShaftTrace) -> Floats:
    """Middle between the inner edges where both were found. Shape (k, 2), columns column and row [px]."""
    offset, _, both = middle(trace, trace.inner)
    x, y = trace.guide.at(trace.depth_mm[both], offset[both])
    return np.stack([x / trace.column_mm, y / trace.row_mm], axis=1)


def canal_centre_sd_mm(trace: ShaftTrace) -> Floats:
    """Standard uncertainty across of every point of `canal_centre_line_px`. Shape (k,), plate mm."""
    _, sd, both = middle(trace, trace.inner)
    return np.asarray(sd[both])


def isthmus(trace: ShaftTrace, *, from_mm: float | None = None, to_mm: float | None = None) -> Isthmus:
    """The narrowest place of the canal.

    Raises
    ------
    Refused
        Where less than a third of the stretch shows both inner edges.

    Notes
    -----
    The minimum of a local robust parabola (24 mm) through the width curve; no single profile decides.
    Where the
    narrowest place lies at the border of a stretch that the film does not show, or such a stretch is long
    enough to hide a narrower one, a finding says so and the uncertainty is widened by what the curve could do
    there.
    """
    curve = width_curve(trace, trace.inner)
    depth = curve.depth_mm
    low = depth[0] if from_mm is None else from_mm
    high = depth[-1] if to_mm is None else to_mm
    within = (depth >= low) & (depth <= high)
    use = np.isfinite(curve.width_mm) & within
    share = float(use.sum() / max(within.sum(), 1))
    if use.sum() < 20 or share < 1.0 / 3.0:
        raise Refused(
            f"both inner edges are to be seen over {100 * share:.0f} % of the stretch, a third is needed.",
            where="isthmus of the canal",
            next_step="Pin the inner edges where you see them, or measure the canal on another film.",
        )
    smooth, noise = smoothed(depth, curve.width_mm, use, half_mm=SMOOTHED_HALF_MM)
    valid = use & np.isfinite(smooth)
    place = int(np.flatnonzero(valid)[np.argmin(smooth[valid])])
    width = float(smooth[place])
    # The scatter the smoothing leaves, the edges' own uncertainty, and a tenth of it for picking a minimum.
    sd = float(np.hypot(noise[place], np.nanmedian(curve.sd_mm[use])))
    findings: list[Finding] = []
    hidden = within & ~valid
    longest, beside = _hidden_near(hidden, valid, place)
    step = float(depth[1] - depth[0])
    if beside * step <= 6.0 and longest * step >= 5.0:
        slope = _slope_beside(depth, smooth, valid, place)
        extra = min(0.5 * longest * step * slope, 0.25 * width)
        sd = float(np.hypot(sd, extra))
        findings.append(_faded(longest * step, width, sd))
    near = valid & (smooth <= width + 2.0 * max(noise[place], 0.05))
    run = _run_around(near, place)
    offset, _, _ = middle(trace, trace.inner)
    x, y = trace.guide.at(np.array([depth[place]]), np.array([offset[place]]))
    return Isthmus(
        width=Measured(value=width, sd=sd, unit="mm"),
        depth_mm=float(depth[place]),
        depth_interval_mm=(float(depth[run[0]]), float(depth[run[1]])),
        x_px=float(x[0] / trace.column_mm),
        y_px=float(y[0] / trace.row_mm),
        findings=tuple(findings),
    )


def _hidden_near(hidden: Mask, valid: Mask, place: int) -> tuple[int, int]:
    """Length of the hidden run nearest to a place, and its distance, in rows."""
    rows = np.flatnonzero(hidden)
    if len(rows) == 0:
        return 0, len(hidden)
    nearest = int(rows[np.argmin(np.abs(rows - place))])
    first, last = _run_around(hidden, nearest)
    return last - first + 1, abs(nearest - place)


def _run_around(flags: Mask, place: int) -> tuple[int, int]:
    first = last = place
    while first > 0 and flags[first - 1]:
        first -= 1
    while last < len(flags) - 1 and flags[last + 1]:
        last += 1
    return first, last


def _slope_beside(depth: Floats, smooth: Floats, valid: Mask, place: int) -> float:
    """How fast the width changes within 20 mm, mm per mm."""
    near = valid & (np.abs(depth - depth[place]) <= 20.0)
    if near.sum() < 5:
        return 0.1
    return float(np.abs(np.polynomial.polynomial.polyfit(depth[near], smooth[near], 1)[1]))


def _faded(length_mm: float, width_mm: float, sd_mm: float) -> Finding:
    return Finding(
        id="film-canal-faded",
        severity=Severity.CAUTION,
        words=(
            f"The narrowest place seen, {width_mm:.1f} mm, lies beside {length_mm:.0f} mm of shaft on which "
            f"an inner edge is not to be seen; the canal may be narrower there. 95 % interval: "
            f"{width_mm - 1.96 * sd_mm:.1f} to {width_mm + 1.96 * sd_mm:.1f} mm."
        ),
        next_step="Pin the inner edge there if you see it, or read the canal on the other film.",
        numbers=(
            Number(name="narrowest width seen", value=width_mm, unit="mm"),
            Number(name="length not seen", value=length_mm, unit="mm"),
        ),
        rule="An isthmus is certain only where both inner edges are seen on either side of it.",
        source=COMMON_PRACTICE,
    )
