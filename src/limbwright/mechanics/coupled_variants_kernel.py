# ruff: noqa: PLR0917, C901, PLR0912, PLR0915  a compiled loop is one function for speed
"""Compiled loop over variants of one construct, both planes together, and what is written down of each.

Same internal signs and units as `contact_kernel`; spatial problems as in `touch_kernel`.
"""

from typing import Any

import numpy as np
from numba import njit

from limbwright.mechanics.axial_kernel import AXIAL_STATIONS, compressed_span
from limbwright.mechanics.barrier_kernel import largest_force
from limbwright.mechanics.contact_kernel import SLOPE, VALUE
from limbwright.mechanics.coupled_kernel import PROVED_MM, PROVED_N, TANGENTS, settled
from limbwright.mechanics.dense_kernel import Reals, Whole
from limbwright.mechanics.restart_kernel import workspace
from limbwright.mechanics.row_kernel import (
    AXIAL,
    DETERMINED,
    FORCE,
    FORCED,
    FREE_FORCE,
    FREE_MOMENT,
    MOMENT,
    NOT_PROVED,
    NOTHING_HOLDS,
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
from limbwright.mechanics.touch_kernel import MOTIONS

FLAT_MM = 1e-6  # a canal as narrow as the nail still needs an ellipse
# Columns of the outcome of a variant (see `coupled.COUPLED_OUTCOME`).
(
    OUT_SLOPE_X,
    OUT_SLOPE_Y,
    OUT_STEP_X,
    OUT_STEP_Y,
    OUT_STATUS,
    OUT_MM,
    OUT_N,
    OUT_THICK,
    OUT_THIN,
    OUT_LARGEST,
) = range(10)


@njit(cache=True, error_model="numpy")
def peak_moments(base: Any, wall: Reals, line: Reals, axial: Reals, bowed: Reals) -> tuple[float, float]:
    """Largest bending moment of both planes together in the thick and in the thin segment. [N mm]"""
    z, kind, across, nail = base[0], base[1], base[2], base[10]
    n, m = wall.shape[0], z.shape[0]
    thick, thin = 0.0, 0.0
    compressed = axial[0] != 0.0 or axial[1] != 0.0
    for j in range(m + 1 + (bowed.shape[2] if compressed else 0)):
        if j < n and wall[j, 0] == 0.0 and wall[j, 1] == 0.0:
            continue
        if n <= j < m and (j < 2 * n or line[j] == 0.0):
            continue
        at = z[j] if j < m else nail[0]
        if j > m:
            at = bowed[0, 0, j - m - 1]
        for side in range(2):  # a couple jumps at its own section
            x, y = 0.0, 0.0
            for i in range(m):
                if i < n:
                    reach = max(z[i] - at, 0.0)
                    x -= wall[i, 0] * reach
                    y -= wall[i, 1] * reach
                elif i >= 2 * n and line[i] != 0.0:
                    f = 0.0
                    if kind[i] == VALUE:
                        f = line[i] * max(z[i] - at, 0.0)
                    elif kind[i] == SLOPE and (z[i] > at or (side == 1 and z[i] == at)):
                        f = line[i]
                    x -= f * across[i, 0]
                    y -= f * across[i, 1]
            if compressed:
                end = bowed.shape[2] - 1
                x += axial[0] * (bowed[0, 1, end] - between(at, bowed[0, 0], bowed[0, 1]))
                y += axial[1] * (bowed[1, 1, end] - between(at, bowed[1, 0], bowed[1, 1]))
            total = np.hypot(x, y)
            if at <= nail[0]:
                thick = max(thick, total)
            if at >= nail[0]:
                thin = max(thin, total)
    return thick, thin


@njit(cache=True, error_model="numpy")
def slight(loads: Reals) -> bool:
    """Whether a plane has no load worth the name, new bone out of its rest position included."""
    return bool(
        abs(loads[MOMENT]) + abs(loads[FREE_MOMENT]) < SLIGHT_MOMENT
        and abs(loads[FORCE]) + abs(loads[FREE_FORCE]) < SLIGHT_FORCE
    )


@njit(cache=True, error_model="numpy")
def solve_both(
    geometry: Reals, loads: Reals, walls: Any, stations: Whole, locks: Any, blockers: Any, depth: Any,
    clearance: Any, force_limit: float, out: Reals, last: Any,
) -> None:  # fmt: skip
    """Assemble and solve every variant of one construct in both planes together.

    geometry : (n, 2, columns), loads : (n, 2, columns), as for one plane. walls : entry and moving walls of
    the frontal, then of the sagittal plane. locks, blockers, depth, clearance : one of each plane, the last
    two (n, screws). out : (n, 10). last : arrays that receive depth, kind, motions, wall forces, row forces
    and displacements of the last variant.
    """
    n = int(stations[0] + stations[1]) + 1
    own = np.empty(2, np.int64)
    own[0] = n + locks[0].shape[0] + 1 + blockers[0].shape[0]
    own[1] = n + locks[1].shape[0] + 1 + blockers[1].shape[0]
    m = own[0] + own[1]
    whole = m + TANGENTS
    z, kind, across = np.zeros(whole), np.zeros(whole, np.int64), np.zeros((whole, 2))
    rows, compliance = np.zeros((whole, MOTIONS)), np.zeros(whole)
    lo, hi, shift = np.zeros(whole), np.zeros(whole), np.zeros(whole)
    centre, half = np.empty((n, 2)), np.empty((n, 2))
    spring, inverse, load = np.zeros((10, 10)), np.zeros((10, 10)), np.zeros(10)
    part, part_inverse, part_load = np.zeros((5, 5)), np.zeros((5, 5)), np.zeros(5)
    nail, axial, spans, own_load = np.zeros(3), np.zeros(2), np.zeros((2, 2)), np.zeros(10)
    base = (
        z[:m], kind[:m], across[:m], rows[:m], compliance[:m], lo[:m], hi[:m], np.zeros(m), centre, half,
        nail, spring, inverse, load,
    )  # fmt: skip
    full = (z, kind, across, rows, compliance, lo, hi, shift)
    space = workspace(whole, MOTIONS)
    motion, wall, line, y = np.zeros(MOTIONS), np.zeros((n, 2)), np.zeros(m), np.zeros(m)
    bowed = np.zeros((2, 2, 2 * AXIAL_STATIONS))
    warm = False
    pz, pkind, prows = np.zeros(max(own)), np.zeros(max(own), np.int64), np.zeros((max(own), 5))
    pcompliance, plo, phi = np.zeros(max(own)), np.zeros(max(own)), np.zeros(max(own))
    for v in range(geometry.shape[0]):
        wide = False
        at = 2 * n
        small = slight(loads[v, 0]), slight(loads[v, 1])
        for plane in range(2):
            bad = assemble(
                geometry[v, plane], walls[2 * plane], walls[2 * plane + 1], stations, locks[plane],
                blockers[plane], depth[plane][v], clearance[plane][v], pz, pkind, prows, pcompliance,
                plo, phi,
            )  # fmt: skip
            wide = wide or bad >= 0
            for i in range(own[plane]):
                r = plane * n + i if i < n else at + i - n
                z[r], kind[r], compliance[r], lo[r], hi[r] = pz[i], pkind[i], pcompliance[i], plo[i], phi[i]
                across[r, plane], across[r, 1 - plane] = 1.0, 0.0
                rows[r] = 0.0
                for c in range(5):
                    rows[r, 5 * plane + c] = prows[i, c]
            at += own[plane] - n
            springs_and_load(geometry[v, plane], loads[v, plane], part, part_inverse, part_load)
            if small[plane]:
                part_load[:] = 0.0
            q = 5 * plane
            spring[q : q + 5, q : q + 5] = part
            inverse[q : q + 5, q : q + 5] = part_inverse
            own_load[q : q + 5] = part_load
            axial[plane] = loads[v, plane, AXIAL]
            spans[plane] = compressed_span(geometry[v, plane], locks[plane])
        nail[0], nail[1], nail[2] = (
            geometry[v, 0, STEP_DEPTH], geometry[v, 0, SOFT_THICK], geometry[v, 0, SOFT_THIN],
        )  # fmt: skip
        out[v] = np.nan
        if wide:
            out[v, OUT_STATUS] = TOO_WIDE
            continue
        if small[0] and small[1]:
            out[v, OUT_STATUS], out[v, OUT_MM], out[v, OUT_N] = UNDETERMINED, 0.0, 0.0
            continue
        for i in range(n):
            for plane in range(2):
                a, b = lo[plane * n + i], hi[plane * n + i]
                centre[i, plane], half[i, plane] = 0.5 * (a + b), max(0.5 * (b - a), FLAT_MM)
            if not (np.isfinite(centre[i, 0]) and np.isfinite(centre[i, 1])):
                centre[i], half[i] = np.nan, np.nan
        mm, newton, still = settled(
            base, full, space, own_load, axial, spans, warm, motion, wall, line, y, bowed
        )
        warm = mm < PROVED_MM and newton < PROVED_N
        out[v, OUT_MM], out[v, OUT_N] = mm, newton
        status, largest = DETERMINED, largest_force(base, wall, line)
        proved = mm <= PROVED_MM and newton <= PROVED_N and still
        if not proved and largest > force_limit:
            status = FORCED
        elif not proved:
            status = NOT_PROVED
        elif abs(motion[3]) > 0.5 or abs(motion[8]) > 0.5 or abs(motion[2]) > 200.0 or abs(motion[7]) > 200.0:
            status = NOTHING_HOLDS
        elif largest > force_limit:
            status = FORCED
        if proved:
            out[v, OUT_SLOPE_X], out[v, OUT_SLOPE_Y] = motion[3], motion[8]
            out[v, OUT_STEP_X], out[v, OUT_STEP_Y] = motion[2], motion[7]
        out[v, OUT_STATUS], out[v, OUT_LARGEST] = status, largest
        out[v, OUT_THICK], out[v, OUT_THIN] = peak_moments(base, wall, line, axial, bowed)
    last[0][:], last[1][:], last[2][:] = z[:m], kind[:m], motion
    last[3][:], last[4][:], last[5][:] = wall, line, y
