# ruff: noqa: PLR0917, C901, PLR0912, PLR0915  a compiled loop is one function for speed
"""Compiled Newton's method on the places that touch, both planes together.

Unknowns: the ten motions, at every touching wall station the place on its ellipse and the force square to it
there, and the force at every touching straight support. A contact force has no part along the wall. Places
on the wrong side are exchanged until every one is proved. Same internal signs and units as `contact_kernel`.

A spatial problem is the tuple (z, kind, across, rows, compliance, lo, hi, shift, centre, half, nail, spring,
spring_inverse, load): the first n rows are the frontal sides of the n wall stations, the next n their
sagittal sides, the rest straight supports; `centre` and `half` (n, 2) are the ellipses of the free room, NaN
where a station has no wall. Forces are `wall` (n, 2) and `line` (m,), of which the first 2 n stay empty.
"""

from typing import Any

import numpy as np
from numba import njit

from limbwright.mechanics.contact_kernel import SLOPE_WEIGHT_MM, VALUE, flexibility_pair
from limbwright.mechanics.dense_kernel import Reals, Whole, eliminate

MOTIONS = 10
ROUNDS, SETTLED = 30, 1e-9  # of Newton's method; mm, or mrad
EXCHANGES = 24
LARGEST_TURN = 0.5  # rad; a place does not run further round its ellipse than this in one step
SEED_N = 1.0  # first guess of a force that a place newly touched will carry
HARDLY_N = 1e-12  # force of a place that touches and carries nothing


@njit(cache=True, error_model="numpy")
def pair(a: int, b: int, z: Reals, kind: Whole, across: Reals, nail: Reals) -> float:
    """Displacement at row a per unit force at row b; rows of different planes do not feel each other."""
    along = across[a, 0] * across[b, 0] + across[a, 1] * across[b, 1]
    if along == 0.0:
        return 0.0
    return float(along * flexibility_pair(z[a], kind[a], z[b], kind[b], nail[0], nail[1], nail[2]))


@njit(cache=True, error_model="numpy")
def outside_mm(x: float, y: float, a: float, b: float) -> float:
    """How far the point (x, y) lies outside the ellipse of half axes a, b, along the normal of its ray."""
    nx, ny = x / (a * a), y / (b * b)
    size = np.hypot(nx, ny)
    if not size > 0.0:
        return -np.inf
    nx, ny = nx / size, ny / size
    return float(nx * x + ny * y - np.hypot(a * nx, b * ny))


@njit(cache=True, error_model="numpy")
def place_all(problem: Any, motion: Reals, wall: Reals, line: Reals, y: Reals) -> None:
    """Relative displacement of every row under the given motions and forces."""
    z, kind, across, rows, compliance, _, _, shift, centre, _, nail, _, _, _ = problem
    n, m = centre.shape[0], z.shape[0]
    for i in range(m):
        total = shift[i]
        for c in range(MOTIONS):
            total += rows[i, c] * motion[c]
        y[i] = total
    for b in range(m):
        f = line[b]
        if b < n:
            f = wall[b, 0]
        elif b < 2 * n:
            f = wall[b - n, 1]
        if f != 0.0:
            for i in range(m):
                y[i] -= f * pair(i, b, z, kind, across, nail)
            y[b] -= f * compliance[b]


@njit(cache=True, error_model="numpy")
def worst_place(problem: Any, y: Reals) -> tuple[float, int]:
    """Largest violation of a wall or support [mm], and its station, or -1 - row of a straight support."""
    _, kind, _, _, _, lo, hi, _, centre, half, _, _, _, _ = problem
    n, worst, where = centre.shape[0], 0.0, 0
    for i in range(y.shape[0]):
        if not np.isfinite(y[i]):
            return np.inf, 0
    for i in range(n):
        if np.isfinite(centre[i, 0]):
            out = outside_mm(y[i] - centre[i, 0], y[n + i] - centre[i, 1], half[i, 0], half[i, 1])
            if out > worst:
                worst, where = out, i
    for i in range(2 * n, y.shape[0]):
        weight = 1.0 if kind[i] == VALUE else SLOPE_WEIGHT_MM
        beyond = max(y[i] - hi[i], lo[i] - y[i]) * weight
        if beyond > worst:
            worst, where = beyond, -1 - i
    return worst, where


@njit(cache=True, error_model="numpy")
def newton(problem: Any, motion: Reals, wall: Reals, line: Reals) -> tuple[bool, float, int]:
    """Newton's method on one set of touching places: those that carry force. Answers are written back.

    Returns whether it converged, the largest pull [N], and the station that pulls, or -1 - row.
    """
    z, kind, across, rows, compliance, lo, hi, shift, centre, half, nail, spring, _, load = problem
    n, m = centre.shape[0], z.shape[0]
    t, k = 0, 0
    for i in range(n):
        if wall[i, 0] != 0.0 or wall[i, 1] != 0.0:
            t += 1
    for i in range(2 * n, m):
        if line[i] != 0.0:
            k += 1
    h = 2 * t + k
    held, sign = np.empty(h, np.int64), np.empty(k)
    angle, size, bound = np.empty(t), np.empty(t), np.empty(k)
    a, b = 0, 0
    for i in range(n):
        if wall[i, 0] != 0.0 or wall[i, 1] != 0.0:
            held[a], held[t + a] = i, n + i
            size[a] = np.hypot(wall[i, 0], wall[i, 1])
            angle[a] = np.arctan2(half[i, 1] * wall[i, 1], half[i, 0] * wall[i, 0])
            a += 1
    for i in range(2 * n, m):
        if line[i] != 0.0:
            held[2 * t + b], sign[b] = i, 1.0 if line[i] > 0.0 else -1.0
            bound[b] = hi[i] if line[i] > 0.0 else lo[i]
            b += 1
    give = np.empty((h, h))
    for a in range(h):
        for b in range(a + 1):
            give[a, b] = give[b, a] = pair(held[a], held[b], z, kind, across, nail)
        give[a, a] += compliance[held[a]]
    q, straight = motion.copy(), np.empty(k)
    for b in range(k):
        straight[b] = line[held[2 * t + b]]
    order = MOTIONS + h
    force, target, normal, turned = np.empty(h), np.empty(h), np.empty((t, 2)), np.empty((t, 2))
    matrix, right = np.empty((order, order)), np.empty(order)
    converged = False
    for _ in range(ROUNDS):
        for a in range(t):
            i = held[a]
            c, s = np.cos(angle[a]), np.sin(angle[a])
            ex, ey = c / half[i, 0], s / half[i, 1]
            dx, dy = -s / half[i, 0], c / half[i, 1]
            length = np.hypot(ex, ey)
            normal[a, 0], normal[a, 1] = ex / length, ey / length
            along = (ex * dx + ey * dy) / length**3
            turned[a, 0], turned[a, 1] = dx / length - ex * along, dy / length - ey * along
            force[a], force[t + a] = size[a] * normal[a, 0], size[a] * normal[a, 1]
            target[a], target[t + a] = centre[i, 0] + half[i, 0] * c, centre[i, 1] + half[i, 1] * s
        for b in range(k):
            force[2 * t + b], target[2 * t + b] = straight[b], bound[b]
        matrix[:] = 0.0
        for a in range(h):
            i = held[a]
            total = shift[i] - target[a]
            for c in range(MOTIONS):
                total += rows[i, c] * q[c]
                matrix[a, c] = rows[i, c]
            for b in range(h):
                total -= give[a, b] * force[b]
            right[a] = total
            for b in range(t):
                x, w = give[a, b], give[a, t + b]
                matrix[a, MOTIONS + b] = -size[b] * (x * turned[b, 0] + w * turned[b, 1])
                matrix[a, MOTIONS + t + b] = -(x * normal[b, 0] + w * normal[b, 1])
            for b in range(k):
                matrix[a, MOTIONS + 2 * t + b] = -give[a, 2 * t + b]
        for a in range(t):
            i = held[a]
            matrix[a, MOTIONS + a] += half[i, 0] * np.sin(angle[a])
            matrix[t + a, MOTIONS + a] -= half[i, 1] * np.cos(angle[a])
        for c in range(MOTIONS):
            total = -load[c]
            for e in range(MOTIONS):
                matrix[h + c, e] = spring[c, e]
                total += spring[c, e] * q[e]
            for a in range(h):
                total += rows[held[a], c] * force[a]
            right[h + c] = total
            for b in range(t):
                x, w = rows[held[b], c], rows[held[t + b], c]
                matrix[h + c, MOTIONS + b] = size[b] * (x * turned[b, 0] + w * turned[b, 1])
                matrix[h + c, MOTIONS + t + b] = x * normal[b, 0] + w * normal[b, 1]
            for b in range(k):
                matrix[h + c, MOTIONS + 2 * t + b] = rows[held[2 * t + b], c]
        if not eliminate(matrix, right, order):
            return False, np.inf, 0
        reach, moved = 0.0, 0.0
        for a in range(t):
            reach = max(reach, abs(right[MOTIONS + a]))
        part = min(1.0, LARGEST_TURN / reach) if reach > 0.0 else 1.0
        for c in range(MOTIONS):
            unit = 1e-3 if c % 5 in (1, 3, 4) else 1.0
            moved = max(moved, abs(part * right[c]) / unit)
            q[c] -= part * right[c]
        for a in range(t):
            angle[a] -= part * right[MOTIONS + a]
            size[a] -= part * right[MOTIONS + t + a]
        for b in range(k):
            straight[b] -= part * right[MOTIONS + 2 * t + b]
        if not np.isfinite(moved):
            return False, np.inf, 0
        if moved < SETTLED:
            converged = True
            break
    if not converged:
        return False, np.inf, 0
    motion[:] = q
    wall[:] = 0.0
    line[:] = 0.0
    pull, where = 0.0, 0
    for a in range(t):
        i = held[a]
        c, s = np.cos(angle[a]), np.sin(angle[a])
        ex, ey = c / half[i, 0], s / half[i, 1]
        length = np.hypot(ex, ey)
        there = max(size[a], HARDLY_N)  # a place stays in the set, on its side, until it is taken out
        wall[i, 0], wall[i, 1] = there * ex / length, there * ey / length
        if -size[a] > pull:
            pull, where = -size[a], i
    for b in range(k):
        i = held[2 * t + b]
        line[i] = sign[b] * max(sign[b] * straight[b], HARDLY_N)
        wrong = -straight[b] * sign[b]
        if wrong > pull:
            pull, where = wrong, -1 - i
    return True, pull, where


@njit(cache=True, error_model="numpy")
def finished(
    problem: Any, motion: Reals, wall: Reals, line: Reals, y: Reals, small_mm: float, small_n: float
) -> tuple[float, float]:
    """Exchange places on the wrong side until all are proved; residuals [mm], [N], infinite where it fails.

    Starts from `motion`, `wall` and `line` and writes the answer there.
    """
    n = wall.shape[0]
    centre, half = problem[8], problem[9]
    mm, pull = np.inf, np.inf
    for _ in range(EXCHANGES):
        good, pull, where = newton(problem, motion, wall, line)
        if not good:
            return np.inf, np.inf
        place_all(problem, motion, wall, line, y)
        mm, there = worst_place(problem, y)
        if mm < small_mm and pull < small_n:
            return mm, pull
        if pull >= small_n:
            if where >= 0:
                wall[where] = 0.0
            else:
                line[-1 - where] = 0.0
        elif there >= 0:
            x, w = y[there] - centre[there, 0], y[n + there] - centre[there, 1]
            nx, ny = x / half[there, 0] ** 2, w / half[there, 1] ** 2
            size = np.hypot(nx, ny)
            wall[there, 0], wall[there, 1] = SEED_N * nx / size, SEED_N * ny / size
        else:
            row = -1 - there
            line[row] = SEED_N if y[row] > problem[6][row] else -SEED_N
    return mm, pull
