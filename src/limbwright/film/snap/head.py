"""Femoral head from a rough click: the circle that its outline lies on."""

from dataclasses import dataclass

import numpy as np

from limbwright.error import Refused
from limbwright.film.film import Mark, Provenance
from limbwright.film.snap.circle import CircleFit, fitted_circle, voted_circles
from limbwright.film.snap.tip import OUTWARD
from limbwright.film.tracing.path import between_columns, smooth_paths
from limbwright.film.tracing.plate import Floats, Plate, Point

RADIUS_MM = (13.0, 34.0)
"""Radii of heads of children and adults on a film; engineering judgement. [mm]"""
CLICK_REACH_MM = 7.0
FILTER_MM = 0.5
LEAST_SUPPORT = 0.3
CLEAR_FROM = 2.35
"""Slope along the outline over the usual slope around it, below which there is no outline; engineering
judgement."""
RAYS = 240
MOST_CANDIDATES = 9
PLAIN_SUPPORT = 0.5
"""Support from which no further candidate is looked at; engineering judgement."""
ROUND_WITHIN_MM = 0.4
"""Scatter of an outline about its circle that makes it a poor one: the head is a ball, while socket, neck and
trochanter together are round only roughly; engineering judgement, as found on phantom films. [mm]"""
FOUND_SD_MM = 0.06
"""Standard uncertainty of each coordinate of the centre beyond the fit's own; engineering judgement, as found
on phantom films. [mm]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundHead:
    """Circle of a femoral head."""

    x_px: float
    """Column of its centre [px]."""
    y_px: float
    """Row of its centre [px]."""
    radius_mm: float
    """Radius in the plate's millimetres."""
    centre_sd_mm: float
    """Standard uncertainty of each coordinate of the centre."""
    support: float
    """Share of the outline that lies on the circle, less for scatter about it, 0 to 1."""

    def mark(self, *, column_mm: float) -> Mark:
        """The centre as a case keeps it, snapped."""
        return Mark(
            x_px=self.x_px,
            y_px=self.y_px,
            sd_px=self.centre_sd_mm / column_mm,
            provenance=Provenance.SNAPPED,
        )


def find_head(plate: Plate, click_px: Point, *, blur_mm: float = 0.1) -> FoundHead:
    """Find the femoral head that a rough click means.

    Parameters
    ----------
    plate : Plate
        The film.
    click_px : tuple of float
        Column and row, up to 6 mm from the centre.
    blur_mm : float
        Blur of the film. [plate mm]

    Raises
    ------
    Refused
        Where no round outline is clear enough: mark three points of it instead.

    Notes
    -----
    Votes of the slopes give a few rough circles; the outline is followed around each as a smooth path of
    steepest grey, and a circle is fitted by Tukey's weights, which leave out neck, fovea and acetabulum. The
    roundest outline is taken.
    """
    from scipy.ndimage import gaussian_filter

    plate.require_on_film((click_px,))
    crop, first_x, first_y = plate.window(click_px, RADIUS_MM[1] + CLICK_REACH_MM + 3.0)
    bin_px = max(1, round(0.45 / plate.pixel_mm))
    rows, columns = (size // bin_px * bin_px for size in crop.shape)
    small = crop[:rows, :columns].reshape(rows // bin_px, bin_px, columns // bin_px, bin_px).mean(axis=(1, 3))
    # What changes slowly over the film (muscle, heel effect) must not vote.
    small = gaussian_filter(small, 1.0) - gaussian_filter(small, 12.0)
    down, over = np.gradient(small)
    scale = bin_px * plate.pixel_mm
    votes = voted_circles(
        over,
        down,
        radii=(RADIUS_MM[0] / scale, RADIUS_MM[1] / scale),
        middle=((click_px[0] - first_x) / bin_px, (click_px[1] - first_y) / bin_px),
        reach=CLICK_REACH_MM / scale,
        share=0.12,
        most=MOST_CANDIDATES,
    )
    shift = 0.5 * (bin_px - 1)
    best: _Outline | None = None
    for vote in votes:
        start = np.array(
            [
                (vote.x * bin_px + shift + first_x) * plate.column_mm,
                (vote.y * bin_px + shift + first_y) * plate.row_mm,
            ]
        )
        outline = _outline(plate, start, vote.radius * scale)
        if outline is not None and (best is None or outline.support > best.support):
            best = outline
        if best is not None and best.support > PLAIN_SUPPORT:
            break
    if best is None or best.support < LEAST_SUPPORT:
        raise Refused(
            f"the roundest outline there has a support of {0.0 if best is None else best.support:.2f}, "
            f"{LEAST_SUPPORT:g} is needed.",
            where=f"femoral head near {click_px[0]:.0f}, {click_px[1]:.0f} px",
            next_step="Click nearer to its centre, or mark three points of its outline.",
        )
    centre, size, fit = best.centre_mm, best.radius_mm, best.fit
    sigma = float(np.hypot(FILTER_MM, blur_mm))
    # Neighbouring rays are alike over some 3 mm of outline.
    alone = max(1.0, 3.0 / (2 * np.pi * size / RAYS))
    sd = float(np.sqrt(0.5 * (fit.covariance[0, 0] + fit.covariance[1, 1]) * alone))
    found = plate.px(centre[None])[0]
    return FoundHead(
        x_px=float(found[0]),
        y_px=float(found[1]),
        radius_mm=float(size + OUTWARD * sigma),
        centre_sd_mm=float(np.hypot(sd, FOUND_SD_MM)),
        support=best.support,
    )


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class _Outline:
    """An outline followed around one candidate."""

    centre_mm: Floats
    radius_mm: float
    fit: CircleFit
    support: float


def _outline(plate: Plate, centre: Floats, size: float) -> _Outline | None:
    """Follow the outline around a rough circle and fit a circle to it. Lengths in plate millimetres."""
    from scipy.ndimage import gaussian_filter1d, uniform_filter1d

    fit: CircleFit | None = None
    clear = 0.0
    turn = np.linspace(0.0, 2.0 * np.pi, RAYS, endpoint=False)
    step = max(0.15, plate.pixel_mm)
    for reach in (4.0, 2.5):
        distance = np.arange(size - reach - 1.5, size + reach + 1.5, step)
        at_x = centre[0] + distance[None, :] * np.cos(turn)[:, None]
        at_y = centre[1] + distance[None, :] * np.sin(turn)[:, None]
        grey, usable = plate.sampled(at_x, at_y)
        grey = uniform_filter1d(grey, 5, axis=0, mode="wrap")
        slope = -gaussian_filter1d(grey, FILTER_MM / step, axis=1, order=1, mode="nearest") / step
        slope = np.where(usable, slope, 0.0).astype(np.float32)
        typical = max(float(np.quantile(slope.max(axis=1), 0.6)), 1e-9)
        gain = np.clip(slope / np.float32(typical), 0.0, 1.2)
        gain[:, np.abs(distance - size) > reach] = -5.0
        # Around the circle and a quarter further, so that the path closes on itself.
        quarter = RAYS // 4
        around = np.concatenate([gain, gain[:quarter]])
        half = quarter // 2
        path = smooth_paths(around[None], reach=2, stiffness=0.05)[0][half : half + RAYS]
        order = np.concatenate([np.arange(half, RAYS), np.arange(half)])
        column, height = between_columns(slope[order], path)
        radii = distance[0] + column * step
        seen = height > 0.35 * typical
        clear = float(np.median(height)) / (float(np.median(np.abs(slope))) + 1e-9)
        angle = turn[order]
        points = np.stack([radii * np.cos(angle), radii * np.sin(angle)], axis=1)[seen]
        fit = fitted_circle(points, start=(0.0, 0.0, size), reach=reach, least_scatter=0.1)
        if fit is None:
            return None
        centre = centre + np.array([fit.x, fit.y])
        size = fit.radius
    assert fit is not None
    return _Outline(
        centre_mm=centre,
        radius_mm=size,
        fit=fit,
        # In mere noise a path is some three times as steep as its surroundings, and looks round by itself.
        support=float(
            fit.arc * np.exp(-fit.scatter / ROUND_WITHIN_MM) * np.clip((clear - CLEAR_FROM) / 0.5, 0.0, 1.0)
        ),
    )
