"""Thousands of variants of one construct in both planes together, and their course with new bone."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from limbwright.mechanics.construct import Construct
from limbwright.mechanics.coupled import COUPLED_OUTCOME, CoupledProblem, coupled_problem
from limbwright.mechanics.plane_problem import FORCE_LIMIT_N, Reals
from limbwright.mechanics.solve import OUTCOMES, Outcome
from limbwright.mechanics.variant_table import SCREW_COLUMNS, variant_table

Columns = Mapping[str, ArrayLike | None]


@dataclass(frozen=True, slots=True)
class CoupledBatch:
    """Answers of n variants, both planes together; NaN where there is no number.

    Angulation and step are (n, 2), frontal then sagittal; signs and units as in `CoupledResult`.
    """

    angulation_deg: Reals
    step_mm: Reals
    outcome: NDArray[np.int64]
    """Index into `OUTCOMES`."""
    residual_mm: Reals
    residual_n: Reals
    thick_moment_nm: Reals
    thin_moment_nm: Reals

    def count(self, outcome: Outcome) -> int:
        """How many variants ended this way."""
        return int(np.sum(self.outcome == OUTCOMES.index(outcome)))


def solve_coupled_batch(
    construct: Construct | CoupledProblem, *, frontal: Columns, sagittal: Columns, **shared: ArrayLike
) -> CoupledBatch:
    """Solve many variants of a construct in both planes together, each proved as `solve_coupled` proves it.

    Parameters
    ----------
    construct : Construct or CoupledProblem
        The construct all variants start from.
    frontal, sagittal : mapping
        Columns of one plane, named as the arguments of `solve_batch`: moments and forces, walls, clearance
        and depth of its blocking screws (infinite clearance leaves a screw out), rest position of new bone.
    shared
        Columns of both planes: lengthening, nail, play, axial load, stiffness of new bone, by the same names.

    Returns
    -------
    CoupledBatch
        Arrays of length n, the common length of all columns.
    """
    from limbwright.mechanics.coupled_variants_kernel import solve_both

    problem = construct if isinstance(construct, CoupledProblem) else coupled_problem(construct)
    rows = max(
        (
            len(column)
            for part in (frontal, sagittal, shared)
            for name, given in part.items()
            if given is not None and (column := np.asarray(given)).ndim > (1 if name in SCREW_COLUMNS else 0)
        ),
        default=1,
    )
    tables = [
        variant_table(p, rows, **{**shared, **own})
        for p, own in zip(problem.planes, (frontal, sagittal), strict=True)
    ]
    a, b = problem.planes
    n, m = problem.stations, a.row_count + b.row_count
    out = np.empty((len(tables[0].geometry), len(COUPLED_OUTCOME)))
    last = (
        np.zeros(m), np.zeros(m, dtype=np.int64), np.zeros(10), np.zeros((n, 2)), np.zeros(m), np.zeros(m),
    )  # fmt: skip
    solve_both(
        np.stack([t.geometry for t in tables], axis=1),
        np.stack([t.loads for t in tables], axis=1),
        (a.entry_walls, a.moving_walls, b.entry_walls, b.moving_walls),
        a.stations,
        (a.locks, b.locks),
        (a.blockers, b.blockers),
        (tables[0].blocker_depth, tables[1].blocker_depth),
        (tables[0].blocker_clearance, tables[1].blocker_clearance),
        FORCE_LIMIT_N,
        out,
        last,
    )
    return CoupledBatch(
        angulation_deg=-np.degrees(out[:, :2]),
        step_mm=out[:, 2:4],
        outcome=out[:, 4].astype(np.int64),
        residual_mm=out[:, 5],
        residual_n=out[:, 6],
        thick_moment_nm=1e-3 * out[:, 7],
        thin_moment_nm=1e-3 * out[:, 8],
    )
