"""Thousands of variants of one construct in one plane, solved in one compiled loop on one core."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from limbwright.error import Contradiction
from limbwright.mechanics.construct import Construct
from limbwright.mechanics.nail import second_moment_mm4
from limbwright.mechanics.plane import Plane
from limbwright.mechanics.plane_problem import (
    FORCE_LIMIT_N,
    OUTCOME_COLUMNS,
    PlaneProblem,
    Reals,
    geometry_row,
    plane_problem,
)
from limbwright.mechanics.solve import OUTCOMES, Outcome


@dataclass(frozen=True, slots=True)
class BatchResult:
    """Answers of n variants; arrays (n,) float64, NaN where the outcome carries no number.

    Signs and units as in `PlaneResult`.
    """

    plane: Plane
    angulation_deg: Reals
    step_mm: Reals
    outcome: NDArray[np.int64]
    """Index into `OUTCOMES`."""
    residual_mm: Reals
    residual_n: Reals
    thick_moment_nm: Reals
    thin_moment_nm: Reals
    largest_wall_force_n: Reals
    locking_force_n: Reals
    """(n, locks) force of each locking screw on the nail, or couple [N mm] where it holds only tilt."""
    blocking_force_n: Reals
    """(n, blockers) force of each blocking screw of this plane on the nail, lateral + or anterior +."""
    slope_rad: Reals
    """Slope d(offset)/d(depth) of the moving fragment; written even where the play leaves it open."""

    def shift_mm(self, beyond_osteotomy_mm: float) -> Reals:
        """Offset of the moving fragment's axis this far beyond the osteotomy, per variant."""
        return self.step_mm + self.slope_rad * beyond_osteotomy_mm

    def count(self, outcome: Outcome) -> int:
        """How many variants ended this way."""
        return int(np.sum(self.outcome == OUTCOMES.index(outcome)))


def solve_batch(
    construct: Construct | PlaneProblem,
    plane: Plane,
    *,
    moment_nm: ArrayLike,
    force_n: ArrayLike = 0.0,
    force_beyond_osteotomy_mm: ArrayLike = 0.0,
    axial_n: ArrayLike = 0.0,
    lengthening_mm: ArrayLike = 0.0,
    osteotomy_depth_mm: ArrayLike | None = None,
    thick_diameter_mm: ArrayLike | None = None,
    thin_diameter_mm: ArrayLike | None = None,
    stiffness_factor: ArrayLike = 1.0,
    canal_widening_mm: ArrayLike = 0.0,
    entry_wall_shift_mm: ArrayLike = 0.0,
    moving_wall_shift_mm: ArrayLike = 0.0,
    lock_play_factor: ArrayLike = 1.0,
    blocking_clearance_mm: ArrayLike | None = None,
    blocking_depth_mm: ArrayLike | None = None,
    angular_nm_per_deg: ArrayLike = 0.0,
    shear_n_per_mm: ArrayLike = 0.0,
    rest_angulation_deg: ArrayLike = 0.0,
    rest_shear_mm: ArrayLike = 0.0,
) -> BatchResult:
    """Solve many variants of a construct in one plane.

    Parameters
    ----------
    construct : Construct or PlaneProblem
        The construct all variants start from.
    plane : Plane
        Plane to solve.
    moment_nm, force_n, force_beyond_osteotomy_mm, axial_n : scalar or (n,)
        Load, as in `Load`.
    lengthening_mm, osteotomy_depth_mm, thick_diameter_mm, thin_diameter_mm : scalar or (n,)
        Geometry; None keeps the construct's own. Locks stay where they are. A changed diameter keeps the
        bore's share of it.
    stiffness_factor : scalar or (n,)
        Factor on EI of both segments.
    canal_widening_mm : scalar or (n,)
        Added to the canal's width, half on each side.
    entry_wall_shift_mm, moving_wall_shift_mm : scalar or (n,)
        Walls of a fragment moved sideways against the nail's line: error of the path.
    lock_play_factor : scalar or (n,)
        Factor on the play of every locking screw.
    blocking_clearance_mm, blocking_depth_mm : (s,) or (n, s), optional
        Clearance and depth of the s blocking screws that act in this plane, in their order.
    angular_nm_per_deg, shear_n_per_mm, rest_angulation_deg, rest_shear_mm : scalar or (n,)
        New bone, as in `Regenerate`.

    Returns
    -------
    BatchResult
        Arrays of length n, the common length of all arguments.
    """
    from limbwright.mechanics.variants_kernel import solve_variants

    problem = construct if isinstance(construct, PlaneProblem) else plane_problem(construct, plane)
    slots = len(problem.blockers)
    clearance = problem.blocker_clearance if blocking_clearance_mm is None else blocking_clearance_mm
    depth = problem.blocker_depth if blocking_depth_mm is None else blocking_depth_mm
    columns = [
        np.asarray(x, dtype=np.float64)
        for x in (
            moment_nm,
            force_n,
            force_beyond_osteotomy_mm,
            axial_n,
            lengthening_mm,
            problem.geometry[6] if osteotomy_depth_mm is None else osteotomy_depth_mm,
            2.0 * problem.geometry[2] if thick_diameter_mm is None else thick_diameter_mm,
            2.0 * problem.geometry[3] if thin_diameter_mm is None else thin_diameter_mm,
            stiffness_factor,
            canal_widening_mm,
            entry_wall_shift_mm,
            moving_wall_shift_mm,
            lock_play_factor,
            angular_nm_per_deg,
            shear_n_per_mm,
            rest_angulation_deg,
            rest_shear_mm,
        )
    ]
    clearance, depth = np.asarray(clearance, dtype=np.float64), np.asarray(depth, dtype=np.float64)
    rows = [
        1,
        *(c.shape[0] for c in columns if c.ndim),
        *(a.shape[0] for a in (clearance, depth) if a.ndim == 2),
    ]
    n = max(rows)
    _require_lengths(rows, n)
    table = np.empty((len(columns), n))
    for row, column in zip(table, columns, strict=True):
        row[:] = column
    geometry = np.tile(geometry_row(problem, 0.0), (n, 1))
    geometry[:, 7] = table[4]
    geometry[:, 12] = problem.joint_clearance_mm / np.maximum(problem.joint_engagement_mm - table[4], 1.0)
    geometry[:, 6] = table[5]
    geometry[:, 2], geometry[:, 3] = 0.5 * table[6], 0.5 * table[7]
    geometry[:, 4] *= (problem.geometry[2] / geometry[:, 2]) ** 4 / table[8]
    geometry[:, 5] *= (problem.geometry[3] / geometry[:, 3]) ** 4 / table[8]
    geometry[:, 8:12] = table[9:13].T
    _require_screws_in_fragment(problem, table[5], np.broadcast_to(depth, (n, slots)))
    out = np.empty((n, OUTCOME_COLUMNS))
    support = np.empty((n, len(problem.locks) + slots))
    solve_variants(
        geometry,
        _load_table(table),
        problem.entry_walls,
        problem.moving_walls,
        problem.stations,
        problem.locks,
        problem.blockers,
        np.array(np.broadcast_to(depth, (n, slots)), order="C"),
        np.array(np.broadcast_to(clearance, (n, slots)), order="C"),
        FORCE_LIMIT_N,
        out,
        support,
        np.empty((6, problem.row_count)),
    )
    return batch_result(plane, out, support, len(problem.locks))


def _load_table(table: Reals) -> Reals:
    """Kernel columns of loads and new bone; the same conversion as `load_row`, for whole columns."""
    loads = np.empty((table.shape[1], 8))
    per_rad = table[13] * 1000.0 * 180.0 / math.pi
    loads[:, 0], loads[:, 1], loads[:, 2], loads[:, 3] = -1000.0 * table[0], table[1], table[2], table[3]
    loads[:, 4], loads[:, 5] = per_rad, table[14]
    loads[:, 6], loads[:, 7] = -per_rad * np.radians(table[15]), table[14] * table[16]
    return loads


def batch_result(plane: Plane, out: Reals, support: Reals, locks: int) -> BatchResult:
    """Named columns of the kernel's outcome table."""
    outcome = np.nan_to_num(out[:, 4], nan=0.0).astype(np.int64)
    numbered = (outcome == OUTCOMES.index(Outcome.DETERMINED)) | (
        outcome == OUTCOMES.index(Outcome.NAIL_FORCED)
    )
    return BatchResult(
        plane=plane,
        angulation_deg=np.where(numbered, -np.degrees(out[:, 0]), np.nan),
        step_mm=np.where(numbered, out[:, 1], np.nan),
        outcome=outcome,
        residual_mm=out[:, 2],
        residual_n=out[:, 3],
        thick_moment_nm=1e-3 * out[:, 6],
        thin_moment_nm=1e-3 * out[:, 7],
        largest_wall_force_n=out[:, 8],
        locking_force_n=-support[:, :locks],
        blocking_force_n=-support[:, locks:],
        slope_rad=out[:, 0],
    )


def peak_stress_mpa(construct: Construct, frontal: BatchResult, sagittal: BatchResult) -> Reals:
    """Bending stress of the nail, the peak moments of both planes as if in one section: a bound."""
    nail = construct.nail
    thick = np.hypot(frontal.thick_moment_nm, sagittal.thick_moment_nm)
    thin = np.hypot(frontal.thin_moment_nm, sagittal.thin_moment_nm)
    i_thick = second_moment_mm4(nail.thick_diameter_mm, nail.thick_bore_mm)
    i_thin = second_moment_mm4(nail.thin_diameter_mm, nail.thin_bore_mm)
    return np.asarray(
        500.0 * np.maximum(thick * nail.thick_diameter_mm / i_thick, thin * nail.thin_diameter_mm / i_thin)
    )


def _require_lengths(rows: Sequence[int], n: int) -> None:
    if any(r not in (1, n) for r in rows):
        raise Contradiction(
            f"columns of {', '.join(str(r) for r in sorted(set(rows)))} variants.",
            where="batch",
            next_step="Give every column one value, or one for each variant.",
        )


def _require_screws_in_fragment(problem: PlaneProblem, cut: Reals, depth: Reals) -> None:
    """No variant may carry an osteotomy past a screw."""
    cut_low, cut_high = float(cut.min()), float(cut.max())
    places = [(s[0] > 0, s[1], s[1]) for s in problem.locks]
    places += [
        (b[0] > 0, float(depth[:, j].min()), float(depth[:, j].max())) for j, b in enumerate(problem.blockers)
    ]
    for moving, low, high in places:
        if (moving and low < cut_high) or (not moving and high > cut_low):
            raise Contradiction(
                f"a screw at {low:g}-{high:g} mm and the osteotomy at {cut_low:g}-{cut_high:g} mm cross.",
                where="batch",
                next_step="Narrow the range of osteotomy or screw depths.",
            )
