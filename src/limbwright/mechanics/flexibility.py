"""Exact flexibility of a two-segment beam clamped at depth 0, condensed to the places that may be touched."""

import numpy as np
from numpy.typing import NDArray

Reals = NDArray[np.float64]
Whole = NDArray[np.int64]

VALUE, SLOPE = 0, 1


def flexibility(
    depth_mm: Reals,
    kind: Whole,
    load_depth_mm: Reals,
    load_kind: Whole,
    *,
    step_depth_mm: float,
    thick_softness: float,
    thin_softness: float,
) -> Reals:
    """Offset (kind 0) or slope (kind 1) of the beam per unit force (0) or couple (1).

    Parameters
    ----------
    depth_mm, kind : (n,) arrays
        Where the answer is wanted, and whether as an offset or a slope.
    load_depth_mm, load_kind : (m,) arrays
        Where a unit force [N] or couple [N mm] acts.
    step_depth_mm : float
        Depth of the step from the thick to the thin segment.
    thick_softness, thin_softness : float
        1/EI of the two segments. [1/(N mm^2)]

    Returns
    -------
    (n, m) array
        mm/N, rad/N, mm/(N mm) or rad/(N mm).

    Notes
    -----
    Unit load theorem, G_ij = integral over 0 .. min(z_i, z_j) of m_i m_j / EI ds, with m = z - s for a force
    and 1 for a couple. Each integrand is a polynomial on each segment, so the result is exact.
    """
    z1, z2 = (
        np.asarray(depth_mm, dtype=np.float64)[:, None],
        np.asarray(load_depth_mm, dtype=np.float64)[None, :],
    )
    k1, k2 = np.asarray(kind)[:, None], np.asarray(load_kind)[None, :]
    end = np.minimum(z1, z2)
    total = np.zeros(end.shape)
    for start, stop, softness in (
        (0.0, np.minimum(end, step_depth_mm), thick_softness),
        (step_depth_mm, np.maximum(end, step_depth_mm), thin_softness),
    ):
        length = stop - start
        p, q = z1 - start, z2 - start
        value = length * (p * q - 0.5 * (p + q) * length + length**2 / 3.0)
        mixed = length * (np.where(k1 == VALUE, p, q) - 0.5 * length)
        both = np.where((k1 == VALUE) & (k2 == VALUE), value, np.where(k1 == k2, length, mixed))
        total += softness * both
    return np.asarray(total)
