# ruff: noqa: PLR0917, C901, PLR0912, PLR0915  a compiled loop is one function for speed
"""Compiled solve of both planes together.

Each problem starts from the walls as boxes, takes a tangent of the ellipse wherever the answer leaves it, and
is finished on the places that touch (`touch_kernel`); where no set of places settles, from the inside
(`barrier_kernel`). Axial compression is settled on the load side. Same internal signs and units as
`contact_kernel`; spatial problems as in `touch_kernel`.
"""

from typing import Any

import numpy as np
from numba import njit

from limbwright.mechanics.axial_kernel import (
    AXIAL_LOST_MM,
    AXIAL_ROUNDS,
    AXIAL_SETTLED,
    axial_shift,
    axial_stations,
    stride,
)
from limbwright.mechanics.barrier_kernel import FORCED_N, held_inside, largest_force
from limbwright.mechanics.contact_kernel import MAX_STEPS, VALUE, flexibility_pair, solve_contact
from limbwright.mechanics.dense_kernel import Reals
from limbwright.mechanics.touch_kernel import MOTIONS, finished, outside_mm, pair

TANGENTS = 40  # rows kept free for them
TANGENT_ROUNDS = 12
NEAR_TANGENT = 1e-7  # one less the cosine of the angle between two tangents of one station
TOUCH_FROM_MM = 0.3  # nearer to the ellipses than this, the touching places are tried
PROVED_MM, PROVED_N = 1e-6, 1e-4
FORCED_SEARCHES = 3  # rounds of compression in which the contact of a forced nail is looked for anew


@njit(cache=True, error_model="numpy")
def _add_tangent(
    r: int,
    i: int,
    nx: float,
    ny: float,
    k: int,
    base: Any,
    full: Any,
    inverse: Reals,
    nail: Reals,
    space: Any,
) -> None:
    """Make row r of the full problem the tangent of station i with outward normal (nx, ny)."""
    _, _, _, _, _, _, _, shift, centre, half, _, _, _, _ = base
    z, kind, across, rows, compliance, _, hi, fshift = full
    n = centre.shape[0]
    z[r], kind[r], across[r, 0], across[r, 1] = z[i], VALUE, nx, ny
    for c in range(MOTIONS):
        rows[r, c] = nx * rows[i, c] + ny * rows[n + i, c]
    compliance[r] = compliance[i]
    fshift[r] = nx * shift[i] + ny * shift[n + i]
    hi[r] = nx * centre[i, 0] + ny * centre[i, 1] + np.hypot(nx * half[i, 0], ny * half[i, 1])
    active, slot, gcols, ccols = space[4], space[6], space[9], space[10]
    for a in range(k):  # the columns that are there already feel the new row
        p = active[a]
        g = pair(r, p, z, kind, across, nail)
        total = g
        for c in range(MOTIONS):
            if rows[r, c] != 0.0:
                for e in range(MOTIONS):
                    total += rows[r, c] * inverse[c, e] * rows[p, e]
        gcols[slot[a], r], ccols[slot[a], r] = g, total


@njit(cache=True, error_model="numpy")
def search(
    base: Any, full: Any, space: Any, motion: Reals, wall: Reals, line: Reals, y: Reals
) -> tuple[float, float]:
    """Contact of both planes from nothing; answers are written into `motion`, `wall`, `line` and `y`.

    full : rows of the base problem with room for tangents behind them, as arrays for `solve_contact`.
    Returns the residuals [mm], [N].
    """
    _, _, _, _, _, _, _, shift, centre, half, nail, spring, inverse, load = base
    z, kind, across, rows, compliance, lo, hi, fshift = full
    n, m, whole = centre.shape[0], shift.shape[0], z.shape[0]
    station = np.full(TANGENTS, -1, np.int64)
    none, source = np.zeros((1, 1)), np.zeros(0, np.int64)
    fshift[:m] = shift
    for r in range(m, whole):
        lo[r], hi[r] = -np.inf, np.inf
    k = 0
    for _ in range(TANGENT_ROUNDS):
        k, steps, _, _ = solve_contact(
            whole, z, kind, across, nail, rows, compliance, lo, hi, spring, inverse, load, fshift,
            False, none, none, source, space, k,
        )  # fmt: skip
        active, force = space[4], space[2]
        motion[:] = space[1]
        y[:] = space[0][:m]
        wall[:] = 0.0
        line[:] = 0.0
        loaded = np.zeros(TANGENTS)
        for a in range(k):
            i = active[a]
            if i < n:
                wall[i, 0] += force[a]
            elif i < 2 * n:
                wall[i - n, 1] += force[a]
            elif i < m:
                line[i] = force[a]
            else:
                s = station[i - m]
                wall[s, 0] += force[a] * across[i, 0]
                wall[s, 1] += force[a] * across[i, 1]
                loaded[i - m] = force[a]
        worst = 0.0
        for i in range(n):
            if np.isfinite(centre[i, 0]):
                out = outside_mm(y[i] - centre[i, 0], y[n + i] - centre[i, 1], half[i, 0], half[i, 1])
                worst = max(worst, out)
        if not np.isfinite(worst) or steps >= MAX_STEPS:
            break
        if worst < TOUCH_FROM_MM:
            kept_wall, kept_line, kept_y = wall.copy(), line.copy(), y.copy()
            mm, newton = finished(base, motion, wall, line, y, 0.1 * PROVED_MM, 0.1 * PROVED_N)
            if mm < PROVED_MM and newton < PROVED_N:
                return mm, newton
            wall[:], line[:], y[:] = kept_wall, kept_line, kept_y
        for r in range(TANGENTS):
            if station[r] >= 0 and loaded[r] == 0.0:
                station[r], lo[m + r], hi[m + r] = -1, -np.inf, np.inf
        added = 0
        for i in range(n):
            if not np.isfinite(centre[i, 0]):
                continue
            x, w = y[i] - centre[i, 0], y[n + i] - centre[i, 1]
            if outside_mm(x, w, half[i, 0], half[i, 1]) <= 0.05 * PROVED_MM:
                continue
            for way in range(2):  # toward the nail's place, and toward its force
                if way == 0:
                    nx, ny = x / half[i, 0] ** 2, w / half[i, 1] ** 2
                else:
                    nx, ny = wall[i, 0], wall[i, 1]
                size = np.hypot(nx, ny)
                if size < 1e-6:
                    continue
                nx, ny = nx / size, ny / size
                free, near = -1, False
                for r in range(TANGENTS):
                    if station[r] == -1:
                        free = r if free < 0 else free
                    elif station[r] == i:
                        near = near or nx * across[m + r, 0] + ny * across[m + r, 1] > 1.0 - NEAR_TANGENT
                if free >= 0 and not near:
                    station[free] = i
                    _add_tangent(m + free, i, nx, ny, k, base, full, inverse, nail, space)
                    added += 1
        if added == 0:
            break
    mm, newton = held_inside(base, motion, wall, line, y, 0.5 * PROVED_MM)
    kept, kept_wall, kept_line, kept_y = motion.copy(), wall.copy(), line.copy(), y.copy()
    best, pull = finished(base, motion, wall, line, y, 0.1 * PROVED_MM, 0.1 * PROVED_N)
    if best < PROVED_MM and pull < PROVED_N:
        return best, pull
    motion[:], wall[:], line[:], y[:] = kept, kept_wall, kept_line, kept_y
    return mm, newton


@njit(cache=True, error_model="numpy")
def _offset(depth: float, plane: int, problem: Any, motion: Reals, wall: Reals, line: Reals) -> float:
    """Offset of the nail at a depth in one plane under all contact forces, without axial compression."""
    z, kind, across, nail = problem[0], problem[1], problem[2], problem[10]
    n = wall.shape[0]
    q = 5 * plane
    total = motion[q] + motion[q + 1] * depth + motion[q + 4] * max(depth - nail[0], 0.0)
    for i in range(z.shape[0]):
        f = wall[i, plane] if i < n else 0.0
        if i >= 2 * n:
            f = line[i] * across[i, plane]
        if f != 0.0:
            total -= f * flexibility_pair(depth, VALUE, z[i], kind[i], nail[0], nail[1], nail[2])
    return float(total)


@njit(cache=True, error_model="numpy")
def settled(
    base: Any, full: Any, space: Any, own_load: Reals, axial: Reals, spans: Reals, warm: bool,
    motion: Reals, wall: Reals, line: Reals, y: Reals, bowed: Reals,
) -> tuple[float, float, bool]:  # fmt: skip
    """Contact of both planes with axial compression settled on the load side.

    spans : (2, 2) start and end of the compressed stretch in each plane. bowed : (2, 2, 2 AXIAL_STATIONS)
    receives depth and offset of the compressed nail in each plane. warm : start from the forces in `wall` and
    `line`. Returns the residuals [mm], [N] and whether the shape stands still.
    """
    z, kind, across, rows, _, _, _, shift, _, _, nail, _, _, load = base
    m = z.shape[0]
    shift[:] = 0.0
    load[:] = own_load
    mm, newton = np.inf, np.inf
    if warm:
        mm, newton = finished(base, motion, wall, line, y, 0.1 * PROVED_MM, 0.1 * PROVED_N)
    if not (mm < PROVED_MM and newton < PROVED_N):
        mm, newton = search(base, full, space, motion, wall, line, y)
    if (axial[0] == 0.0 and axial[1] == 0.0) or not np.isfinite(mm):
        return mm, newton, True
    first = axial_stations(spans[0, 0], spans[0, 1], nail[0])
    second = axial_stations(spans[1, 0], spans[1, 1], nail[0])
    n0, n1 = first.shape[0], second.shape[0]
    whole = n0 + n1
    # x is the shape the load is made of, w the shape that load gives; settled when they are the same.
    w, x, change, bend = np.empty(whole), np.zeros(whole), np.zeros(whole), np.zeros(whole)
    w_before, change_before = np.zeros(whole), np.zeros(whole)
    part, own = np.zeros(m), np.zeros(5)
    jump = np.empty((m, 5))
    growing, searches = 0, 0
    for turn in range(AXIAL_ROUNDS):
        largest, size, before, mixed, scale = 0.0, 0.0, 0.0, 0.0, 1.0
        for j in range(whole):
            plane = 0 if j < n0 else 1
            depth = first[j] if j < n0 else second[j - n0]
            w[j] = _offset(depth, plane, base, motion, wall, line) + bend[j]
            change[j] = w[j] - x[j]
            largest, scale = max(largest, abs(change[j])), max(scale, abs(w[j]))
            size += change[j] * change[j]
            before += change_before[j] * change_before[j]
            mixed += change[j] * change_before[j]
        for j in range(bowed.shape[2]):
            a, b = min(j, n0 - 1), min(j, n1 - 1)
            bowed[0, 0, j], bowed[0, 1, j] = first[a], w[a]
            bowed[1, 0, j], bowed[1, 1, j] = second[b], w[n0 + b]
        if turn > 0 and largest < AXIAL_SETTLED * scale:
            return mm, newton, True
        # A nail free to lean is pushed further every round until a wall stops it: stride on. No wall stops a
        # load beyond the critical one: there is no answer then.
        growing = growing + 1 if turn > 1 and mixed >= before else 0
        if not largest < AXIAL_LOST_MM:
            break
        weight = stride(turn, growing, largest, size, mixed, before)
        for j in range(whole):
            x[j] = w[j] - weight * (w[j] - w_before[j])
            w_before[j], change_before[j] = w[j], change[j]
        shift[:] = 0.0
        load[:] = own_load
        bend[:] = 0.0
        for plane in range(2):
            if axial[plane] == 0.0:
                continue
            s = first if plane == 0 else second
            shape = x[:n0] if plane == 0 else x[n0:]
            back = bend[:n0] if plane == 0 else bend[n0:]
            for i in range(m):
                for c in range(5):
                    jump[i, c] = rows[i, 5 * plane + c]
            part[:] = 0.0
            own[:] = 0.0
            axial_shift(axial[plane], s, shape, nail, m, z, kind, jump, part, own)
            for i in range(m):
                shift[i] += part[i] * across[i, plane]
            for c in range(5):
                load[5 * plane + c] += own[c]
            own[:] = 0.0
            axial_shift(
                axial[plane], s, shape, nail, s.shape[0], s, np.zeros(s.shape[0], np.int64), jump, back, own
            )
        mm, newton = finished(base, motion, wall, line, y, 0.1 * PROVED_MM, 0.1 * PROVED_N)
        if not (mm < PROVED_MM and newton < PROVED_N):
            searches += 1
            if searches > FORCED_SEARCHES and largest_force(base, wall, line) > FORCED_N:
                break
            mm, newton = search(base, full, space, motion, wall, line, y)
        if not np.isfinite(mm):
            break
    return mm, newton, False
