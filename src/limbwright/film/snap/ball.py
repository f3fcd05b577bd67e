"""Calibration ball from a rough click, and the blur of the film from its edge."""

from dataclasses import dataclass

import numpy as np

from limbwright.error import Refused
from limbwright.film.film import CalibrationBall, Mark, Provenance
from limbwright.film.reading.development import Development
from limbwright.film.snap.circle import CircleFit, fitted_circle, voted_circles
from limbwright.film.snap.edge_spread import (
    LINEAR_POWER,
    USUAL_POWER,
    EdgeSpread,
    edge_in_light,
    fitted_edge,
)
from limbwright.film.tracing.plate import Floats, Mask, Plate, Point
from limbwright.quantity import require_within

CLICK_REACH_MM = 6.0
"""How far a click may lie from the centre of what it means; engineering judgement. [mm]"""
LARGEST_MAGNIFICATION = 1.45
STEEL_PER_MM = 1.66
"""Attenuation of a steel ball at 50 keV (elemental coefficients of the Elam 2002 table); its rim is not quite
opaque, which moves the edge of the shadow inward by 1/(4 mu^2 R), 0.007 mm for a ball of 25 mm. [1/mm]"""
BIN_PX = 0.15
LEAST_ARC = 0.30
"""Share of the outline that must be seen; engineering judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundBall:
    """Image of a calibration ball."""

    x_px: float
    """Column of its centre [px]."""
    y_px: float
    """Row of its centre [px]."""
    radius_px: float
    """Radius [px]."""
    centre_sd_px: float
    """Standard uncertainty of each coordinate of the centre [px]."""
    radius_sd_px: float
    """Standard uncertainty of the radius [px]."""
    support: float
    """Share of the outline that was seen where it should be, 0 to 1."""
    blur_mm: float | None
    """Standard deviation of the film's blur in the plate's millimetres; None where the edge does not tell."""
    blur_sd_mm: float | None
    """Standard uncertainty of the blur."""

    def as_evidence(
        self, *, diameter_mm: float, depth_off_bone_mm: float = 0.0, depth_off_bone_sd_mm: float = 20.0
    ) -> CalibrationBall:
        """The ball as a case keeps it: evidence of scale, its centre marked as snapped."""
        return CalibrationBall(
            diameter_mm=diameter_mm,
            centre=Mark(
                x_px=self.x_px, y_px=self.y_px, sd_px=self.centre_sd_px, provenance=Provenance.SNAPPED
            ),
            radius_px=self.radius_px,
            radius_sd_px=self.radius_sd_px,
            depth_off_bone_mm=depth_off_bone_mm,
            depth_off_bone_sd_mm=depth_off_bone_sd_mm,
        )


def find_ball(
    plate: Plate, click_px: Point, *, diameter_mm: float, development: Development | None = None
) -> FoundBall:
    """Find the calibration ball that a rough click means.

    Parameters
    ----------
    plate : Plate
        Spacing at the detector, or about right: the radius is looked for from 0.85 to 1.45 times the true
        one.
    click_px : tuple of float
        Column and row, up to 6 mm from the centre.
    diameter_mm : float
        True diameter. [mm]
    development : Development, optional
        How attenuation became grey, where the film says so: the rim is then placed three times as well.

    Raises
    ------
    Refused
        Where less than a third of an outline is to be seen.

    Notes
    -----
    Votes of the slopes give a rough circle; the outline is then read along rays where the grey has half its
    light (see `snap.edge_spread`), with the background taken from each ray, so that bone beside or over the
    ball does not shift it. Rays whose edge is covered or cut off are left out by Tukey's weights.
    """
    step = "Give the true diameter of the ball in millimetres; 25 mm is usual."
    require_within("diameter_mm", diameter_mm, 5, 100, "mm", next_step=step)
    plate.require_on_film((click_px,))
    pixel = plate.pixel_mm
    rough = _rough(plate, click_px, diameter_mm)
    if rough is None:
        raise _refused(click_px, 0.0)
    x, y, radius = rough
    edge: EdgeSpread | None = None
    circle: CircleFit | None = None
    for _ in range(3):
        rays, grey = _rays(plate, x, y, radius)
        points, keep = _crossings(rays, grey)
        circle = fitted_circle(
            np.stack([points[keep] * np.cos(_TURN[keep]), points[keep] * np.sin(_TURN[keep])], axis=1),
            start=(0.0, 0.0, radius),
            reach=max(2.5, 1.0 / pixel),
            least_scatter=0.05,
        )
        if circle is None or circle.arc < LEAST_ARC:
            raise _refused(click_px, 0.0 if circle is None else circle.arc)
        x, y, radius = x + circle.x, y + circle.y * plate.column_mm / plate.row_mm, circle.radius
    assert circle is not None
    rays, grey = _rays(plate, x, y, radius)
    _, keep = _crossings(rays, grey)
    edge = _edge_of(plate, x, y, radius, grey=grey, keep=keep, development=development)
    arc = circle.arc
    if edge is not None and edge.misfit < 0.08:
        radius = radius + edge.edge_px + 1.0 / (4.0 * STEEL_PER_MM**2 * 0.5 * diameter_mm) / pixel
        blur: float | None = edge.blur_px * pixel
        radius_sd = float(np.hypot(np.sqrt(circle.covariance[2, 2]), edge.edge_sd_px))
        blur_sd: float | None = max(edge.blur_sd_px * pixel, 0.2 * edge.blur_px * pixel)
    else:
        blur, blur_sd, radius_sd = None, None, 0.6
    return FoundBall(
        x_px=x,
        y_px=y,
        radius_px=radius,
        centre_sd_px=float(np.sqrt(np.hypot(circle.covariance[0, 0], circle.covariance[1, 1])) + 0.03),
        radius_sd_px=radius_sd,
        support=float(np.clip(arc, 0.0, 1.0)),
        blur_mm=blur,
        blur_sd_mm=blur_sd,
    )


_TURN: Floats = np.linspace(0.0, 2.0 * np.pi, 360, endpoint=False)


def _white(plate: Plate) -> float:
    return float(plate.grey[::4, ::4].max()) if plate.white is None else plate.white


def _refused(click_px: Point, arc: float) -> Refused:
    return Refused(
        f"{100 * arc:.0f} % of the outline of a ball is to be seen, {100 * LEAST_ARC:.0f} % is needed.",
        where=f"ball near {click_px[0]:.0f}, {click_px[1]:.0f} px",
        next_step="Click nearer to its centre, check its diameter, or mark three points of its outline.",
    )


def _rough(plate: Plate, click_px: Point, diameter_mm: float) -> tuple[float, float, float] | None:
    from scipy.ndimage import gaussian_filter

    crop, first_x, first_y = plate.window(
        click_px, 0.5 * diameter_mm * LARGEST_MAGNIFICATION + CLICK_REACH_MM + 2
    )
    # A coarser copy is enough for the rough circle, and four times faster.
    bin_px = max(1, round(0.3 / plate.pixel_mm))
    rows, columns = (size // bin_px * bin_px for size in crop.shape)
    small = crop[:rows, :columns].reshape(rows // bin_px, bin_px, columns // bin_px, bin_px).mean(axis=(1, 3))
    smooth = gaussian_filter(small, 1.0)
    down, over = np.gradient(smooth)
    scale = bin_px * plate.pixel_mm
    (vote,) = voted_circles(
        over,
        down,
        radii=(0.85 * diameter_mm / 2 / scale, LARGEST_MAGNIFICATION * diameter_mm / 2 / scale),
        middle=((click_px[0] - first_x) / bin_px, (click_px[1] - first_y) / bin_px),
        reach=CLICK_REACH_MM / scale,
        share=0.06,
    )
    if vote.support < 0.2:
        return None
    shift = 0.5 * (bin_px - 1)
    return vote.x * bin_px + shift + first_x, vote.y * bin_px + shift + first_y, vote.radius * bin_px


def _rays(plate: Plate, x: float, y: float, radius: float) -> tuple[Floats, Floats]:
    """Distances from the centre, shape (360, n), and grey values along 360 rays. [px of a column]"""
    reach = max(4.0, 1.2 / plate.pixel_mm)
    distance = radius + np.arange(-reach, reach + 1e-6, 0.25)
    at_x = x * plate.column_mm + plate.column_mm * distance[None, :] * np.cos(_TURN)[:, None]
    at_y = y * plate.row_mm + plate.column_mm * distance[None, :] * np.sin(_TURN)[:, None]
    grey, usable = plate.sampled(at_x, at_y)
    values = np.where(usable, grey.astype(np.float64), np.nan)
    return np.broadcast_to(distance, values.shape).copy(), values


def _crossings(distance: Floats, grey: Floats) -> tuple[Floats, Mask]:
    """Where each ray falls through the middle of its own edge, and which rays have one."""
    count = grey.shape[1]
    whole: Mask = np.asarray(np.isfinite(grey).all(axis=1), dtype=np.bool_)
    grey = np.where(whole[:, None], grey, 0.0)
    inner = np.median(grey[:, : count // 6], axis=1)
    outer = np.median(grey[:, -(count // 6) :], axis=1)
    height = inner - outer
    typical = np.median(height[height > 0]) if (height > 0).any() else 0.0
    level = outer + 0.4 * height
    below = grey < level[:, None]
    # The first sample below the level, from inside out, whose neighbour before it is above.
    first = below.argmax(axis=1)
    ok = (first > 0) & (height > 0.25 * typical) & whole
    first = np.where(ok, first, 1)
    row = np.arange(len(first))
    high, low = grey[row, first - 1], grey[row, first]
    share = np.where(ok, (high - level) / np.where(high > low, high - low, 1.0), 0.0)
    step = distance[:, 1] - distance[:, 0]
    return distance[row, first - 1] + share * step, ok


def _edge_of(
    plate: Plate,
    x: float,
    y: float,
    radius: float,
    *,
    grey: Floats,
    keep: Mask,
    development: Development | None,
) -> EdgeSpread | None:
    """Edge spread of the stretch of the outline with the plainest background, from the pixels themselves.

    Pixels, not rays: values between pixels are averages and would blur the edge further.
    """
    count, white = grey.shape[1], _white(plate)
    known = development if development is not None and development.certain else None
    absolute = known is not None and (known.absolute or known.in_light)
    outer = np.median(np.where(keep[:, None], grey, 0.0)[:, -(count // 6) :], axis=1)
    slope = np.abs(np.where(keep, grey[:, -1] - grey[:, -(count // 6)], 0.0))
    rank = np.where(keep, outer + 2 * slope, np.inf)
    wanted = keep & (rank <= np.nanquantile(rank[keep], 0.5))
    if wanted.sum() < 40:
        return None
    reach = max(4.0, 1.2 / plate.pixel_mm)
    crop, first_x, first_y = plate.window((x, y), (radius + reach + 2) * plate.column_mm)
    column = np.arange(crop.shape[1]) + first_x - x
    row = (np.arange(crop.shape[0]) + first_y - y) * plate.row_mm / plate.column_mm
    distance = np.hypot(column[None, :], row[:, None]) - radius
    near = np.abs(distance) < reach
    turn = np.arctan2(row[:, None], column[None, :])[near] % (2 * np.pi)
    ray = np.rint(turn / (2 * np.pi) * 360).astype(np.intp) % 360
    of_ray = wanted[ray]
    at, value = distance[near][of_ray], crop[near][of_ray].astype(np.float64)
    # Attenuation adds up: a background that differs from ray to ray is taken off, where nothing is burnt out.
    burnt = value >= 0.99 * white
    if known is not None and absolute:
        value, outer = known.attenuation(value), known.attenuation(outer)
    ground = outer - np.median(outer[wanted])
    value = np.where(burnt, value, value - ground[ray[of_ray]])
    if absolute:
        value = np.exp(-value)
    bins = np.floor((at + reach) / BIN_PX).astype(np.intp)
    number = np.bincount(bins)
    full = number >= 4
    mean_at = np.bincount(bins, at)[full] / number[full]
    mean_value = np.bincount(bins, value)[full] / number[full]
    if known is None:
        return fitted_edge(mean_at, mean_value, white=white, power=USUAL_POWER)
    if not absolute:
        return fitted_edge(mean_at, mean_value, white=white, power=LINEAR_POWER)
    limits = (1.0, 0.0) if known.in_light else (np.exp(-known.low), np.exp(-known.high))
    return edge_in_light(mean_at, mean_value, brightest=float(limits[0]), darkest=float(limits[1]))
