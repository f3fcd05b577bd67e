"""Newton's method on the places that touch: finishes the coupled solve to rounding error.

Unknowns: the ten motions, at every touching wall station the place on its ellipse and the force square to it
there, and the force at every touching straight support. A contact force has no part along the wall.
"""

from dataclasses import dataclass

import numpy as np

from limbwright.mechanics.flexibility import flexibility
from limbwright.mechanics.plane_problem import Reals
from limbwright.mechanics.spatial_rows import SpatialRows, Whole

ROUNDS = 30
SETTLED = 1e-9  # mm, or mrad
EXCHANGES = 12
LARGEST_TURN = 0.5  # rad
SEED_N = 1.0  # first guess of a force that a place newly touched will carry
TOUCHING_N = 1e-4


@dataclass(frozen=True, slots=True)
class Touch:
    """Motions and forces, with the proof: worst violation and worst pull, and where each is."""

    motion: Reals
    """(10,) motions."""
    wall_force: Reals
    """(stations, 2) force at the wall stations."""
    row_force: Reals
    """(m,) force at the straight rows."""
    violation_mm: float
    pull_n: float
    worst_station: int
    """Wall station furthest outside, -1 if a straight row is worse."""
    worst_row: int
    outward: Reals
    """Place of the worst station from the middle of its canal, or bound sign of the worst row first."""


def finished(
    rows: SpatialRows, motion: Reals, wall_force: Reals, row_force: Reals, *, small_mm: float, small_n: float
) -> Touch | None:
    """Solve on the places that touch, exchange what is on the wrong side, until proved; None if it fails.

    motion : (10,) start. wall_force : (stations, 2) start. row_force : (m,) start. small_mm, small_n : proof.
    """
    wall, row, found = wall_force.copy(), row_force.copy(), None
    for _ in range(EXCHANGES):
        found = _solved(rows, motion, wall, row)
        if found is None or (found.violation_mm < small_mm and found.pull_n < small_n):
            return found
        wall, row = found.wall_force.copy(), found.row_force.copy()
        if found.pull_n >= small_n:
            radial = np.sum(wall * np.nan_to_num(rows.toward(wall_force)), axis=1)
            line = row * np.sign(row_force)
            if radial.min() <= line.min():
                wall[np.argmin(radial)] = 0.0
            else:
                row[np.argmin(line)] = 0.0
        elif found.worst_station >= 0:
            wall[found.worst_station] = SEED_N * found.outward / np.hypot(*found.outward)
        else:
            row[found.worst_row] = SEED_N * found.outward[0]
        motion, wall_force, row_force = found.motion, wall, row
    return found


def _solved(rows: SpatialRows, motion: Reals, wall_force: Reals, row_force: Reals) -> Touch | None:
    """Newton's method on one set of touching places."""
    n = rows.stations
    size = np.hypot(wall_force[:, 0], wall_force[:, 1])
    touching = np.flatnonzero((size > TOUCHING_N) & np.isfinite(rows.centre[:, 0]))
    straight = 2 * n + np.flatnonzero(np.abs(row_force[2 * n :]) > TOUCHING_N)
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
        if not np.isfinite(change).all():
            return None
        # A place does not run further round its ellipse than this in one step.
        unknown = unknown - change * min(1.0, LARGEST_TURN / np.abs(change[10 : 10 + t]).max(initial=1e-300))
        if np.abs(change[:10] / np.array([1, 1e-3, 1, 1e-3, 1e-3] * 2)).max() < SETTLED:
            break
    else:
        return None
    _, _, force = _system(rows, unknown, half=half, centre=centre, give=give, bound=bound, held=held)
    wall, row = np.zeros((n, 2)), np.zeros(len(rows.z))
    wall[touching] = np.column_stack((force[:t], force[t : 2 * t]))
    row[straight] = force[2 * t : h]
    y = _displacement(rows, unknown[:10], held, force)
    weight = np.where(rows.kind == 0, 1.0, 50.0)
    beyond = np.maximum(y - rows.hi, rows.lo - y) * weight
    beyond[: 2 * n] = -np.inf
    offset = rows.wall_offset(y)
    outside = rows.outside_mm(offset)
    worst_row, worst_station = int(np.argmax(beyond)), int(np.argmax(outside))
    at_wall = outside[worst_station] >= beyond[worst_row]
    line = force[2 * t :] * np.sign(row_force[straight])
    return Touch(
        motion=unknown[:10],
        wall_force=wall,
        row_force=row,
        violation_mm=max(float(beyond[worst_row]), float(outside[worst_station]), 0.0),
        pull_n=max(float((-unknown[10 + t : 10 + 2 * t]).max(initial=0.0)), float((-line).max(initial=0.0))),
        worst_station=worst_station if at_wall else -1,
        worst_row=worst_row,
        outward=offset[worst_station]
        if at_wall
        else np.array([1.0 if y[worst_row] > rows.hi[worst_row] else -1.0, 0.0]),
    )


def _displacement(rows: SpatialRows, motion: Reals, held: Whole, force: Reals) -> Reals:
    """Relative displacement of every row."""
    g = flexibility(
        rows.z, rows.kind, rows.z[held], rows.kind[held],
        step_depth_mm=rows.nail[0], thick_softness=rows.nail[1], thin_softness=rows.nail[2],
    ) * (rows.across @ rows.across[held].T)  # fmt: skip
    g[rows.kind == 2] = 0.0
    g[:, rows.kind[held] == 2] = 0.0
    y = rows.motion @ motion - g @ force + rows.shift
    y[held] -= rows.compliance[held] * force
    return np.asarray(y)


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
