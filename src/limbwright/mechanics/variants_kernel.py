# ruff: noqa: PLR0917  a compiled loop is one function for speed
"""Compiled loops over variants of one construct in one plane, and what is written down of each.

Same internal signs and units as `contact_kernel`.
"""

from typing import Any

import numpy as np
from numba import njit

from limbwright.mechanics.axial_kernel import AXIAL_STATIONS, compressed_span, solve_rows
from limbwright.mechanics.contact_kernel import JUMP, SLOPE, VALUE
from limbwright.mechanics.dense_kernel import Reals, Whole
from limbwright.mechanics.restart_kernel import workspace
from limbwright.mechanics.row_kernel import (
    AXIAL,
    DETERMINED,
    FORCE,
    FORCED,
    FREE_FORCE,
    FREE_MOMENT,
    K_ANGLE,
    MOMENT,
    NOT_PROVED,
    NOTHING_HOLDS,
    OUT_A,
    OUT_B,
    OUT_JUMP,
    OUT_LARGEST_FORCE,
    OUT_MM,
    OUT_N,
    OUT_SLOPE,
    OUT_STATUS,
    OUT_STEP,
    OUT_STEPS,
    OUT_THICK_MOMENT,
    OUT_THIN_MOMENT,
    OUT_WALL_FORCE,
    PRELOAD_N,
    SLIGHT_FORCE,
    SLIGHT_MOMENT,
    SOFT_THICK,
    SOFT_THIN,
    STEP_DEPTH,
    TOO_WIDE,
    UNDETERMINED,
    assemble,
    between,
    springs_and_load,
)


@njit(cache=True, error_model="numpy")
def _bending_moment(
    at: float,
    after: bool,
    k: int,
    z: Reals,
    kind: Whole,
    active: Whole,
    force: Reals,
    axial: float,
    bowed: Reals,
) -> float:
    """Bending moment of the nail at a depth from all that acts beyond it. [N mm]"""
    total = 0.0
    for a in range(k):
        i = active[a]
        if kind[i] == VALUE:
            total -= force[a] * max(z[i] - at, 0.0)
        elif kind[i] == SLOPE and (z[i] > at or (after and z[i] == at)):
            total -= force[a]
    if axial != 0.0:
        end = bowed.shape[1] - 1
        total += axial * (bowed[1, end] - between(at, bowed[0], bowed[1]))
    return total


@njit(cache=True, error_model="numpy")
def peak_moments(
    k: int, z: Reals, kind: Whole, active: Whole, force: Reals, nail: Reals, axial: float, bowed: Reals
) -> tuple[float, float]:
    """Largest bending moment magnitude in the thick and in the thin segment. [N mm]"""
    thick, thin = 0.0, 0.0
    n = k + 1 + (bowed.shape[1] if axial != 0.0 else 0)
    for j in range(n):
        at = z[active[j]] if j < k else nail[0]
        if j > k:
            at = bowed[0, j - k - 1]
        for side in range(2):  # a couple jumps at its own section
            total = abs(_bending_moment(at, side == 1, k, z, kind, active, force, axial, bowed))
            if at <= nail[0]:
                thick = max(thick, total)
            if at >= nail[0]:
                thin = max(thin, total)
    return thick, thin


@njit(cache=True, error_model="numpy")
def summarise(
    k: int, steps: int, mm: float, newton: float, settled: bool, n_wall: int, n_locks: int, loads: Reals,
    z: Reals, kind: Whole, nail: Reals, force_limit: float, bowed: Reals, space: Any, out: Reals,
    support: Reals,
) -> None:  # fmt: skip
    """Write the outcome of one variant; `support` receives the force of every lock and blocker."""
    q, force, active = space[1], space[2], space[4]
    out[OUT_SLOPE], out[OUT_STEP] = q[3], q[2]
    out[OUT_A], out[OUT_B], out[OUT_JUMP] = q[0], q[1], q[4]
    out[OUT_MM], out[OUT_N], out[OUT_STEPS] = mm, newton, steps
    thick, thin = peak_moments(k, z, kind, active, force, nail, loads[AXIAL], bowed)
    out[OUT_THICK_MOMENT], out[OUT_THIN_MOMENT] = thick, thin
    wall, largest = 0.0, 0.0
    support[:] = 0.0
    for a in range(k):
        i = active[a]
        if kind[i] == VALUE:
            largest = max(largest, abs(force[a]))
        if i < n_wall:
            wall = max(wall, abs(force[a]))
        elif kind[i] != JUMP:  # locks, then the joint, then blockers
            support[i - n_wall - (1 if i > n_wall + n_locks else 0)] = force[a]
    out[OUT_WALL_FORCE], out[OUT_LARGEST_FORCE] = wall, largest
    slight = (
        abs(loads[MOMENT] + loads[FREE_MOMENT]) < SLIGHT_MOMENT
        and abs(loads[FORCE] + loads[FREE_FORCE]) < SLIGHT_FORCE
        and loads[K_ANGLE] == 0.0
    )
    status = DETERMINED
    if mm > 1e-5 or newton > 1e-3 or not settled:
        status = NOT_PROVED
    elif largest > force_limit:
        status = FORCED
    elif slight and largest < PRELOAD_N:
        status = UNDETERMINED
    elif abs(q[3]) > 0.5 or abs(q[2]) > 200.0:
        status = NOTHING_HOLDS
    out[OUT_STATUS] = status


@njit(cache=True, error_model="numpy")
def solve_variants(
    geometry: Reals, loads: Reals, entry_walls: Reals, moving_walls: Reals, stations: Whole, locks: Reals,
    blockers: Reals, blocker_depth: Reals, blocker_clearance: Reals, force_limit: float,
    out: Reals, support: Reals, last: Reals,
) -> int:  # fmt: skip
    """Assemble and solve every variant; `last` keeps depth, kind, lo, hi, y, force of the last one's rows."""
    m = int(stations[0] + stations[1]) + 1 + locks.shape[0] + blockers.shape[0] + 1
    n_wall = int(stations[0] + stations[1]) + 1
    z, kind, rows = np.zeros(m), np.zeros(m, np.int64), np.zeros((m, 5))
    compliance, lo, hi, shift = np.zeros(m), np.zeros(m), np.zeros(m), np.zeros(m)
    across = np.zeros((m, 2))
    across[:, 0] = 1.0
    spring, inverse, load, nail = np.zeros((5, 5)), np.zeros((5, 5)), np.zeros(5), np.zeros(3)
    none, source = np.zeros((1, 1)), np.zeros(0, np.int64)
    space, bowed = workspace(m, 5), np.zeros((2, 2 * AXIAL_STATIONS))
    for v in range(geometry.shape[0]):
        bad = assemble(
            geometry[v], entry_walls, moving_walls, stations, locks, blockers, blocker_depth[v],
            blocker_clearance[v], z, kind, rows, compliance, lo, hi,
        )  # fmt: skip
        if bad >= 0:
            out[v] = np.nan
            support[v] = 0.0
            out[v, OUT_STATUS], out[v, OUT_STEPS] = TOO_WIDE, bad
            last[0, :m], last[1, :m], last[2, :m], last[3, :m], last[5, :m] = z, kind, lo, hi, 0.0
            continue
        springs_and_load(geometry[v], loads[v], spring, inverse, load)
        nail[0], nail[1], nail[2] = geometry[v, STEP_DEPTH], geometry[v, SOFT_THICK], geometry[v, SOFT_THIN]
        k, steps, mm, newton, settled = solve_rows(
            m, z, kind, across, nail, rows, compliance, lo, hi, spring, inverse, load, loads[v, AXIAL],
            compressed_span(geometry[v], locks), False, none, none, source, 0, shift, bowed, space,
        )  # fmt: skip
        summarise(k, steps, mm, newton, settled, n_wall, locks.shape[0], loads[v], z, kind, nail, force_limit,
                  bowed, space, out[v], support[v])  # fmt: skip
        if v == geometry.shape[0] - 1:
            last[0, :m], last[1, :m], last[2, :m], last[3, :m] = z, kind, lo, hi
            last[4, :m] = space[0][:m]
            last[5, :m] = 0.0
            for a in range(k):
                last[5, space[4][a]] = space[2][a]
    return int(m)
