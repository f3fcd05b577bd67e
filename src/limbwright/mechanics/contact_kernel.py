# ruff: noqa: PLR0917, PLR1714, C901, PLR0912, PLR0915  a compiled loop is one function for speed
"""Compiled core: frictionless contact of an elastic nail as a small quadratic program.

Only the modules named `..._kernel` import numba; they are loaded at the first solve.
Internal signs: offset x lateral/anterior +, depth z distal +, slope dx/dz. Units mm, N, rad, N mm.

Row i is a possible contact. Its relative displacement is y = R q - (G + c) f + shift, with the free motions
q, the flexibility G of the nail clamped at depth 0, the compliance c of the support and the force f, positive
at the upper bound. Equilibrium: R' f + K q = load. The weak springs K make C = G + R K^-1 R' + c positive
definite, so that the dual active set method of Goldfarb & Idnani (1983) applies; the saddle system solved at
the end on the active rows takes their bad conditioning out again.
"""

from typing import Any

import numpy as np
from numba import njit

from limbwright.mechanics.dense_kernel import Reals, Whole, append_factor, eliminate, solve_factor
from limbwright.mechanics.restart_kernel import start_from

VALUE, SLOPE, JUMP = 0, 1, 2
SLOPE_WEIGHT_MM = 50.0  # a slope violation of 1 rad counts like 50 mm when the worst row is sought
VIOLATION_MM = 1e-9
PROVED_MM = 1e-7
PROVED_N = 1e-5
MAX_STEPS = 400
REPAIRS = 60


@njit(cache=True, error_model="numpy")
def flexibility_pair(
    z1: float, kind1: int, z2: float, kind2: int, z_step: float, soft1: float, soft2: float
) -> float:
    """Displacement (or slope) at row 1 per unit force (or couple) at row 2; nail clamped at depth 0.

    soft1, soft2 are 1/EI of the thick and the thin segment, z_step the depth of the step between them.
    """
    if kind1 == JUMP or kind2 == JUMP:
        return 0.0
    end = min(z1, z2)
    b = min(end, z_step)
    if kind1 == VALUE and kind2 == VALUE:
        total = soft1 * b * (z1 * z2 - 0.5 * (z1 + z2) * b + b * b / 3.0)
        if end > z_step:
            s1, s2, length = z1 - z_step, z2 - z_step, end - z_step
            total += soft2 * length * (s1 * s2 - 0.5 * (s1 + s2) * length + length * length / 3.0)
        return total
    if kind1 == SLOPE and kind2 == SLOPE:
        return soft1 * b + soft2 * max(0.0, end - z_step)
    arm = z1 if kind1 == VALUE else z2
    total = soft1 * b * (arm - 0.5 * b)
    if end > z_step:
        length = end - z_step
        total += soft2 * length * (arm - z_step - 0.5 * length)
    return total


@njit(cache=True, error_model="numpy")
def fill_columns(
    p: int,
    m: int,
    z: Reals,
    kind: Whole,
    across: Reals,
    nail: Reals,
    rows: Reals,
    compliance: Reals,
    spring_inverse: Reals,
    gcol: Reals,
    ccol: Reals,
) -> None:
    """Column p of G and of C; `across` holds the direction cosines of every row in both planes."""
    nq = rows.shape[1]
    z_step, soft1, soft2 = nail[0], nail[1], nail[2]
    t = np.zeros(nq)
    for a in range(nq):
        total = 0.0
        for b in range(nq):
            total += spring_inverse[a, b] * rows[p, b]
        t[a] = total
    zp, kp, cx, cy = z[p], kind[p], across[p, 0], across[p, 1]
    for i in range(m):
        along = cx * across[i, 0] + cy * across[i, 1]
        g = along * flexibility_pair(z[i], kind[i], zp, kp, z_step, soft1, soft2)
        gcol[i] = g
        total = g
        for a in range(nq):
            total += rows[i, a] * t[a]
        ccol[i] = total
    ccol[p] += compliance[p]


@njit(cache=True, error_model="numpy")
def polish(
    k: int,
    active: Whole,
    sign: Reals,
    slot: Whole,
    gcols: Reals,
    rows: Reals,
    compliance: Reals,
    lo: Reals,
    hi: Reals,
    spring: Reals,
    load: Reals,
    shift: Reals,
    q: Reals,
    force: Reals,
) -> bool:
    """Forces and free motions with the active rows held exactly at their bounds."""
    nq = rows.shape[1]
    n = k + nq
    matrix = np.zeros((n, n))
    right = np.zeros(n)
    for a in range(k):
        i = active[a]
        for b in range(k):
            matrix[a, b] = -gcols[slot[b], i]
        matrix[a, a] -= compliance[i]
        for c in range(nq):
            matrix[a, k + c] = rows[i, c]
            matrix[k + c, a] = rows[i, c]
        right[a] = (hi[i] if sign[a] > 0 else lo[i]) - shift[i]
    for c in range(nq):
        for e in range(nq):
            matrix[k + c, k + e] = spring[c, e]
        right[k + c] = load[c]
    good = eliminate(matrix, right, n)
    for a in range(k):
        force[a] = right[a]
    for c in range(nq):
        q[c] = right[k + c]
    return good


@njit(cache=True, error_model="numpy")
def displacements(
    m: int,
    k: int,
    active: Whole,
    slot: Whole,
    gcols: Reals,
    rows: Reals,
    compliance: Reals,
    shift: Reals,
    q: Reals,
    force: Reals,
    y: Reals,
) -> None:
    """Relative displacement of every row under the given forces and motions."""
    nq = rows.shape[1]
    for i in range(m):
        total = shift[i]
        for c in range(nq):
            total += rows[i, c] * q[c]
        y[i] = total
    for a in range(k):
        f, s = force[a], slot[a]
        for i in range(m):
            y[i] -= gcols[s, i] * f
        y[active[a]] -= compliance[active[a]] * f


@njit(cache=True, error_model="numpy")
def residuals(
    m: int,
    k: int,
    active: Whole,
    sign: Reals,
    kind: Whole,
    lo: Reals,
    hi: Reals,
    y: Reals,
    force: Reals,
) -> tuple[float, int, float, int]:
    """Worst bound violation [mm] and its row (+1, signed by bound), worst pulling force [N] and its place."""
    worst, where = 0.0, 0
    for i in range(m):
        weight = 1.0 if kind[i] == VALUE else SLOPE_WEIGHT_MM
        over, under = (y[i] - hi[i]) * weight, (lo[i] - y[i]) * weight
        if over > worst:
            worst, where = over, i + 1
        if under > worst:
            worst, where = under, -(i + 1)
    pull, place = 0.0, -1
    for a in range(k):
        wrong = -sign[a] * force[a]
        if kind[active[a]] != VALUE:
            wrong /= SLOPE_WEIGHT_MM
        if wrong > pull:
            pull, place = wrong, a
    return worst, where, pull, place


@njit(cache=True, error_model="numpy")
def solve_contact(
    m: int,
    z: Reals,
    kind: Whole,
    across: Reals,
    nail: Reals,
    rows: Reals,
    compliance: Reals,
    lo: Reals,
    hi: Reals,
    spring: Reals,
    spring_inverse: Reals,
    load: Reals,
    shift: Reals,
    dense: bool,
    g_dense: Reals,
    c_dense: Reals,
    source: Whole,
    space: Any,
    count: int,
) -> tuple[int, int, float, float]:
    """Solve one contact problem.

    Parameters
    ----------
    dense, g_dense, c_dense, source
        Flexibility made beforehand for a larger set of rows; the last rows here are its rows `source`.
    count : int
        Number of active rows kept in `space` from a solve of the same rows, to start from; 0 starts afresh.

    Returns
    -------
    tuple
        Active rows, steps taken, residual [mm] (bounds), residual [N] (pulling contact).
    """
    y, q, force, multiplier, active, sign, slot, free, factor, gcols, ccols, inside, right = space
    nq = rows.shape[1]
    k, steps, cap = count, 0, slot.shape[0] - 1
    n_free = 0
    for e in range(cap, -1, -1):
        used = False
        for a in range(k):
            used = used or slot[a] == e
        if not used:
            free[n_free] = e
            n_free += 1
    start = np.zeros(nq)
    for a in range(nq):
        for b in range(nq):
            start[a] += spring_inverse[a, b] * load[b]
    for i in range(m):
        inside[i] = 0
        total = shift[i]
        for a in range(nq):
            total += rows[i, a] * start[a]
        y[i] = total
    k = start_from(
        k, compliance, lo, hi, y, force, multiplier, active, sign, slot, free, n_free, factor, ccols, inside
    )
    n_free = cap + 1 - k
    for a in range(k):
        for i in range(m):
            y[i] -= force[a] * ccols[slot[a], i]
    while steps < MAX_STEPS and k < cap:
        worst, p, s = VIOLATION_MM, -1, 1.0
        for i in range(m):
            if inside[i] == 0:
                weight = 1.0 if kind[i] == VALUE else SLOPE_WEIGHT_MM
                over, under = (y[i] - hi[i]) * weight, (lo[i] - y[i]) * weight
                if over > worst:
                    worst, p, s = over, i, 1.0
                if under > worst:
                    worst, p, s = under, i, -1.0
        if p < 0:
            break
        n_free -= 1
        new = free[n_free]
        if dense:
            fixed, at = m - source.shape[0], p
            if p >= fixed:
                at = source[p - fixed]
            gcols[new, :fixed] = g_dense[at, :fixed]
            ccols[new, :fixed] = c_dense[at, :fixed]
            for e in range(source.shape[0]):
                gcols[new, fixed + e] = g_dense[at, source[e]]
                ccols[new, fixed + e] = c_dense[at, source[e]]
        else:
            fill_columns(
                p, m, z, kind, across, nail, rows, compliance, spring_inverse, gcols[new], ccols[new]
            )
        bound = hi[p] if s > 0 else lo[p]
        pushed = 0.0
        while steps < MAX_STEPS:
            steps += 1
            for a in range(k):
                right[a] = ccols[new, active[a]]
            solve_factor(factor, k, right)
            curvature = ccols[new, p]
            for a in range(k):
                curvature -= ccols[new, active[a]] * right[a]
            curvature = max(curvature, 0.5 * compliance[p])
            length = max(s * (y[p] - bound), 0.0) / curvature
            leaving = -1
            for a in range(k):
                fall = sign[a] * s * right[a]
                if fall > 0.0 and multiplier[a] < length * fall:
                    length, leaving = multiplier[a] / fall, a
            pushed += length
            for i in range(m):
                y[i] -= length * s * ccols[new, i]
            for a in range(k):
                change = length * s * right[a]
                multiplier[a] -= sign[a] * change
                for i in range(m):
                    y[i] += change * ccols[slot[a], i]
            if leaving < 0:
                append_factor(factor, k, ccols[new], active, p, 0.5 * compliance[p])
                active[k], sign[k], slot[k], multiplier[k] = p, s, new, pushed
                inside[p] = 1
                k += 1
                break
            inside[active[leaving]] = 0
            free[n_free] = slot[leaving]
            n_free += 1
            for a in range(leaving, k - 1):
                active[a], sign[a], slot[a] = active[a + 1], sign[a + 1], slot[a + 1]
                multiplier[a] = multiplier[a + 1]
            k -= 1
            for a in range(leaving, k):
                append_factor(factor, a, ccols[slot[a]], active, active[a], 0.5 * compliance[active[a]])
    # The answer is proved on the saddle system; should a row sit on the wrong side, it is exchanged there.
    worst, pull = np.inf, np.inf
    for _ in range(REPAIRS):
        polish(k, active, sign, slot, gcols, rows, compliance, lo, hi, spring, load, shift, q, force)
        displacements(m, k, active, slot, gcols, rows, compliance, shift, q, force, y)
        worst, where, pull, place = residuals(m, k, active, sign, kind, lo, hi, y, force)
        if worst <= PROVED_MM and pull <= PROVED_N:
            break
        steps += 1
        if pull > PROVED_N:
            free[n_free] = slot[place]
            n_free += 1
            for a in range(place, k - 1):
                active[a], sign[a], slot[a] = active[a + 1], sign[a + 1], slot[a + 1]
            k -= 1
        elif k < cap:
            p = abs(where) - 1
            n_free -= 1
            new = free[n_free]
            fill_columns(
                p, m, z, kind, across, nail, rows, compliance, spring_inverse, gcols[new], ccols[new]
            )
            active[k], sign[k], slot[k] = p, 1.0 if where > 0 else -1.0, new
            k += 1
        else:
            break
    return k, steps, worst, pull
