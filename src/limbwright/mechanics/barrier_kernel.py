# ruff: noqa: PLR0917, C901, PLR0912, PLR0915  a compiled loop is one function for speed
"""Compiled interior-point method for both planes together: slower than touching places, and always home.

Where many places of a wall touch at once, or hardly, no set of touching places settles. Here every place
keeps a little room and a little force whose product shrinks toward nothing, so that none has to be chosen.
The product that is left at the end proves the answer: a place with force lies on its wall, a place with room
carries none. Only the stations near the answer take part; others join when the answer leaves them.

Spatial problems, signs and units as in `touch_kernel`. Convex problem: minimise 1/2 f'(G + c)f + 1/2 q'Kq -
load'q with y = R q - (G + c) f + shift inside its ellipses and bounds. At a wall f = p M (y - centre) with
M the inverse squared half axes, room s = (1 - |M^1/2 (y - centre)|^2) / 2 and p s = mu (Boyd & Vandenberghe,
Convex Optimization, 2004, chapter 11).
"""

from typing import Any

import numpy as np
from numba import njit

from limbwright.mechanics.contact_kernel import VALUE
from limbwright.mechanics.dense_kernel import Reals, Whole, eliminate, solve_factor
from limbwright.mechanics.touch_kernel import MOTIONS, outside_mm, pair, place_all, worst_place

STARTS_NMM = (10.0, 1e3, 1e5)  # first product of room and force; the next where one does not lead home
ROUNDS, JOININGS = 60, 12
EQUAL_MM = 1e-9  # bounds this close hold the row fast
TO_BOUNDARY = 0.995
LEAST_NMM = 2e-11  # last product of room and force: a force above `FORCE_N` has less room than `ROOM_MM`
FORCE_N, ROOM_MM = 5e-5, 5e-7
BALANCED_MM, BALANCED_N = 1e-8, 5e-5
TOUCHING_N_PER_MM = 1e-3
HEAVY_N = 100.0  # above it the balance of forces is told as a share of the largest force
REFINED = 1
PATIENCE = 4  # rounds without getting better, once all products are small
FORCED_N = 2e3  # beyond it the geometry does not fit, whatever the tissue does
HOPELESS_N = 2e4  # its number is not looked for any further
APART = 8  # every so many stations to begin with
NEIGHBOURS = 1


@njit(cache=True, error_model="numpy")
def cholesky(a: Reals, h: int) -> bool:
    """Lower factor of a positive definite matrix, in place."""
    for j in range(h):
        total = a[j, j]
        for k in range(j):
            total -= a[j, k] * a[j, k]
        if not total > 0.0:
            return False
        root = np.sqrt(total)
        a[j, j] = root
        for i in range(j + 1, h):
            total = a[i, j]
            for k in range(j):
                total -= a[i, k] * a[j, k]
            a[i, j] = total / root
    return True


@njit(cache=True, error_model="numpy")
def _longest(first: Reals, second: Reals, room: Reals, p: Reals, dp: Reals) -> float:
    """Longest step that keeps every room and every force; room - first part - second part^2 is left."""
    part = 1.0
    for e in range(p.shape[0]):
        if p[e] == 0.0:
            continue
        keep = TO_BOUNDARY * room[e]
        if second[e] > 0.0:
            part = min(part, 2.0 * keep / (first[e] + np.sqrt(first[e] ** 2 + 4.0 * second[e] * keep)))
        elif first[e] > 0.0:
            part = min(part, keep / first[e])
        if dp[e] < 0.0:
            part = min(part, -TO_BOUNDARY * p[e] / dp[e])
    return part


@njit(cache=True, error_model="numpy")
def inside(
    problem: Any, chosen: Whole, start_nmm: float, motion: Reals, wall: Reals, line: Reals
) -> tuple[float, float]:
    """Solve with the chosen stations and all straight supports; answers are written back.

    Returns the largest room of a place that carries force [mm] and what is left of the balance of forces
    [N], both infinite where the method fails.
    """
    z, kind, across, rows, compliance, lo, hi, shift, centre, half, nail, spring, _, load = problem
    n, m = centre.shape[0], z.shape[0]
    t, k = 0, 0
    for i in range(n):
        t += chosen[i]
    for i in range(2 * n, m):
        k += 1 if np.isfinite(lo[i]) or np.isfinite(hi[i]) else 0
    h, places = 2 * t + k, t + 2 * k
    held, fast = np.empty(h, np.int64), np.zeros(h, np.int64)
    y, q, f = np.empty(h), np.zeros(MOTIONS), np.zeros(h)
    # Force p and room of every place: a wall, or one bound of a straight support; p = 0 where there is none.
    p, dp, room = np.zeros(places), np.zeros(places), np.ones(places)
    first, second = np.zeros(places), np.zeros(places)
    a = 0
    for i in range(n):
        if chosen[i] == 1:
            held[a], held[t + a] = i, n + i
            y[a], y[t + a], p[a], room[a] = centre[i, 0], centre[i, 1], 2.0 * start_nmm, 0.5
            a += 1
    a = 2 * t
    for i in range(2 * n, m):
        if np.isfinite(lo[i]) or np.isfinite(hi[i]):
            held[a], b = i, t + 2 * (a - 2 * t)
            wide = hi[i] - lo[i]
            if wide < EQUAL_MM:
                fast[a], y[a] = 1, 0.5 * (lo[i] + hi[i])
            else:
                gap = 0.5 * wide if np.isfinite(wide) else 1.0
                y[a] = hi[i] - gap if np.isfinite(hi[i]) else lo[i] + gap
                if np.isfinite(hi[i]):
                    p[b], room[b] = start_nmm / gap, gap
                if np.isfinite(lo[i]):
                    p[b + 1], room[b + 1] = start_nmm / gap, gap
            a += 1
    give = np.empty((h, h))
    for a in range(h):
        for b in range(a + 1):
            give[a, b] = give[b, a] = pair(held[a], held[b], z, kind, across, nail)
        give[a, a] += compliance[held[a]]
    factor, columns = np.empty((h, h)), np.empty((MOTIONS, h))
    whole, small, right = np.empty((MOTIONS, MOTIONS)), np.empty((MOTIONS, MOTIONS)), np.empty(MOTIONS)
    rp, rd, df, dq, step = np.empty(h), np.empty(MOTIONS), np.empty(h), np.empty(MOTIONS), np.empty(h)
    rhs, more = np.empty(h), np.empty(h)
    gx, gy = np.zeros(max(t, 1)), np.zeros(max(t, 1))
    d00, d01, d11 = np.zeros(h), np.zeros(h), np.zeros(h)
    best, best_mm, best_n, since = np.inf, np.inf, np.inf, 0
    best_f, best_q = np.zeros(h), np.zeros(MOTIONS)
    for _ in range(ROUNDS):
        product, count, left_mm, largest = 0.0, 0, 0.0, 1.0
        for a in range(t):
            i = held[a]
            gx[a] = (y[a] - centre[i, 0]) / half[i, 0] ** 2
            gy[a] = (y[t + a] - centre[i, 1]) / half[i, 1] ** 2
            f[a], f[t + a] = p[a] * gx[a], p[a] * gy[a]
            steep = np.hypot(gx[a], gy[a])
            if p[a] * steep > FORCE_N:
                left_mm = max(left_mm, room[a] / steep)
                largest = max(largest, p[a] * steep)
        for a in range(2 * t, h):
            if fast[a] == 0:
                b = t + 2 * (a - 2 * t)
                f[a] = p[b] - p[b + 1]
                for e in range(b, b + 2):
                    if p[e] > FORCE_N:
                        left_mm = max(left_mm, room[e])
            largest = max(largest, abs(f[a]))
        for e in range(places):
            if p[e] > 0.0:
                product += p[e] * room[e]
                count += 1
        left_n, far, whole_sum = 0.0, 0.0, 0.0
        for c in range(MOTIONS):
            total = -load[c]
            for e in range(MOTIONS):
                total += spring[c, e] * q[e]
            for a in range(h):
                total += rows[held[a], c] * f[a]
            rd[c] = total
            whole_sum += total
            left_n = max(left_n, abs(total) * (0.01 if c % 5 in (1, 3, 4) else 1.0))
        for a in range(h):
            total = y[a] - shift[held[a]]
            for c in range(MOTIONS):
                total -= rows[held[a], c] * q[c]
            for b in range(h):
                total += give[a, b] * f[b]
            rp[a] = total
            whole_sum += total
            far = max(far, abs(total))
        left_n /= max(1.0, largest / HEAVY_N)
        missing = max(left_mm / ROOM_MM, left_n / BALANCED_N, far / BALANCED_MM)
        if not np.isfinite(missing + whole_sum):
            break
        if missing < best:
            best, best_mm, best_n, since = missing, left_mm, left_n, 0
            best_f[:], best_q[:] = f, q
            for a in range(t):  # where there is more room than force, nothing touches
                if p[a] * np.hypot(gx[a], gy[a]) ** 2 < TOUCHING_N_PER_MM * room[a]:
                    best_f[a] = best_f[t + a] = 0.0
            for a in range(2 * t, h):
                b = t + 2 * (a - 2 * t)
                if (
                    fast[a] == 0
                    and p[b] < TOUCHING_N_PER_MM * room[b]
                    and p[b + 1] < TOUCHING_N_PER_MM * room[b + 1]
                ):
                    best_f[a] = 0.0
        since += 1
        if best < 1.0 or (since > PATIENCE and product < 1e3 * count * LEAST_NMM):
            break
        for a in range(h):
            for b in range(a + 1):
                factor[a, b] = give[a, b]
        for a in range(t):
            i = held[a]
            # (p (M + g g' / room))^-1 by the formula for a rank-one change
            mx, my = half[i, 0] ** 2, half[i, 1] ** 2
            ux, uy = gx[a] * mx, gy[a] * my
            share = 1.0 / (room[a] + gx[a] * ux + gy[a] * uy)
            d00[a], d11[a] = (mx - share * ux * ux) / p[a], (my - share * uy * uy) / p[a]
            d01[a] = -share * ux * uy / p[a]
            factor[a, a] += d00[a]
            factor[t + a, t + a] += d11[a]
            factor[t + a, a] += d01[a]
        for a in range(2 * t, h):
            if fast[a] == 0:
                b = t + 2 * (a - 2 * t)
                d00[a] = 1.0 / (p[b] / room[b] + p[b + 1] / room[b + 1])
                factor[a, a] += d00[a]
        if not cholesky(factor, h):
            break
        for c in range(MOTIONS):
            for a in range(h):
                columns[c, a] = rows[held[a], c]
            solve_factor(factor, h, columns[c])
        for c in range(MOTIONS):
            for e in range(MOTIONS):
                whole[c, e] = spring[c, e]
                for a in range(h):
                    whole[c, e] += rows[held[a], c] * columns[e, a]
        mu, part = 0.0, 1.0
        for attempt in range(2):  # straight at the answer, to see how far that goes; then as near as is safe
            for a in range(h):
                rhs[a] = -rp[a]
            for a in range(t):
                push = mu / room[a] - p[a]
                rhs[a] += push * (d00[a] * gx[a] + d01[a] * gy[a])
                rhs[t + a] += push * (d01[a] * gx[a] + d11[a] * gy[a])
            for a in range(2 * t, h):
                if fast[a] == 0:
                    b = t + 2 * (a - 2 * t)
                    push = mu / room[b] - p[b] if p[b] > 0.0 else 0.0
                    push -= mu / room[b + 1] - p[b + 1] if p[b + 1] > 0.0 else 0.0
                    rhs[a] += d00[a] * push
            df[:] = 0.0
            dq[:] = 0.0
            for again in range(1 + REFINED):  # what rounding left of the equations is solved for once more
                for a in range(h):
                    total = rhs[a]
                    if again > 0:
                        for c in range(MOTIONS):
                            total += rows[held[a], c] * dq[c]
                        for b in range(h):
                            total -= give[a, b] * df[b]
                        total -= d00[a] * df[a]
                        if a < t:
                            total -= d01[a] * df[t + a]
                        elif a < 2 * t:
                            total -= (d11[a - t] - d00[a]) * df[a] + d01[a - t] * df[a - t]
                    more[a] = total
                for c in range(MOTIONS):
                    total = -rd[c]
                    if again > 0:
                        for a in range(h):
                            total -= rows[held[a], c] * df[a]
                        for e in range(MOTIONS):
                            total -= spring[c, e] * dq[e]
                    right[c] = total
                solve_factor(factor, h, more)
                for c in range(MOTIONS):
                    for a in range(h):
                        right[c] -= rows[held[a], c] * more[a]
                small[:] = whole
                eliminate(small, right, MOTIONS)
                for a in range(h):
                    df[a] += more[a]
                    for c in range(MOTIONS):
                        df[a] += columns[c, a] * right[c]
                for c in range(MOTIONS):
                    dq[c] += right[c]
            for a in range(h):
                total = -rp[a]
                for c in range(MOTIONS):
                    total += rows[held[a], c] * dq[c]
                for b in range(h):
                    total -= give[a, b] * df[b]
                step[a] = 0.0 if fast[a] == 1 else total
            for a in range(t):
                i = held[a]
                first[a] = gx[a] * step[a] + gy[a] * step[t + a]
                second[a] = 0.5 * ((step[a] / half[i, 0]) ** 2 + (step[t + a] / half[i, 1]) ** 2)
            for a in range(2 * t, h):
                b = t + 2 * (a - 2 * t)
                first[b], first[b + 1] = step[a], -step[a]
            for e in range(places):
                dp[e] = (mu + p[e] * first[e]) / room[e] - p[e] if p[e] > 0.0 else 0.0
            part = _longest(first, second, room, p, dp)
            if attempt == 0:
                mu = max(max((1.0 - part) ** 3, 1e-4) * product / max(count, 1), LEAST_NMM)
        for a in range(h):
            y[a] += part * step[a]
            if fast[a] == 1:
                f[a] += part * df[a]
        for c in range(MOTIONS):
            q[c] += part * dq[c]
        for e in range(places):
            if p[e] > 0.0:
                p[e] += part * dp[e]
                left = room[e] - part * (first[e] + part * second[e])
                room[e] = max(left, 0.5 * (1.0 - TO_BOUNDARY) * room[e])
    motion[:] = best_q
    wall[:] = 0.0
    line[:] = 0.0
    for a in range(t):
        wall[held[a], 0], wall[held[a], 1] = best_f[a], best_f[t + a]
    for a in range(2 * t, h):
        line[held[a]] = best_f[a]
    return best_mm, best_n


@njit(cache=True, error_model="numpy")
def largest_force(problem: Any, wall: Reals, line: Reals) -> float:
    """Largest force of any wall or support; couples of screws are not among them. [N]"""
    kind, n, largest = problem[1], wall.shape[0], 0.0
    for i in range(n):
        largest = max(largest, np.hypot(wall[i, 0], wall[i, 1]))
    for i in range(2 * n, line.shape[0]):
        if kind[i] == VALUE:
            largest = max(largest, abs(line[i]))
    return largest


@njit(cache=True, error_model="numpy")
def held_inside(
    problem: Any, motion: Reals, wall: Reals, line: Reals, y: Reals, near_mm: float
) -> tuple[float, float]:
    """Interior-point answer over as many wall stations as it takes; residuals [mm], [N].

    Answers are written into `motion`, `wall`, `line` and `y`.
    """
    centre, half = problem[8], problem[9]
    n = centre.shape[0]
    chosen = np.zeros(n, np.int64)
    mm, newton = np.inf, np.inf
    for turn in range(JOININGS):
        grown = 0
        for i in range(n):
            wanted = turn == 0 and i % APART == 0
            if turn > 0:
                out = outside_mm(y[i] - centre[i, 0], y[n + i] - centre[i, 1], half[i, 0], half[i, 1])
                wanted = out > near_mm
            if wanted:
                for j in range(max(i - NEIGHBOURS, 0), min(i + NEIGHBOURS + 1, n)):
                    if chosen[j] == 0 and np.isfinite(centre[j, 0]):
                        chosen[j] = 1
                        grown += 1
        if turn > 0 and grown == 0:
            break
        for start in STARTS_NMM:
            mm, newton = inside(problem, chosen, start, motion, wall, line)
            if mm < ROOM_MM and newton < BALANCED_N:
                break
        place_all(problem, motion, wall, line, y)
        if largest_force(problem, wall, line) > HOPELESS_N:
            break
    worst, _ = worst_place(problem, y)
    return max(mm, worst), newton
