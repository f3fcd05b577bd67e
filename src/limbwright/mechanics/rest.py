"""Where new bone is at rest: it remembers the places in which it was laid down."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Reals = NDArray[np.float64]


def rest_after(
    *, stiffness_before: ArrayLike, rest_before: ArrayLike, stiffness_now: ArrayLike, place_before: ArrayLike
) -> Reals:
    """Where new bone is free of load now, when what was added has been laid down in the place of before.

    Notes
    -----
    k_now rest_now = k_before rest_before + (k_now - k_before) place_before. Bone does not pull back to a
    reduction it was never laid down in: it holds the drift that had come by then. Where it has not
    stiffened, or has softened, the rest position stays. All arguments broadcast; a place that is NaN counts
    as the reduction.
    """
    k0, k1 = np.asarray(stiffness_before, dtype=np.float64), np.asarray(stiffness_now, dtype=np.float64)
    rest, place = np.asarray(rest_before, dtype=np.float64), np.nan_to_num(np.asarray(place_before))
    grown = np.maximum(k1 - k0, 0.0)
    total = np.where(k1 > k0, k1, np.maximum(k0, 1e-300))
    return np.where(k1 > k0, (k0 * rest + grown * place) / total, rest)
