"""How the edge of something opaque looks on a film: where it really lies, and how far the film blurs it.

Behind the edge of a thick metal body the light falls as a blurred step. The film shows not light but
attenuation through a curve, so the steepest grey lies inside the true edge by about one blur width. The edge
is therefore fitted whole: light = step blurred by a Gaussian, grey = curve(-ln light). Where the film states
its curve, grey is turned back into light first, and the edge lies where half the light is left.
"""

from dataclasses import dataclass

import numpy as np

from limbwright.film.tracing.plate import Floats

USUAL_POWER = (0.9, 0.1)
"""Power of the curve of a film that does not state it, and its standard uncertainty: films are shown nearly
in proportion to attenuation, dark parts a little lifted; engineering judgement."""
LINEAR_POWER = (1.0, 0.02)
"""The same for a film that says that it is linear in attenuation."""
DEPTH = (4.5, 0.3)
"""Attenuation behind a metal ball above that beside it, which scattered light limits, and its relative
standard uncertainty; engineering judgement, as found on phantom films."""
RANGE = (5.0, 0.25)
"""Attenuation from black to white on a film, and its relative standard uncertainty: from air to the pelvis;
engineering judgement."""
VEIL = (0.03, 0.03)
"""Attenuation by which a background that is shown as black lies below black, and its standard uncertainty;
engineering judgement."""
SCATTER = 0.01
"""Scatter of a profile over the height of its edge, with the grid of pixels; as found on phantom films."""
PIXEL_GRID_PX = 0.04
"""Standard uncertainty of any edge from the grid of pixels; as found on phantom films. [px]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeSpread:
    """Fit of a blurred opaque edge."""

    edge_px: float
    """Where the true edge lies, along the direction of the profile [px]."""
    edge_sd_px: float
    """Its standard uncertainty from the scatter of the profile [px]."""
    blur_px: float
    """Standard deviation of the blur [px]."""
    blur_sd_px: float
    """Its standard uncertainty [px]."""
    misfit: float
    """Root mean square of what the fit leaves, over the height of the edge."""


def fitted_edge(
    distance_px: Floats, grey: Floats, *, white: float, power: tuple[float, float] = USUAL_POWER
) -> EdgeSpread | None:
    """Fit the profile of an opaque edge on a film that does not state its curve.

    Parameters
    ----------
    distance_px : (n,) float64
        Distance of each sample from a rough edge, from inside the metal outward +.
    grey : (n,) float64
        Grey values, bright inside.
    white : float
        Grey at which the film is burnt out.
    power : tuple of float
        Power of the curve as far as it is known, and its standard uncertainty.

    Notes
    -----
    Parameters: edge, blur, grey per unit of attenuation, attenuation of the background below black, depth and
    the curve's power. The curve is `grey = gain * attenuation ** power`, the background's grey fixed by the
    profile itself. One rim alone hardly tells the curve: what is known beforehand about power, range, depth
    and background is part of the fit, and its uncertainty part of the edge's.
    """
    from scipy.optimize import least_squares
    from scipy.special import ndtr

    order = np.argsort(distance_px)
    distance, value = distance_px[order], grey[order]
    outside = float(np.median(value[-max(8, len(value) // 6) :]))
    inside = float(np.median(value[: max(8, len(value) // 6)]))
    height = inside - outside
    if height <= 0:
        return None

    black = outside < 0.01 * height

    def model(p: Floats) -> Floats:
        edge, blur, gain, veil, depth, exponent = p
        light = np.exp(-depth) + (1.0 - np.exp(-depth)) * ndtr((distance - edge) / blur)
        darkness = -np.log(light)
        if black:
            # A background cut off at black stays black a little longer.
            lifted = np.clip(darkness - veil, 0.0, None) ** exponent
            return np.asarray(np.minimum(outside + height * gain * lifted, white))
        # Grey 0 is black: the background's own grey tells where on the curve it lies.
        ground = (outside / (height * gain)) ** (1.0 / exponent)
        return np.asarray(np.minimum(height * gain * (ground + darkness) ** exponent, white))

    def left(p: Floats) -> Floats:
        known = [
            (p[5] - power[0]) / power[1],
            (p[3] - VEIL[0]) / VEIL[1],
            np.log(p[4] / DEPTH[0]) / DEPTH[1],
            np.log((white / (height * p[2])) ** (1.0 / p[5]) / RANGE[0]) / RANGE[1],
        ]
        return np.concatenate([(model(p) - value) / (height * SCATTER), known])

    best = None
    for start in ((0.0, 0.7), (0.8, 0.8)):
        fit = least_squares(
            left,
            [*start, 0.25, VEIL[0], DEPTH[0], power[0]],
            bounds=([-4.0, 0.15, 0.02, -0.2, 0.7, 0.4], [4.0, 6.0, 3.0, 0.3, 14.0, 1.8]),
            x_scale=[0.2, 0.2, 0.1, 0.05, 1.0, 0.2],
            loss="soft_l1",
            f_scale=2.0,
            max_nfev=80,
        )
        if best is None or fit.cost < best.cost:
            best = fit
    assert best is not None
    return _spread(best.x, np.asarray(best.jac, dtype=np.float64), misfit=(model(best.x) - value) / height)


def edge_in_light(
    distance_px: Floats, light: Floats, *, brightest: float, darkest: float
) -> EdgeSpread | None:
    """Fit the profile of an opaque edge in light, for films that state their curve.

    Parameters
    ----------
    distance_px : (n,) float64
        Distance of each sample from a rough edge, outward +.
    light : (n,) float64
        Light, in any unit.
    brightest, darkest : float
        Light beyond which the film shows black and white, in the same unit.
    """
    from scipy.optimize import least_squares
    from scipy.special import ndtr

    order = np.argsort(distance_px)
    distance, value = distance_px[order], light[order]
    ends = max(8, len(value) // 6)
    outside, inside = float(np.median(value[-ends:])), float(np.median(value[:ends]))
    if outside <= inside:
        return None
    weight = 1.0 / (outside * SCATTER * np.sqrt(1.0 + 4.0 * np.clip(value / outside, 0.0, None)))

    def model(p: Floats) -> Floats:
        edge, blur, open_light, scattered = p
        light = scattered + open_light * ndtr((distance - edge) / blur)
        return np.asarray(np.clip(light, darkest, brightest))

    def left(p: Floats) -> Floats:
        return np.asarray((model(p) - value) * weight)

    fit = least_squares(
        left,
        [0.0, 0.8, outside - inside, inside],
        bounds=([-4.0, 0.15, 0.5 * (outside - inside), 0.0], [4.0, 6.0, 1.5 * outside, 0.9 * outside]),
        x_scale=[0.2, 0.2, 0.1 * outside, 0.01 * outside],
        loss="soft_l1",
        f_scale=2.0,
        max_nfev=80,
    )
    return _spread(
        fit.x, np.asarray(fit.jac, dtype=np.float64), misfit=(model(fit.x) - value) / (outside - inside)
    )


def _spread(found: Floats, jacobian: Floats, *, misfit: Floats) -> EdgeSpread:
    """Residuals come in standard deviations, so the inverse of the normal matrix is the covariance."""
    covariance = np.linalg.pinv(jacobian.T @ jacobian)
    return EdgeSpread(
        edge_px=float(found[0]),
        edge_sd_px=float(np.hypot(np.sqrt(covariance[0, 0]), PIXEL_GRID_PX)),
        blur_px=float(found[1]),
        blur_sd_px=float(np.sqrt(covariance[1, 1])),
        misfit=float(np.sqrt(np.mean(misfit**2))),
    )
