# ruff: noqa: PLR0917, C901, PLR0912  a compiled loop is one function for speed
"""Compiled linear algebra for a handful of unknowns: growing Cholesky factor and Gaussian elimination."""

import numpy as np
from numba import njit
from numpy.typing import NDArray

Reals = NDArray[np.float64]
Whole = NDArray[np.int64]


@njit(cache=True, error_model="numpy")
def append_factor(factor: Reals, k: int, ccol: Reals, active: Whole, p: int, floor: float) -> None:
    """Append row p to the Cholesky factor of C on the active rows."""
    diagonal = ccol[p]
    for a in range(k):
        total = ccol[active[a]]
        for b in range(a):
            total -= factor[k, b] * factor[a, b]
        total /= factor[a, a]
        factor[k, a] = total
        diagonal -= total * total
    factor[k, k] = np.sqrt(max(diagonal, floor))


@njit(cache=True, error_model="numpy")
def solve_factor(factor: Reals, k: int, right: Reals) -> None:
    """Solve L L' x = right in place."""
    for a in range(k):
        total = right[a]
        for b in range(a):
            total -= factor[a, b] * right[b]
        right[a] = total / factor[a, a]
    for a in range(k - 1, -1, -1):
        total = right[a]
        for b in range(a + 1, k):
            total -= factor[b, a] * right[b]
        right[a] = total / factor[a, a]


@njit(cache=True, error_model="numpy")
def eliminate(matrix: Reals, right: Reals, n: int) -> bool:
    """Solve a small dense system in place, rows scaled, partial pivoting."""
    for i in range(n):
        big = 0.0
        for j in range(n):
            big = max(big, abs(matrix[i, j]))
        if big == 0.0:
            return False
        for j in range(n):
            matrix[i, j] /= big
        right[i] /= big
    for c in range(n):
        pivot = c
        for i in range(c + 1, n):
            if abs(matrix[i, c]) > abs(matrix[pivot, c]):
                pivot = i
        if matrix[pivot, c] == 0.0:
            return False
        if pivot != c:
            for j in range(c, n):
                matrix[c, j], matrix[pivot, j] = matrix[pivot, j], matrix[c, j]
            right[c], right[pivot] = right[pivot], right[c]
        for i in range(c + 1, n):
            ratio = matrix[i, c] / matrix[c, c]
            if ratio != 0.0:
                for j in range(c, n):
                    matrix[i, j] -= ratio * matrix[c, j]
                right[i] -= ratio * right[c]
    for i in range(n - 1, -1, -1):
        total = right[i]
        for j in range(i + 1, n):
            total -= matrix[i, j] * right[j]
        right[i] = total / matrix[i, i]
    return True
