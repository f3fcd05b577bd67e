"""A circle through points that do not all lie on it."""

from dataclasses import dataclass

import numpy as np

from limbwright.film.tracing.plate import Floats


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class CircleFit:
    """A circle, how well it is held, and which points hold it."""

    x: float
    y: float
    radius: float
    covariance: Floats
    """Of x, y and radius, shape (3, 3), from the scatter of the points that hold it."""
    weight: Floats
    """Weight of each point, 0 to 1, shape (n,)."""
    scatter: float
    """Robust standard deviation of the distance of the points that hold it from the circle."""
    arc: float
    """Share of the full turn in which points hold it, 0 to 1."""


def fitted_circle(
    points: Floats, *, start: tuple[float, float, float], reach: float, least_scatter: float
) -> CircleFit | None:
    """Robust circle: geometric distance, Tukey's weights, from a start that is about right.

    Parameters
    ----------
    points : (n, 2) float64
        Any unit; all other lengths in the same.
    start : tuple of float
        x, y, radius.
    reach : float
        Points further than this from the circle are left out at the start.
    least_scatter : float
        Scatter below which points are never left out.

    Returns
    -------
    CircleFit or None
        None where fewer than eight points are within reach.
    """
    x, y, radius = start
    limit = reach
    weight = np.zeros(len(points))
    for _ in range(30):
        across, down = points[:, 0] - x, points[:, 1] - y
        distance = np.hypot(across, down)
        error = distance - radius
        weight = np.clip(1.0 - (error / limit) ** 2, 0.0, None) ** 2
        if (weight > 0).sum() < 8:
            return None
        design = np.stack([across / distance, down / distance, np.ones_like(distance)], axis=1)
        normal = design.T @ (weight[:, None] * design)
        step = np.linalg.lstsq(normal, design.T @ (weight * error), rcond=None)[0]
        x, y, radius = x + step[0], y + step[1], radius + step[2]
        spread = 1.4826 * float(np.median(np.abs(error[weight > 0] - np.median(error[weight > 0]))))
        settled = abs(step).max() < 1e-4 * reach
        following = max(4.685 * max(spread, least_scatter), 0.35 * limit)
        if settled and following >= 0.999 * limit:
            break
        limit = min(limit, following)
    error = np.hypot(points[:, 0] - x, points[:, 1] - y) - radius
    holds = weight > 0.1
    if holds.sum() < 8:
        return None
    scatter = 1.4826 * float(np.median(np.abs(error[holds] - np.median(error[holds]))))
    angle = np.arctan2(points[holds, 1] - y, points[holds, 0] - x)
    arc = len(np.unique(np.floor((angle + np.pi) / (2 * np.pi) * 72).clip(0, 71))) / 72
    design = np.stack([np.cos(angle), np.sin(angle), np.ones_like(angle)], axis=1)
    normal = design.T @ design
    variance = max(scatter, 0.3 * least_scatter) ** 2
    covariance = variance * np.linalg.pinv(normal)
    return CircleFit(
        x=float(x),
        y=float(y),
        radius=float(radius),
        covariance=covariance,
        weight=weight,
        scatter=scatter,
        arc=float(arc),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Vote:
    """A circle that many steep places point to. [px]"""

    x: float
    y: float
    radius: float
    support: float
    """Share of its circumference that voted for it."""


def voted_circles(
    slope_x: Floats,
    slope_y: Floats,
    *,
    radii: tuple[float, float],
    middle: tuple[float, float],
    reach: float,
    share: float,
    most: int = 1,
) -> tuple[Vote, ...]:
    """Circles, bright inside, that most steep places point to (Hough transform with the slope's direction).

    Parameters
    ----------
    slope_x, slope_y : (rows, columns) float
        Slope of the grey values per pixel.
    radii : tuple of float
        Smallest and largest radius. [px]
    middle : tuple of float
        Where the centre is expected, column and row. [px]
    reach : float
        Largest distance of the centre from there. [px]
    share : float
        Share of the pixels, the steepest ones, that vote.
    most : int
        How many circles to return, of clearly different radius or place, best first.
    """
    from scipy.ndimage import gaussian_filter

    size = np.hypot(slope_x, slope_y)
    limit = np.quantile(size, 1.0 - share)
    row, column = np.nonzero(size >= max(float(limit), 1e-12))
    ux = slope_x[row, column] / size[row, column]
    uy = slope_y[row, column] / size[row, column]
    bins = 2 * int(np.ceil(reach)) + 1
    found: list[tuple[float, Vote]] = []
    for radius in np.arange(radii[0], radii[1] + 0.5, max(1.0, 0.02 * radii[0])):
        at_x = np.rint(column + radius * ux - middle[0] + reach).astype(np.intp)
        at_y = np.rint(row + radius * uy - middle[1] + reach).astype(np.intp)
        ok = (at_x >= 0) & (at_x < bins) & (at_y >= 0) & (at_y < bins)
        votes = np.bincount(at_y[ok] * bins + at_x[ok], minlength=bins * bins).reshape(bins, bins)
        smooth = gaussian_filter(votes.astype(np.float32), 1.0 + 0.015 * radius) / radius
        top = int(smooth.argmax())
        height = float(smooth.flat[top])
        found.append(
            (
                height,
                Vote(
                    x=top % bins - reach + middle[0],
                    y=top // bins - reach + middle[1],
                    radius=float(radius),
                    support=height * (1.0 + 0.015 * float(radius)) ** 2,
                ),
            )
        )
    chosen: list[Vote] = []
    for _, vote in sorted(found, key=lambda pair: -pair[0]):
        apart = all(
            abs(vote.radius - other.radius) > 0.08 * other.radius
            or np.hypot(vote.x - other.x, vote.y - other.y) > 0.1 * other.radius
            for other in chosen
        )
        if apart:
            chosen.append(vote)
        if len(chosen) == most:
            break
    return tuple(chosen)
