# ruff: noqa: PLR0917  a compiled loop is one function for speed
"""Compiled workspace of the contact solver, and how a solve starts from the contacts of the one before it."""

from typing import Any

import numpy as np
from numba import njit

from limbwright.mechanics.dense_kernel import Reals, Whole, append_factor, solve_factor

MAX_ACTIVE = 64


@njit(cache=True, error_model="numpy")
def workspace(m: int, nq: int) -> Any:
    """Arrays that `solve_contact` writes into; made once for a whole batch."""
    cap = min(m, MAX_ACTIVE) + 1
    return (
        np.zeros(m),
        np.zeros(nq),
        np.zeros(cap),
        np.zeros(cap),
        np.zeros(cap, np.int64),
        np.zeros(cap),
        np.zeros(cap, np.int64),
        np.zeros(cap, np.int64),
        np.empty((cap, cap)),
        np.empty((cap, m)),
        np.empty((cap, m)),
        np.zeros(m, np.int64),
        np.zeros(cap),
    )


@njit(cache=True, error_model="numpy")
def start_from(
    k: int,
    compliance: Reals,
    lo: Reals,
    hi: Reals,
    y: Reals,
    force: Reals,
    multiplier: Reals,
    active: Whole,
    sign: Reals,
    slot: Whole,
    free: Whole,
    n_free: int,
    factor: Reals,
    ccols: Reals,
    inside: Whole,
) -> int:
    """Forces on rows kept from before; rows that would pull are let go until none does."""
    while k > 0:
        for a in range(k):
            append_factor(factor, a, ccols[slot[a]], active, active[a], 0.5 * compliance[active[a]])
            i = active[a]
            force[a] = y[i] - (hi[i] if sign[a] > 0 else lo[i])
            if not np.isfinite(force[a]):  # that bound is gone
                force[a] = -sign[a] * np.inf
        for a in range(k):
            if not np.isfinite(force[a]):
                break
        else:
            solve_factor(factor, k, force)
        kept = 0
        for a in range(k):
            if sign[a] * force[a] >= 0.0:
                active[kept], sign[kept], slot[kept], force[kept] = active[a], sign[a], slot[a], force[a]
                kept += 1
            else:
                free[n_free] = slot[a]
                n_free += 1
        if kept == k:
            break
        k = kept
    for a in range(k):
        multiplier[a] = abs(force[a])
        inside[active[a]] = 1
    return k


@njit(cache=True, error_model="numpy")
def keep_fixed(k: int, m: int, source: Whole, g_dense: Reals, c_dense: Reals, space: Any) -> int:
    """Before the last rows become the rows `source`: let them go, and bring the other columns up to date."""
    active, sign, slot, gcols, ccols = space[4], space[5], space[6], space[9], space[10]
    fixed, kept = m - source.shape[0], 0
    for a in range(k):
        if active[a] < fixed:
            active[kept], sign[kept], slot[kept] = active[a], sign[a], slot[a]
            for e in range(source.shape[0]):
                gcols[slot[kept], fixed + e] = g_dense[active[kept], source[e]]
                ccols[slot[kept], fixed + e] = c_dense[active[kept], source[e]]
            kept += 1
    return kept
