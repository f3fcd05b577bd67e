"""Smooth paths down a strip by dynamic programming, several at once, and the spot between columns."""

import numpy as np

from limbwright.film.tracing.plate import Floats, Image, Whole


def smooth_paths(gain: Image, *, reach: int, stiffness: float) -> Whole:
    """Columns of the paths with the largest total gain less a cost for every sideways step.

    Parameters
    ----------
    gain : (k, n, m) float32
        Gain of k independent problems with n rows and m columns; -inf is not allowed, use a large negative.
    reach : int
        Largest sideways step between neighbouring rows, columns.
    stiffness : float
        Cost of one sideways step squared, in units of gain.

    Returns
    -------
    (k, n) int
        One column per row.
    """
    from limbwright.film.tracing.path_kernel import best_path

    return np.stack([best_path(np.ascontiguousarray(one), reach, stiffness) for one in gain])


def between_columns(gain: Image, path: Whole, *, reach: int = 2) -> tuple[Floats, Floats]:
    """Highest gain near a path, by a parabola through three columns.

    Parameters
    ----------
    gain : (n, m) float32
        Gain of one problem.
    path : (n,) int
        A column per row.
    reach : int
        How far the highest column may lie from the path.

    Returns
    -------
    column, height : (n,) float64
        Fractional column and the gain there.
    """
    rows, columns = gain.shape
    near = np.clip(path[:, None] + np.arange(-reach, reach + 1), 1, columns - 2)
    row = np.arange(rows)
    peak = near[row, np.take_along_axis(gain, near, axis=1).argmax(axis=1)]
    left, middle, right = (gain[row, peak + k].astype(np.float64) for k in (-1, 0, 1))
    bend = left - 2.0 * middle + right
    shift = np.where(bend < 0, 0.5 * (left - right) / np.where(bend < 0, bend, -1.0), 0.0)
    shift = np.clip(shift, -1.0, 1.0)
    return peak + shift, middle - 0.25 * (left - right) * shift
