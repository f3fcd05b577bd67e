"""Newton's method on the places that touch: finishes the coupled solve to rounding error.

Unknowns: the ten motions, at every touching wall station the place on its ellipse and the force square to it
there, and the force at every touching straight support. A contact force has no part along the wall.
"""

import numpy as np

from limbwright.mechanics.flexibility import flexibility
from limbwright.mechanics.plane_problem import Reals
from limbwright.mechanics.spatial_rows import SpatialRows, Whole

ROUNDS = 30
SETTLED = 1e-12
TOUCHING_N = 1e-4


def finished(
    rows: SpatialRows, motion: Reals, wall_force: Reals, row_force: Reals
) -> tuple[Reals, Reals, Reals, float, float] | None:
    """Motions, wall forces, straight forces, worst violation [mm] and worst pull [N]; None if it fails.

    motion : (10,) start. wall_force : (stations, 2) start. row_force : (m,) start.
    """
    n = rows.stations
    size = np.hypot(wall_force[:, 0], wall_force[:, 1])
    touching = np.flatnonzero((size > TOUCHING_N) & np.isfinite(rows.centre[:, 0]))
    straight = 2 * n + np.flatnonzero(row_force[2 * n :] != 0.0)
    held = np.concatenate((touching, n + touching, straight))
    t, h = len(touching), len(held)
    g = flexibility(
        rows.z[held], rows.kind[held], rows.z[held], rows.kind[held],
        step_depth_mm=rows.nail[0], thick_softness=rows.nail[1], thin_softness=rows.nail[2],
    ) * (rows.across[held] @ rows.across[held].T)  # fmt: skip
    g[rows.kind[held] == 2] = 0.0
    g[:, rows.kind[held] == 2] = 0.0
    give = g + np.diag(rows.compliance[held])
    bound = np.where(row_force[straight] > 0, rows.hi[straight], rows.lo[straight])
    half, centre = rows.half[touching], rows.centre[touching]
    direction = wall_force[touching] / size[touching, None] if t else np.zeros((0, 2))
    angle = np.arctan2(half[:, 1] * direction[:, 1], half[:, 0] * direction[:, 0])
    unknown = np.concatenate((motion, angle, size[touching], row_force[straight]))
    for _ in range(ROUNDS):
        residual, jacobian, _ = _system(
            rows, unknown, half=half, centre=centre, give=give, bound=bound, held=held
        )
        try:
            change = np.linalg.solve(jacobian, residual)
        except np.linalg.LinAlgError:
            return None
        if not np.isfinite(change).all() or np.abs(change[10 : 10 + t]).max(initial=0.0) > 1.0:
            return None
        unknown = unknown - change
        if np.abs(change[:10] / np.array([1, 1e-3, 1, 1e-3, 1e-3] * 2)).max() < SETTLED * 1e3:
            break
    else:
        return None
    _, _, force = _system(rows, unknown, half=half, centre=centre, give=give, bound=bound, held=held)
    wall, row = np.zeros((n, 2)), np.zeros(len(rows.z))
    wall[touching] = np.column_stack((force[:t], force[t : 2 * t]))
    row[straight] = force[2 * t : h]
    violation, pull = _checked(rows, unknown, t, held=held, force=force, straight=straight, start=row_force)
    return unknown[:10], wall, row, violation, pull


def _system(
    rows: SpatialRows,
    unknown: Reals,
    *,
    half: Reals,
    centre: Reals,
    give: Reals,
    bound: Reals,
    held: Whole,
) -> tuple[Reals, Reals, Reals]:
    """Residual, Jacobian and the forces on the held rows."""
    t, r = len(half), rows.motion[held]
    q, angle, size, line = (
        unknown[:10],
        unknown[10 : 10 + t],
        unknown[10 + t : 10 + 2 * t],
        unknown[10 + 2 * t :],
    )
    c, s = np.cos(angle), np.sin(angle)
    e = np.column_stack((c / half[:, 0], s / half[:, 1]))
    de = np.column_stack((-s / half[:, 0], c / half[:, 1]))
    length = np.hypot(e[:, 0], e[:, 1])[:, None]
    normal = e / length
    turned = de / length - e * np.sum(e * de, axis=1, keepdims=True) / length**3
    force = np.concatenate((size * normal[:, 0], size * normal[:, 1], line))
    target = np.concatenate((centre[:, 0] + half[:, 0] * c, centre[:, 1] + half[:, 1] * s, bound))
    h, k = len(force), len(line)
    by_angle, by_size, by_line = np.zeros((h, t)), np.zeros((h, t)), np.zeros((h, k))
    i = np.arange(t)
    by_angle[i, i], by_angle[t + i, i] = size * turned[:, 0], size * turned[:, 1]
    by_size[i, i], by_size[t + i, i] = normal[:, 0], normal[:, 1]
    by_line[2 * t + np.arange(k), np.arange(k)] = 1.0
    target_by_angle = np.zeros((h, t))
    target_by_angle[i, i], target_by_angle[t + i, i] = -half[:, 0] * s, half[:, 1] * c
    forces = np.concatenate((by_angle, by_size, by_line), axis=1)
    upper = np.concatenate((r, -give @ forces), axis=1)
    upper[:, 10 : 10 + t] -= target_by_angle
    lower = np.concatenate((rows.spring, r.T @ forces), axis=1)
    residual = np.concatenate(
        (r @ q - give @ force + rows.shift[held] - target, r.T @ force + rows.spring @ q - rows.load)
    )
    return residual, np.concatenate((upper, lower)), force


def _checked(
    rows: SpatialRows, unknown: Reals, t: int, *, held: Whole, force: Reals, straight: Whole, start: Reals
) -> tuple[float, float]:
    """Worst violation over all rows and stations, and worst pulling contact."""
    g = flexibility(
        rows.z, rows.kind, rows.z[held], rows.kind[held],
        step_depth_mm=rows.nail[0], thick_softness=rows.nail[1], thin_softness=rows.nail[2],
    ) * (rows.across @ rows.across[held].T)  # fmt: skip
    g[rows.kind == 2] = 0.0
    g[:, rows.kind[held] == 2] = 0.0
    y = rows.motion @ unknown[:10] - g @ force + rows.shift
    y[held] -= rows.compliance[held] * force
    weight = np.where(rows.kind == 0, 1.0, 50.0)
    beyond = np.maximum(y - rows.hi, rows.lo - y) * weight
    outside = rows.outside_mm(rows.wall_offset(y))
    violation = max(float(beyond[2 * rows.stations :].max(initial=0.0)), float(outside.max(initial=0.0)))
    line = force[2 * t :] * np.sign(start[straight])
    pull = max(float((-unknown[10 + t : 10 + 2 * t]).max(initial=0.0)), float((-line).max(initial=0.0)))
    return violation, pull
