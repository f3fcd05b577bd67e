"""Dynamic programming down a strip: the one compiled loop of the room; imported when used."""

import numpy as np
from numba import njit

from limbwright.film.tracing.plate import Image, Whole

FORBIDDEN = -5.0
"""Gain below which a place is not looked at."""


@njit(cache=True, nogil=True)
def best_path(gain: Image, reach: int, stiffness: float) -> Whole:
    """Column per row of the path with the largest gain less `stiffness` times each sideways step squared."""
    rows, columns = gain.shape
    came = np.zeros((rows, columns), dtype=np.int8)
    total = gain[0].copy()
    following = np.empty_like(total)
    for row in range(1, rows):
        for column in range(columns):
            own = gain[row, column]
            best, step = total[column], 0
            if own > FORBIDDEN:
                low, high = max(-reach, -column), min(reach, columns - 1 - column)
                for shift in range(low, high + 1):
                    value = total[column + shift] - stiffness * shift * shift
                    if value > best:
                        best, step = value, shift
            following[column] = best + own
            came[row, column] = step
        total, following = following, total
    path = np.empty(rows, dtype=np.intp)
    path[rows - 1] = np.argmax(total)
    for row in range(rows - 1, 0, -1):
        path[row - 1] = path[row] + came[row, path[row]]
    return path
