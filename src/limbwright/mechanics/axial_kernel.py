# ruff: noqa: PLR0917  a compiled loop is one function for speed
"""Compiled axial compression: settled on the load side of the contact problem.

A compressed nail feels P d(w')/dz along its own deflected shape. Put into the energy, that term makes the
rigid toggle of the nail unstable in the equations although walls hold it; so it is added as a load, the
contact solved again, until the shape does not move any more. Same internal signs and units as
`contact_kernel`.
"""

from typing import Any

import numpy as np
from numba import njit

from limbwright.mechanics.contact_kernel import JUMP, VALUE, flexibility_pair, solve_contact
from limbwright.mechanics.dense_kernel import Reals, Whole
from limbwright.mechanics.row_kernel import LENGTH, LENGTHENING

AXIAL_STATIONS = 11  # per segment of the compressed span
AXIAL_ROUNDS, AXIAL_SETTLED = 120, 1e-6
AXIAL_FARTHEST = -20.0  # share of the last step that the secant may add, the sign turned
AXIAL_LOST_MM = 100.0  # no wall of a canal is as far away
AXIAL_STRIDE, AXIAL_STRIDE_MM = 4.0, 1.0


@njit(cache=True, error_model="numpy")
def stride(turn: int, growing: int, largest: float, size: float, mixed: float, before: float) -> float:
    """Share of the last step that the next shape goes back (+) or on (-): a secant, or a bold stride.

    size, mixed, before : sums of squares and products of this round's step and the one before [mm2].
    """
    apart = size - 2.0 * mixed + before
    weight = (size - mixed) / apart if turn > 1 and apart > 0.0 else 0.0
    if growing > 0:
        weight = -min(AXIAL_STRIDE, AXIAL_STRIDE_MM / largest)
    elif not weight < 0.5:
        weight = 0.0
    return float(max(weight, AXIAL_FARTHEST))


@njit(cache=True, error_model="numpy")
def nail_offset(
    depth: float, q: Reals, k: int, z: Reals, kind: Whole, active: Whole, force: Reals, nail: Reals
) -> float:
    """Elastic and free offset of the nail at a depth under the contact forces; plane motions in q."""
    total = q[0] + q[1] * depth + q[4] * max(depth - nail[0], 0.0)
    for a in range(k):
        i = active[a]
        total -= force[a] * flexibility_pair(depth, VALUE, z[i], kind[i], nail[0], nail[1], nail[2])
    return float(total)


@njit(cache=True, error_model="numpy")
def axial_shift(
    axial: float,
    s: Reals,
    w: Reals,
    nail: Reals,
    m: int,
    z: Reals,
    kind: Whole,
    rows: Reals,
    shift: Reals,
    load: Reals,
) -> None:
    """Add to `shift` and `load` what the compressed nail feels in the shape w at the stations s."""
    n = s.shape[0]
    h = np.zeros(n)
    for k in range(n - 1):
        pull = axial * (w[k + 1] - w[k]) / (s[k + 1] - s[k])
        h[k] -= pull
        h[k + 1] += pull
    moment = np.zeros(n)
    shear = 0.0
    for k in range(n - 2, -1, -1):
        shear += h[k + 1]
        moment[k] = moment[k + 1] + shear * (s[k + 1] - s[k])
    slope, offset = np.zeros(n), np.zeros(n)
    below = min(s[0], nail[0])
    slope[0] = moment[0] * (nail[1] * below + nail[2] * (s[0] - below))
    offset[0] = moment[0] * (
        nail[1] * (s[0] * below - 0.5 * below * below) + 0.5 * nail[2] * (s[0] - below) ** 2
    )
    for k in range(n - 1):
        span = s[k + 1] - s[k]
        soft = nail[1] if 0.5 * (s[k] + s[k + 1]) < nail[0] else nail[2]
        slope[k + 1] = slope[k] + soft * 0.5 * (moment[k] + moment[k + 1]) * span
        offset[k + 1] = offset[k] + slope[k] * span + soft * (2 * moment[k] + moment[k + 1]) * span**2 / 6.0
    joint = False
    for i in range(m):
        joint = joint or (kind[i] == JUMP and rows[i, 4] != 0.0)
    for k in range(n):
        load[1] += h[k] * s[k]
        if joint:
            load[4] += h[k] * max(s[k] - nail[0], 0.0)
    for i in range(m):
        zi = z[i]
        if kind[i] == JUMP:
            continue
        if zi <= s[0]:
            below = min(zi, nail[0])
            ang = moment[0] * (nail[1] * below + nail[2] * (zi - below))
            off = moment[0] * (nail[1] * (zi * below - 0.5 * below**2) + 0.5 * nail[2] * (zi - below) ** 2)
        elif zi >= s[n - 1]:
            ang = slope[n - 1]
            off = offset[n - 1] + ang * (zi - s[n - 1])
        else:
            k = np.searchsorted(s, zi, side="right") - 1
            x, span = zi - s[k], s[k + 1] - s[k]
            soft = nail[1] if 0.5 * (s[k] + s[k + 1]) < nail[0] else nail[2]
            rate = (moment[k + 1] - moment[k]) / span
            ang = slope[k] + soft * (moment[k] * x + 0.5 * rate * x * x)
            off = offset[k] + slope[k] * x + soft * (0.5 * moment[k] * x * x + rate * x**3 / 6.0)
        shift[i] += off if kind[i] == VALUE else ang


@njit(cache=True, error_model="numpy")
def axial_stations(start: float, end: float, z_step: float) -> Reals:
    """Stations along the compressed span, one of them at the step of the nail when it lies inside."""
    n = AXIAL_STATIONS
    if start < z_step < end:
        out = np.empty(2 * n - 1)
        for k in range(n):
            out[k] = start + (z_step - start) * k / (n - 1)
            out[n - 1 + k] = z_step + (end - z_step) * k / (n - 1)
        return out
    out = np.empty(n)
    for k in range(n):
        out[k] = start + (end - start) * k / (n - 1)
    return out


@njit(cache=True, error_model="numpy")
def compressed_span(geometry: Reals, locks: Reals) -> tuple[float, float]:
    """From the lock nearest the osteotomy in one fragment to that in the other; cut faces if none."""
    start, end, d = 0.0, geometry[LENGTH] + geometry[LENGTHENING], geometry[LENGTHENING]
    for s in range(locks.shape[0]):
        if locks[s, 0] == 0.0:
            start = max(start, locks[s, 1])
        else:
            end = min(end, locks[s, 1] + d)
    return start, end


@njit(cache=True, error_model="numpy")
def solve_rows(
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
    axial: float,
    span: tuple[float, float],
    dense: bool,
    g_dense: Reals,
    c_dense: Reals,
    source: Whole,
    count: int,
    shift: Reals,
    bowed: Reals,
    space: Any,
) -> tuple[int, int, float, float, bool]:
    """Contact of one plane, with axial compression settled on the load side when there is any.

    bowed : (2, 2 AXIAL_STATIONS) receives depth and offset of the compressed nail.
    """
    shift[:] = 0.0
    k, steps, mm, newton = solve_contact(
        m, z, kind, across, nail, rows, compliance, lo, hi, spring, spring_inverse, load, shift,
        dense, g_dense, c_dense, source, space, count,
    )  # fmt: skip
    if axial == 0.0:
        return k, steps, mm, newton, True
    s = axial_stations(span[0], span[1], nail[0])
    n = s.shape[0]
    own, whole = np.zeros(load.shape[0]), np.empty(load.shape[0])
    # x is the shape the load is made of, w the shape that load gives; settled when they are the same.
    w, x, change = np.empty(n), np.zeros(n), np.zeros(n)
    w_before, change_before = np.zeros(n), np.zeros(n)
    bend, straight = np.zeros(n), np.zeros(n, np.int64)
    growing = 0
    for turn in range(AXIAL_ROUNDS):
        q, force, active = space[1], space[2], space[4]
        largest, size, before, mixed = 0.0, 0.0, 0.0, 0.0
        for j in range(n):
            w[j] = nail_offset(s[j], q, k, z, kind, active, force, nail) + bend[j]
            change[j] = w[j] - x[j]
            largest = max(largest, abs(change[j]))
            size += change[j] * change[j]
            before += change_before[j] * change_before[j]
            mixed += change[j] * change_before[j]
        for j in range(bowed.shape[1]):
            bowed[0, j], bowed[1, j] = s[min(j, n - 1)], w[min(j, n - 1)]
        if turn > 0 and largest < AXIAL_SETTLED * max(1.0, np.max(np.abs(w))):
            return k, steps, mm, newton, True
        # A nail free to lean is pushed further every round until a wall stops it: stride on. No wall stops a
        # load beyond the critical one: there is no answer then.
        growing = growing + 1 if turn > 1 and mixed >= before else 0
        if not largest < AXIAL_LOST_MM:
            break
        weight = stride(turn, growing, largest, size, mixed, before)
        for j in range(n):
            x[j] = w[j] - weight * (w[j] - w_before[j])
            w_before[j], change_before[j] = w[j], change[j]
        shift[:] = 0.0
        own[:] = 0.0
        bend[:] = 0.0
        axial_shift(axial, s, x, nail, m, z, kind, rows, shift, own)
        axial_shift(axial, s, x, nail, n, s, straight, rows, bend, whole)
        for c in range(load.shape[0]):
            whole[c] = load[c] + own[c]
        k, more, mm, newton = solve_contact(
            m, z, kind, across, nail, rows, compliance, lo, hi, spring, spring_inverse, whole, shift,
            dense, g_dense, c_dense, source, space, k,
        )  # fmt: skip
        steps += more
    return k, steps, mm, newton, False
