"""One elastic solve in one plane: where the moving fragment goes, what touches, and the proof of it."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from limbwright.mechanics.construct import Construct
from limbwright.mechanics.envelope import Envelope, envelope_of
from limbwright.mechanics.load import Load, Regenerate
from limbwright.mechanics.nail_shape import nail_offset_mm
from limbwright.mechanics.plane import Fragment, Plane, angulation_deg
from limbwright.mechanics.plane_problem import (
    FORCE_LIMIT_N,
    OUTCOME_COLUMNS,
    PlaneProblem,
    Reals,
    geometry_row,
    load_row,
    plane_problem,
    require_lengthening,
)
from limbwright.quantity import Value

TOUCHING_N = 0.01  # a contact below this force is not reported


class Outcome(StrEnum):
    """How a contact problem ended; only `determined` and `nail forced` carry a number."""

    DETERMINED = "determined"
    NOTHING_HOLDS = "nothing holds the fragment"
    UNDETERMINED = "undetermined within the play"
    NAIL_WIDER_THAN_CANAL = "nail wider than the canal or supports exclude each other"
    NAIL_FORCED = "nail forced: the geometry does not fit"
    NOT_PROVED = "no proved solution"


OUTCOMES = tuple(Outcome)


class Support(StrEnum):
    """What the nail touches."""

    WALL = "canal wall"
    LOCKING_SCREW = "locking screw"
    BLOCKING_SCREW = "blocking screw"
    JOINT = "joint of the nail"


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact(Value):
    """One place where the nail is held."""

    support: Support
    """What holds it."""
    fragment: Fragment
    """Fragment it belongs to; the joint of the nail counts to the entry fragment."""
    index: int
    """Number of the screw among its kind in the construct and plane; -1 for a wall."""
    depth_mm: float
    """Depth along the fragment, as before lengthening."""
    force_n: float
    """Force on the nail, lateral + or anterior +; 0 for a couple."""
    couple_nm: float
    """Couple on the nail at a screw that holds its tilt, or at its joint; toward varus or procurvatum +."""


@dataclass(frozen=True, slots=True)
class PlaneResult:
    """Answer of one plane.

    `angulation_deg` and `step_mm` are None unless the outcome carries a number; `envelope` is given when the
    place inside the play is not determined.
    """

    plane: Plane
    outcome: Outcome
    lengthening_mm: float
    angulation_deg: float | None
    """Angulation of the moving fragment, varus + or procurvatum +. [deg]"""
    step_mm: float | None
    """Step at the cut: offset of the moving fragment's axis at its cut face, lateral + or anterior +."""
    thick_moment_nm: float
    """Largest bending moment in the thick segment, magnitude."""
    thin_moment_nm: float
    """Largest bending moment in the thin segment, magnitude."""
    residual_mm: float
    """Largest violation of a bound in the solution: proof that it is one."""
    residual_n: float
    """Largest pulling contact force: proof that it is the best one."""
    steps: int
    envelope: Envelope | None
    where: str
    """Place of the trouble, for outcomes without a number."""
    _problem: PlaneProblem
    _rows: Reals
    _motion: Reals

    def shift_mm(self, beyond_osteotomy_mm: float) -> float:
        """Offset of the moving fragment's axis this far beyond the osteotomy, lateral + or anterior +."""
        return float(self._motion[2] + self._motion[3] * beyond_osteotomy_mm)

    @property
    def contacts(self) -> tuple[Contact, ...]:
        """Places that hold the nail, from the entry on."""
        return _contacts(self)

    def nail_offset_mm(self, depth_mm: Reals) -> Reals:
        """Offset of the nail's centre line at depths along the nail, in the entry fragment's frame.

        depth_mm : (n,) depth from the nail's entry end, up to its length plus the lengthening.
        """
        rows, problem = self._rows, self._problem
        geometry = geometry_row(problem, self.lengthening_mm)
        moving = [float(_owner(problem, i)[1] is Fragment.MOVING) for i in range(rows.shape[1])]
        return nail_offset_mm(
            np.asarray(depth_mm, dtype=np.float64),
            geometry=geometry,
            z=rows[0],
            kind=rows[1].astype(np.int64),
            force=rows[5],
            y=rows[4],
            moving=np.array(moving),
            motion=self._motion,
        )


def solve(
    construct: Construct,
    plane: Plane,
    load: Load,
    *,
    lengthening_mm: float = 0.0,
    regenerate: Regenerate | None = None,
) -> PlaneResult:
    """Solve one plane of a construct under one load.

    Parameters
    ----------
    construct : Construct
        Nail, fragments, screws.
    plane : Plane
        Plane to solve alone; see `coupled` for both together.
    load : Load
        Load on the moving fragment, signs of the package.
    lengthening_mm : float
        Lengthening so far, 0 or more.
    regenerate : Regenerate, optional
        New bone.

    Returns
    -------
    PlaneResult
        Named outcome with residuals; never a number where the model has none.

    Raises
    ------
    OutOfRange
        If the lengthening is negative or draws the rod out of the thick segment.

    Notes
    -----
    Minimises the bending energy of the nail less the work of the load over all positions in which the nail
    stays inside its walls and supports. Frictionless, small rotations, rigid bone.
    """
    return solve_problem(
        plane_problem(construct, plane), load, lengthening_mm=lengthening_mm, regenerate=regenerate
    )


def solve_problem(
    problem: PlaneProblem, load: Load, *, lengthening_mm: float = 0.0, regenerate: Regenerate | None = None
) -> PlaneResult:
    """`solve` for arrays prepared once with `plane_problem`; for many loads on one construct."""
    from limbwright.mechanics.variants_kernel import solve_variants

    require_lengthening(lengthening_mm)
    geometry = geometry_row(problem, lengthening_mm)
    m = problem.row_count
    out = np.empty((1, OUTCOME_COLUMNS))
    support = np.empty((1, len(problem.locks) + len(problem.blockers)))
    rows = np.empty((6, m))
    solve_variants(
        geometry[None, :],
        load_row(load, regenerate)[None, :],
        problem.entry_walls,
        problem.moving_walls,
        problem.stations,
        problem.locks,
        problem.blockers,
        problem.blocker_depth[None, :],
        problem.blocker_clearance[None, :],
        FORCE_LIMIT_N,
        out,
        support,
        rows,
    )
    o = out[0].tolist()
    outcome = OUTCOMES[int(o[4])]
    numbered = outcome in (Outcome.DETERMINED, Outcome.NAIL_FORCED)
    return PlaneResult(
        plane=problem.plane,
        outcome=outcome,
        lengthening_mm=lengthening_mm,
        angulation_deg=angulation_deg(o[0]) if numbered else None,
        step_mm=o[1] if numbered else None,
        thick_moment_nm=1e-3 * o[6],
        thin_moment_nm=1e-3 * o[7],
        residual_mm=o[2],
        residual_n=o[3],
        steps=int(o[5]),
        envelope=envelope_of(problem, geometry) if outcome is Outcome.UNDETERMINED else None,
        where=_place(problem, rows, int(o[5])) if outcome is Outcome.NAIL_WIDER_THAN_CANAL else "",
        _problem=problem,
        _rows=rows,
        _motion=np.array([o[10], o[11], o[1], o[0], o[12]]),
    )


def _owner(problem: PlaneProblem, row: int) -> tuple[Support, Fragment, int]:
    """What a row belongs to."""
    entry, wall = int(problem.stations[0]), int(problem.stations.sum()) + 1
    if row < wall:
        return Support.WALL, Fragment.ENTRY if row < entry else Fragment.MOVING, -1
    row -= wall
    if row < len(problem.locks):
        return Support.LOCKING_SCREW, list(Fragment)[int(problem.locks[row, 0])], row
    row -= len(problem.locks)
    if row == 0:
        return Support.JOINT, Fragment.ENTRY, 0
    return Support.BLOCKING_SCREW, list(Fragment)[int(problem.blockers[row - 1, 0])], row - 1


def _place(problem: PlaneProblem, rows: Reals, row: int) -> str:
    support, fragment, _ = _owner(problem, row)
    need = rows[2, row] - rows[3, row]
    return (
        f"{support} of the {fragment} at depth {rows[0, row]:.0f} mm along the nail, {problem.plane} plane: "
        f"{need:.1f} mm too narrow"
    )


def _contacts(result: PlaneResult) -> tuple[Contact, ...]:
    rows = result._rows
    found = []
    for i in np.argsort(rows[0], kind="stable"):
        force, slope = float(rows[5, i]), rows[1, i] != 0
        if abs(force) < (TOUCHING_N if not slope else TOUCHING_N * 100.0):
            continue
        support, fragment, index = _owner(result._problem, int(i))
        found.append(
            Contact(
                support=support,
                fragment=fragment,
                index=index,
                depth_mm=float(rows[0, i]) - (result.lengthening_mm if fragment is Fragment.MOVING else 0.0),
                force_n=0.0 if slope else -force,
                couple_nm=1e-3 * force if slope else 0.0,
            )
        )
    return tuple(found)
