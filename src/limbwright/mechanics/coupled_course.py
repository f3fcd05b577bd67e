"""The course of many variants with both planes together: new bone remembers each variant's own drift."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from limbwright.mechanics.construct import Construct
from limbwright.mechanics.coupled import CoupledProblem, coupled_problem
from limbwright.mechanics.coupled_batch import solve_coupled_batch
from limbwright.mechanics.rest import rest_after

Reals = NDArray[np.float64]
STAGED = ("lengthening_mm", "moment_nm", "force_n", "axial_n", "angular_nm_per_deg", "shear_n_per_mm")
"""Columns given by stage, (S,) or (n, S); all others hold throughout."""


@dataclass(frozen=True, slots=True)
class CoupledCourse:
    """Answers of n variants along the course, (n, stages, 2): frontal, then sagittal; NaN where unknown."""

    angulation_deg: Reals
    step_mm: Reals
    outcome: NDArray[np.int64]
    """(n, stages) index into `OUTCOMES`."""

    @property
    def oblique_deg(self) -> Reals:
        """Angulation in its own plane, (n, stages); infinite without a number."""
        size = np.hypot(self.angulation_deg[..., 0], self.angulation_deg[..., 1])
        return np.asarray(np.where(np.isnan(size), np.inf, size))


def coupled_course(
    construct: Construct | CoupledProblem,
    *,
    frontal: Mapping[str, ArrayLike],
    sagittal: Mapping[str, ArrayLike],
    **shared: ArrayLike,
) -> CoupledCourse:
    """Forecast many variants of one construct along the course, both planes together.

    Parameters
    ----------
    frontal, sagittal, shared
        Columns as in `solve_coupled_batch`, those of `STAGED` by stage; `lengthening_mm` is shared.
    """
    problem = construct if isinstance(construct, CoupledProblem) else coupled_problem(construct)
    stages = np.asarray(shared["lengthening_mm"]).shape[-1]
    before = (np.zeros(1), np.zeros(1))
    rest = [[np.zeros(1), np.zeros(1)] for _ in range(2)]
    place = [[np.zeros(1), np.zeros(1)] for _ in range(2)]
    solved = []
    for s in range(stages):
        common = _at(shared, s)
        stiffness = [np.asarray(common.get(k, 0.0)) for k in ("angular_nm_per_deg", "shear_n_per_mm")]
        own = []
        for plane, part in enumerate((frontal, sagittal)):
            for i in range(2):
                rest[plane][i] = rest_after(
                    stiffness_before=before[i],
                    rest_before=rest[plane][i],
                    stiffness_now=stiffness[i],
                    place_before=place[plane][i],
                )
            angle, shear = rest[plane]
            own.append({**_at(part, s), "rest_angulation_deg": angle, "rest_shear_mm": shear})
        found = solve_coupled_batch(problem, frontal=own[0], sagittal=own[1], **common)
        for plane in range(2):
            angle = found.angulation_deg[:, plane]
            middle = found.step_mm[:, plane] + np.radians(angle) * 0.5 * np.asarray(common["lengthening_mm"])
            place[plane] = [angle, middle]
        before = (stiffness[0], stiffness[1])
        solved.append(found)
    n = max(len(f.outcome) for f in solved)
    return CoupledCourse(
        angulation_deg=np.stack([np.broadcast_to(f.angulation_deg, (n, 2)) for f in solved], axis=1),
        step_mm=np.stack([np.broadcast_to(f.step_mm, (n, 2)) for f in solved], axis=1),
        outcome=np.stack([np.broadcast_to(f.outcome, (n,)) for f in solved], axis=1),
    )


def _at(part: Mapping[str, ArrayLike], stage: int) -> dict[str, ArrayLike]:
    return {k: np.asarray(v)[..., stage] if k in STAGED else v for k, v in part.items()}
