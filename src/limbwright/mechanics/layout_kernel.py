# ruff: noqa: PLR0917  a compiled loop is one function for speed
"""Compiled loop over layouts of blocking screws and loads at one lengthening: flexibility is made once.

Same internal signs and units as `contact_kernel`.
"""

import numpy as np
from numba import njit

from limbwright.mechanics.axial_kernel import AXIAL_STATIONS, compressed_span, solve_rows
from limbwright.mechanics.contact_kernel import flexibility_pair
from limbwright.mechanics.dense_kernel import Reals, Whole
from limbwright.mechanics.restart_kernel import keep_fixed, workspace
from limbwright.mechanics.row_kernel import (
    AXIAL,
    OUT_STATUS,
    OUT_STEPS,
    SOFT_THICK,
    SOFT_THIN,
    STEP_DEPTH,
    TOO_WIDE,
    assemble,
    springs_and_load,
)
from limbwright.mechanics.variants_kernel import summarise


@njit(cache=True, error_model="numpy")
def solve_bounds(
    geometry: Reals, loads: Reals, entry_walls: Reals, moving_walls: Reals, stations: Whole, locks: Reals,
    blockers: Reals, blocker_depth: Reals, which: Whole, bound: Reals, force_limit: float,
    out: Reals, support: Reals,
) -> None:  # fmt: skip
    """One nail at one lengthening; per variant only loads and blocking screws change.

    which : (n, s) candidate screw in each slot, -1 for none. bound : (n, s) its clearance. [mm] support : (n,
    locks + s). Lengthening and new bone are those of the first variant for all; each variant starts
    from the contacts of the one before it.
    """
    n_wall, n_locks, slots = int(stations[0] + stations[1]) + 1, locks.shape[0], which.shape[1]
    fixed = n_wall + n_locks + 1
    whole = fixed + blockers.shape[0]
    z, kind, rows = np.zeros(whole), np.zeros(whole, np.int64), np.zeros((whole, 5))
    compliance, lo, hi = np.zeros(whole), np.zeros(whole), np.zeros(whole)
    bad = assemble(
        geometry, entry_walls, moving_walls, stations, locks, blockers, blocker_depth,
        np.zeros(blockers.shape[0]), z, kind, rows, compliance, lo, hi,
    )  # fmt: skip
    if 0 <= bad < fixed:
        out[:] = np.nan
        out[:, OUT_STATUS], out[:, OUT_STEPS] = TOO_WIDE, bad
        return
    spring, inverse, load, nail = np.zeros((5, 5)), np.zeros((5, 5)), np.zeros(5), np.zeros(3)
    springs_and_load(geometry, loads[0], spring, inverse, load)
    nail[0], nail[1], nail[2] = geometry[STEP_DEPTH], geometry[SOFT_THICK], geometry[SOFT_THIN]
    g = np.zeros((whole, whole))
    for p in range(whole):
        for i in range(p + 1):
            g[p, i] = flexibility_pair(z[i], kind[i], z[p], kind[p], nail[0], nail[1], nail[2])
            g[i, p] = g[p, i]
    c = g + rows @ (inverse @ rows.T.copy())
    for p in range(whole):
        c[p, p] += compliance[p]
    m = fixed + slots
    mz, mkind, mrows, source = z[:m].copy(), kind[:m].copy(), rows[:m].copy(), np.zeros(slots, np.int64)
    mcompliance, mlo, mhi, shift = compliance[:m].copy(), lo[:m].copy(), hi[:m].copy(), np.zeros(m)
    if whole < m:  # fewer candidates than slots
        mz, mkind, mrows = np.zeros(m), np.zeros(m, np.int64), np.zeros((m, 5))
        mcompliance, mlo, mhi = np.ones(m), np.zeros(m), np.zeros(m)
        mz[:whole], mkind[:whole], mrows[:whole] = z, kind, rows
        mcompliance[:whole], mlo[:whole], mhi[:whole] = compliance, lo, hi
    across = np.zeros((m, 2))
    across[:, 0] = 1.0
    space, bowed = workspace(m, 5), np.zeros((2, 2 * AXIAL_STATIONS))
    span = compressed_span(geometry, locks)
    spare, unused = np.zeros((5, 5)), np.zeros((5, 5))
    k = 0
    for v in range(loads.shape[0]):
        same = True
        for s in range(slots):
            same = same and v > 0 and which[v, s] == which[v - 1, s]
            i = fixed + s
            mlo[i], mhi[i] = -np.inf, np.inf
            if which[v, s] >= 0:
                r = fixed + which[v, s]
                source[s], mz[i], mcompliance[i] = r, z[r], compliance[r]
                for q in range(5):
                    mrows[i, q] = rows[r, q]
                if blockers[which[v, s], 1] > 0:
                    mhi[i] = hi[r] + bound[v, s]
                else:
                    mlo[i] = lo[r] - bound[v, s]
        springs_and_load(geometry, loads[v], spare, unused, load)
        if not same:
            k = keep_fixed(k, m, source, g, c, space)
        k, steps, mm, newton, settled = solve_rows(
            m, mz, mkind, across, nail, mrows, mcompliance, mlo, mhi, spring, inverse, load, loads[v, AXIAL],
            span, True, g, c, source, k, shift, bowed, space,
        )  # fmt: skip
        summarise(k, steps, mm, newton, settled, n_wall, n_locks, loads[v], mz, mkind, nail, force_limit,
                  bowed, space, out[v], support[v])  # fmt: skip
