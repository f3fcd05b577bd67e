# ruff: noqa: PLR0917, PLR0915  a compiled loop is one function for speed
"""Compiled assembly: from a nail, two fragments and their screws to the contact rows of one plane.

Same internal signs and units as `contact_kernel`.
"""

import numpy as np
from numba import njit

from limbwright.mechanics.contact_kernel import JUMP, SLOPE, VALUE
from limbwright.mechanics.dense_kernel import Reals, Whole

# Columns of the geometry of a variant (see `plane_problem.GEOMETRY`).
(
    LENGTH,
    STEP_DEPTH,
    R_THICK,
    R_THIN,
    SOFT_THICK,
    SOFT_THIN,
    OSTEOTOMY,
    LENGTHENING,
    WIDENING,
    SHIFT_ENTRY,
    SHIFT_MOVING,
    LOCK_PLAY,
    JUMP_PLAY,
    BEND_DEPTH,
    BEND_TANGENT,
) = range(15)
# Columns of the load of a variant (see `plane_problem.LOADS`).
MOMENT, FORCE, LEVER, AXIAL, K_ANGLE, K_SHEAR, FREE_MOMENT, FREE_FORCE = range(8)
# Columns of the outcome of a variant (see `plane_problem.OUTCOME`).
(
    OUT_SLOPE,
    OUT_STEP,
    OUT_MM,
    OUT_N,
    OUT_STATUS,
    OUT_STEPS,
    OUT_THICK_MOMENT,
    OUT_THIN_MOMENT,
    OUT_WALL_FORCE,
    OUT_LARGEST_FORCE,
    OUT_A,
    OUT_B,
    OUT_JUMP,
) = range(13)

DETERMINED, NOTHING_HOLDS, UNDETERMINED, TOO_WIDE, FORCED, NOT_PROVED = range(6)
FREE_SPRING = np.array([1e-3, 10.0, 1e-3, 10.0, 10.0])  # N/mm, N mm/rad; weak against any load
FINAL_SHARE = 1e-3
WALL_COMPLIANCE = 1e-7  # mm/N; keeps rows at one depth apart
SLOPE_COMPLIANCE = 1e-11  # rad/(N mm)
PRELOAD_N = 1.0
SLIGHT_MOMENT, SLIGHT_FORCE = 10.0, 0.1  # N mm, N: below, the place inside the play is not determined


@njit(cache=True, error_model="numpy")
def between(x: float, xs: Reals, ys: Reals) -> float:
    """Linear interpolation, held constant outside."""
    n = xs.shape[0]
    if x <= xs[0]:
        return float(ys[0])
    if x >= xs[n - 1]:
        return float(ys[n - 1])
    low, high = 0, n - 1
    while high - low > 1:
        middle = (low + high) // 2
        if xs[middle] <= x:
            low = middle
        else:
            high = middle
    return float(ys[low] + (ys[high] - ys[low]) * (x - xs[low]) / (xs[high] - xs[low]))


@njit(cache=True, error_model="numpy")
def _put(
    i: int,
    depth: float,
    what: int,
    moving: float,
    z_cut: float,
    hinge: float,
    z: Reals,
    kind: Whole,
    rows: Reals,
) -> None:
    """Depth, kind and motion coefficients of row i; motions a, b, step u, slope, jump."""
    z[i], kind[i] = depth, what
    beyond = max(depth - hinge, 0.0)
    if what == VALUE:
        rows[i, 0], rows[i, 1], rows[i, 2] = 1.0, depth, -moving
        rows[i, 3], rows[i, 4] = -moving * (depth - z_cut), beyond
    elif what == SLOPE:
        rows[i, 0], rows[i, 1], rows[i, 2] = 0.0, 1.0, 0.0
        rows[i, 3], rows[i, 4] = -moving, 1.0 if beyond > 0.0 else 0.0
    else:
        rows[i, 0], rows[i, 1], rows[i, 2], rows[i, 3], rows[i, 4] = 0.0, 0.0, 0.0, 0.0, 1.0


@njit(cache=True, error_model="numpy")
def assemble(
    geometry: Reals,
    entry_walls: Reals,
    moving_walls: Reals,
    stations: Whole,
    locks: Reals,
    blockers: Reals,
    blocker_depth: Reals,
    blocker_clearance: Reals,
    z: Reals,
    kind: Whole,
    rows: Reals,
    compliance: Reals,
    lo: Reals,
    hi: Reals,
) -> int:
    """Write all rows of one variant in order wall stations, step of the nail, locks, joint play, blockers.

    locks : (n, 5) fragment, depth, kind, play, seat. blockers : (n, 4) fragment, sign, compliance, seat.
    Returns the first row whose bounds exclude each other, or -1.
    """
    z_step, z_cut = geometry[STEP_DEPTH], geometry[OSTEOTOMY] + geometry[LENGTHENING]
    d, half = geometry[LENGTHENING], 0.5 * geometry[WIDENING]
    hinge = z_step if geometry[JUMP_PLAY] > 0.0 else np.inf  # without play the joint is no motion of its own
    r_thick, r_thin = geometry[R_THICK], geometry[R_THIN]
    bend_depth, bend = geometry[BEND_DEPTH], geometry[BEND_TANGENT]
    i, bad = 0, -1
    for fragment in range(2):
        walls = entry_walls if fragment == 0 else moving_walls
        along = 0.0 if fragment == 0 else d
        shift = geometry[SHIFT_ENTRY] if fragment == 0 else geometry[SHIFT_MOVING]
        n = stations[fragment]
        last = walls.shape[1] - 1
        start = walls[0, 0] if fragment == 0 else geometry[OSTEOTOMY]
        end = geometry[OSTEOTOMY] if fragment == 0 else min(geometry[LENGTH], walls[0, last])
        extra = 1 if fragment == 1 else 0  # the corner of the thick segment, where it lies in the bone
        for s in range(n + extra):
            depth = start + (end - start) * s / (n - 1) if s < n else z_step - d
            inside = True
            if s == n:
                inside = start <= depth <= end
            zi = depth + along
            _put(i, zi, VALUE, float(fragment), z_cut, hinge, z, kind, rows)
            compliance[i] = WALL_COMPLIANCE
            if inside:
                radius = r_thick if zi <= z_step else r_thin
                shape = bend * max(bend_depth - zi, 0.0)
                lo[i] = between(depth, walls[0], walls[1]) - half + radius + shift - shape
                hi[i] = between(depth, walls[0], walls[2]) + half - radius + shift - shape
            else:
                lo[i], hi[i] = -np.inf, np.inf
            i += 1
    for s in range(locks.shape[0]):
        moving, depth, what, play, seat = locks[s, 0], locks[s, 1], int(locks[s, 2]), locks[s, 3], locks[s, 4]
        _put(i, depth + moving * d, what, moving, z_cut, hinge, z, kind, rows)
        play *= geometry[LOCK_PLAY]
        if what == SLOPE:
            play /= r_thick if z[i] <= z_step else r_thin
            compliance[i] = SLOPE_COMPLIANCE
        else:
            compliance[i] = WALL_COMPLIANCE
        lo[i], hi[i] = seat - play, seat + play
        i += 1
    _put(i, z_step, JUMP, 0.0, z_cut, hinge, z, kind, rows)
    lo[i], hi[i] = -geometry[JUMP_PLAY], geometry[JUMP_PLAY]
    if geometry[JUMP_PLAY] <= 0.0:
        rows[i, 4], lo[i], hi[i] = 0.0, -np.inf, np.inf
    compliance[i] = SLOPE_COMPLIANCE
    i += 1
    for s in range(blockers.shape[0]):
        moving, side = blockers[s, 0], blockers[s, 1]
        depth = blocker_depth[s]
        zi = depth + moving * d
        _put(i, zi, VALUE, moving, z_cut, hinge, z, kind, rows)
        # The gap was set when the screw went in, beside whatever radius lay there before any lengthening.
        placed = r_thick if depth <= z_step else r_thin
        now = r_thick if zi <= z_step else r_thin
        shape = bend * (max(bend_depth - depth, 0.0) - max(bend_depth - zi, 0.0))
        room = placed + blocker_clearance[s] - now
        lo[i] = -np.inf if side > 0 else -room + blockers[s, 3] + shape
        hi[i] = room + blockers[s, 3] + shape if side > 0 else np.inf
        compliance[i] = WALL_COMPLIANCE + blockers[s, 2]
        i += 1
    for r in range(i):
        if lo[r] > hi[r] + 1e-12:
            bad = r
            break
    return bad


@njit(cache=True, error_model="numpy")
def springs_and_load(
    geometry: Reals, loads: Reals, spring: Reals, spring_inverse: Reals, load: Reals
) -> None:
    """Stiffness of the free motions (weak springs and new bone) and the load on them.

    `spring_inverse` is for the search of the contacts, `spring` for the final answer.

    New bone acts between the two cut faces, half way along the gap; what it carries at rest is given apart.
    """
    arm = 0.5 * geometry[LENGTHENING]
    spring[:] = 0.0
    spring_inverse[:] = 0.0
    for c in range(5):
        spring[c, c] = FREE_SPRING[c]
        spring_inverse[c, c] = 1.0 / FREE_SPRING[c]
    spring[2, 2] += loads[K_SHEAR]
    spring[2, 3] = spring[3, 2] = -loads[K_SHEAR] * arm
    spring[3, 3] += loads[K_ANGLE] + loads[K_SHEAR] * arm * arm
    determinant = spring[2, 2] * spring[3, 3] - spring[2, 3] * spring[3, 2]
    spring_inverse[2, 2] = spring[3, 3] / determinant
    spring_inverse[3, 3] = spring[2, 2] / determinant
    spring_inverse[2, 3] = spring_inverse[3, 2] = -spring[2, 3] / determinant
    for c in range(5):  # the final answer needs them for free motions only, and much weaker
        spring[c, c] -= (1.0 - FINAL_SHARE) * FREE_SPRING[c]
    load[:] = 0.0
    load[2] = loads[FORCE] + loads[FREE_FORCE]
    load[3] = loads[MOMENT] + loads[FORCE] * loads[LEVER] + loads[FREE_MOMENT] - arm * loads[FREE_FORCE]
