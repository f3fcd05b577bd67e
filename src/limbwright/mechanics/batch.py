"""Thousands of variants of one construct in one plane, solved in one compiled loop on one core."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from limbwright.mechanics.construct import Construct
from limbwright.mechanics.nail import second_moment_mm4
from limbwright.mechanics.plane import Plane
from limbwright.mechanics.plane_problem import (
    FORCE_LIMIT_N,
    OUTCOME_COLUMNS,
    PlaneProblem,
    Reals,
    plane_problem,
)
from limbwright.mechanics.solve import OUTCOMES, Outcome
from limbwright.mechanics.variant_table import variant_table


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
    table = variant_table(
        problem,
        moment_nm=moment_nm,
        force_n=force_n,
        force_beyond_osteotomy_mm=force_beyond_osteotomy_mm,
        axial_n=axial_n,
        lengthening_mm=lengthening_mm,
        osteotomy_depth_mm=osteotomy_depth_mm,
        thick_diameter_mm=thick_diameter_mm,
        thin_diameter_mm=thin_diameter_mm,
        stiffness_factor=stiffness_factor,
        canal_widening_mm=canal_widening_mm,
        entry_wall_shift_mm=entry_wall_shift_mm,
        moving_wall_shift_mm=moving_wall_shift_mm,
        lock_play_factor=lock_play_factor,
        blocking_clearance_mm=blocking_clearance_mm,
        blocking_depth_mm=blocking_depth_mm,
        angular_nm_per_deg=angular_nm_per_deg,
        shear_n_per_mm=shear_n_per_mm,
        rest_angulation_deg=rest_angulation_deg,
        rest_shear_mm=rest_shear_mm,
    )
    n = len(table.geometry)
    out = np.empty((n, OUTCOME_COLUMNS))
    support = np.empty((n, len(problem.locks) + len(problem.blockers)))
    solve_variants(
        table.geometry,
        table.loads,
        problem.entry_walls,
        problem.moving_walls,
        problem.stations,
        problem.locks,
        problem.blockers,
        table.blocker_depth,
        table.blocker_clearance,
        FORCE_LIMIT_N,
        out,
        support,
        np.empty((6, problem.row_count)),
    )
    return batch_result(plane, out, support, len(problem.locks))


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
