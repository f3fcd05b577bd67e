"""How the edge of something opaque looks on a film: where it really lies, and how far the film blurs it.

Behind the edge of a thick metal body the light falls as a blurred step. The film shows not light but
attenuation through a curve, so the steepest grey lies inside the true edge by about one blur width. The edge
is therefore fitted whole: light = step blurred by a Gaussian, grey = curve(-ln light).
"""

from dataclasses import dataclass

import numpy as np

from limbwright.film.tracing.plate import Floats


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


def fitted_edge(distance_px: Floats, grey: Floats, *, white: float) -> EdgeSpread | None:
    """Fit the profile of an opaque edge; distance rises from inside the metal outward.

    Parameters
    ----------
    distance_px : (n,) float64
        Distance of each sample from a rough edge, outward +.
    grey : (n,) float64
        Grey values, bright inside.
    white : float
        Grey at which the film is burnt out.

    Notes
    -----
    Parameters: edge, blur, grey outside, grey per unit of attenuation, light inside over light outside,
    and the
    curve's power. The curve is `grey = gain * (attenuation + veil) ** power` with the background's grey
    fixed by
    the profile itself.
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
        edge, blur, gain, veil, depth, power = p
        light = np.exp(-depth) + (1.0 - np.exp(-depth)) * ndtr((distance - edge) / blur)
        darkness = -np.log(light)
        if black:
            # A background cut off at black stays black a little longer.
            lifted = np.clip(darkness + veil, 0.0, None) ** power - max(veil, 0.0) ** power
            return np.asarray(np.minimum(outside + height * gain * lifted, white))
        # Grey 0 is black: the background's own grey tells where on the curve it lies.
        ground = (outside / (height * gain)) ** (1.0 / power)
        return np.asarray(np.minimum(height * gain * (ground + darkness) ** power, white))

    def left(p: Floats) -> Floats:
        # The curve is nearly a straight line on most films: held there loosely where the edge cannot tell.
        held = [0.03 * (p[5] - 0.9), 0.02 * p[3]]
        return np.asarray(np.concatenate([(model(p) - value) / height, held]), dtype=np.float64)

    best = None
    for start in ((0.0, 0.7), (0.8, 0.8)):
        fit = least_squares(
            left,
            [start[0], start[1], 0.25, 0.2, 4.0, 0.9],
            bounds=([-4.0, 0.15, 0.02, -0.4, 0.7, 0.5], [4.0, 6.0, 3.0, 2.0, 14.0, 1.6]),
            loss="soft_l1",
            f_scale=0.02,
            max_nfev=80,
        )
        if best is None or fit.cost < best.cost:
            best = fit
    assert best is not None
    remaining = model(best.x) - value
    noise = float(np.sqrt(np.mean((remaining / height) ** 2)))
    jacobian = np.asarray(best.jac, dtype=np.float64)
    covariance = np.linalg.pinv(jacobian.T @ jacobian) * max(noise, 1e-4) ** 2
    return EdgeSpread(
        edge_px=float(best.x[0]),
        edge_sd_px=float(np.sqrt(covariance[0, 0])),
        blur_px=float(best.x[1]),
        blur_sd_px=float(np.sqrt(covariance[1, 1])),
        misfit=noise,
    )
