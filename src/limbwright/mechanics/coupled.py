"""Both planes at once in a canal that is round (or elliptic) in section: the drift in an oblique direction.

Each plane alone lets the nail use the corners of a box that a round canal does not have, and so
over-estimates oblique drift. Here the offset of the nail stays inside the ellipse that the four walls span
at every depth, a second-order cone program; how it is solved and proved stands in
`coupled_kernel`.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from limbwright.error import Contradiction
from limbwright.mechanics.canal import Canal, Walls
from limbwright.mechanics.construct import Construct
from limbwright.mechanics.load import Regenerate, SpatialLoad
from limbwright.mechanics.nail_shape import nail_offset_mm
from limbwright.mechanics.plane import Fragment, Plane, angulation_deg
from limbwright.mechanics.plane_problem import (
    FORCE_LIMIT_N,
    PlaneProblem,
    Reals,
    geometry_row,
    load_row,
    plane_problem,
    require_lengthening,
)
from limbwright.mechanics.solve import OUTCOMES, TOUCHING_N, Outcome, Support

Whole = NDArray[np.int64]
COUPLED_OUTCOME = (
    "slope_frontal",
    "slope_sagittal",
    "step_lateral_mm",
    "step_anterior_mm",
    "outcome",
    "residual_mm",
    "residual_n",
    "thick_moment_nmm",
    "thin_moment_nmm",
    "largest_force_n",
)
"""Columns of the kernel's outcome."""


@dataclass(frozen=True, slots=True)
class CoupledProblem:
    """Arrays of one construct in both planes, the walls cut to the depths that both films show."""

    frontal: PlaneProblem
    sagittal: PlaneProblem

    @property
    def planes(self) -> tuple[PlaneProblem, PlaneProblem]:
        """Both planes in the order of `Plane`."""
        return self.frontal, self.sagittal

    @property
    def stations(self) -> int:
        """Number of wall stations, the step of the nail included."""
        return int(self.frontal.stations.sum()) + 1

    @property
    def moving(self) -> Reals:
        """1 for every row of both planes, in the order of the kernel, that belongs to the moving fragment."""
        wall = np.arange(self.stations) >= self.frontal.stations[0]
        parts = [wall, wall]
        for p in self.planes:
            parts += [p.locks[:, 0] > 0, np.zeros(1, dtype=bool), p.blockers[:, 0] > 0]
        return np.concatenate(parts).astype(np.float64)

    def supports(self, plane: Plane) -> tuple[Support, ...]:
        """What the straight rows of one plane belong to, in the order of the kernel."""
        p = self.frontal if plane is Plane.FRONTAL else self.sagittal
        return (
            (Support.LOCKING_SCREW,) * len(p.locks)
            + (Support.JOINT,)
            + (Support.BLOCKING_SCREW,) * len(p.blockers)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SpatialContact:
    """One place where the nail is held, in both planes."""

    support: Support
    """What holds it."""
    fragment: Fragment
    """Fragment it belongs to."""
    depth_mm: float
    """Depth along the fragment, as before lengthening."""
    lateral_n: float
    """Force on the nail, lateral +."""
    anterior_n: float
    """Force on the nail, anterior +."""

    def in_plane_n(self, plane: Plane) -> float:
        """Force on the nail in one plane."""
        return self.lateral_n if plane is Plane.FRONTAL else self.anterior_n


@dataclass(frozen=True, slots=True, kw_only=True)
class CoupledResult:
    """Answer of the coupled solve; angles and steps are None unless a number is proved."""

    outcome: Outcome
    """How the solve ended."""
    lengthening_mm: float
    """Lengthening it was solved at."""
    frontal_deg: float | None
    """Angulation in the frontal plane, varus +."""
    sagittal_deg: float | None
    """Angulation in the sagittal plane, procurvatum +."""
    oblique_deg: float | None
    """Angulation in the plane in which it is largest."""
    lateral_step_mm: float | None
    """Step at the cut, lateral +."""
    anterior_step_mm: float | None
    """Step at the cut, anterior +."""
    thick_moment_nm: float
    """Largest bending moment in the thick segment, both planes together; NaN without a solution."""
    thin_moment_nm: float
    """Largest bending moment in the thin segment."""
    residual_mm: float
    """Largest violation of a wall or support, or room of a place that carries force."""
    residual_n: float
    """Largest pulling contact, or what the balance of forces leaves."""
    contacts: tuple[SpatialContact, ...]
    """Places that hold the nail, from the entry on."""
    _problem: CoupledProblem
    _last: tuple[Reals, Whole, Reals, Reals, Reals, Reals]

    def angulation_deg(self, plane: Plane) -> float | None:
        """Angulation in one plane, varus + or procurvatum +."""
        return self.frontal_deg if plane is Plane.FRONTAL else self.sagittal_deg

    def step_mm(self, plane: Plane) -> float | None:
        """Step at the cut in one plane, lateral + or anterior +."""
        return self.lateral_step_mm if plane is Plane.FRONTAL else self.anterior_step_mm

    def shift_mm(self, plane: Plane, beyond_osteotomy_mm: float) -> float:
        """Offset of the moving fragment's axis this far beyond the osteotomy, lateral + or anterior +."""
        q = self._last[2][_motions(plane)]
        return float(q[2] + q[3] * beyond_osteotomy_mm)

    def nail_offset_mm(self, plane: Plane, depth_mm: Reals) -> Reals:
        """Offset of the nail's centre line at depths along the nail, in the entry fragment's frame.

        depth_mm : (n,) depth from the nail's entry end, up to its length plus the lengthening.
        """
        z, kind, motion, wall, line, y = self._last
        rows = _rows_of(self._problem, plane)
        n, index = self._problem.stations, list(Plane).index(plane)
        force = line[rows].copy()
        force[:n] = wall[:, index]
        return nail_offset_mm(
            np.asarray(depth_mm, dtype=np.float64),
            geometry=geometry_row(self._problem.planes[index], self.lengthening_mm),
            z=z[rows],
            kind=kind[rows],
            force=force,
            y=y[rows],
            moving=self._problem.moving[rows],
            motion=motion[_motions(plane)],
        )


def solve_coupled(
    construct: Construct,
    load: SpatialLoad,
    *,
    lengthening_mm: float = 0.0,
    frontal_regenerate: Regenerate | None = None,
    sagittal_regenerate: Regenerate | None = None,
) -> CoupledResult:
    """Solve both planes of a construct together.

    Parameters
    ----------
    construct : Construct
        At each depth the canal is taken as the ellipse whose axes are the widths on the two films.
    load : SpatialLoad
        Loads of both planes.
    lengthening_mm : float
        Lengthening so far.
    frontal_regenerate, sagittal_regenerate : Regenerate, optional
        New bone in each plane.

    Returns
    -------
    CoupledResult
        With residuals that prove it: 1e-6 mm and 1e-4 N (where a contact exceeds 100 N and no single set of
        touching places settles, a millionth of that contact), unless the outcome says otherwise.

    Notes
    -----
    Only the depths where both films show walls are used. The free room of an ellipse for a round nail is
    taken as the ellipse of the remaining half widths: exact in a round canal. A load below 10 N mm and 0.1 N
    in one plane is taken as none: the nail then rests in that plane wherever the other plane's load lets it,
    and its place in the play there is not foretold. A nail forced so hard that no number can be proved is
    named, without one.
    """
    from limbwright.mechanics.coupled_variants_kernel import solve_both

    require_lengthening(lengthening_mm)
    problem = coupled_problem(construct)
    frontal, sagittal = problem.planes
    geometry = np.stack([geometry_row(p, lengthening_mm) for p in problem.planes])[None]
    bones = (frontal_regenerate, sagittal_regenerate)
    loads = np.stack(
        [load_row(load.in_plane(p.plane), b) for p, b in zip(problem.planes, bones, strict=True)]
    )[None]
    n, m = problem.stations, frontal.row_count + sagittal.row_count
    out = np.empty((1, len(COUPLED_OUTCOME)))
    last = (
        np.zeros(m), np.zeros(m, dtype=np.int64), np.zeros(10), np.zeros((n, 2)), np.zeros(m), np.zeros(m),
    )  # fmt: skip
    solve_both(
        geometry,
        loads,
        (frontal.entry_walls, frontal.moving_walls, sagittal.entry_walls, sagittal.moving_walls),
        frontal.stations,
        (frontal.locks, sagittal.locks),
        (frontal.blockers, sagittal.blockers),
        (frontal.blocker_depth[None, :], sagittal.blocker_depth[None, :]),
        (frontal.blocker_clearance[None, :], sagittal.blocker_clearance[None, :]),
        FORCE_LIMIT_N,
        out,
        last,
    )
    o = out[0].tolist()
    numbered = not math.isnan(o[0])
    return CoupledResult(
        outcome=OUTCOMES[int(o[4])],
        lengthening_mm=lengthening_mm,
        frontal_deg=angulation_deg(o[0]) if numbered else None,
        sagittal_deg=angulation_deg(o[1]) if numbered else None,
        oblique_deg=math.degrees(math.hypot(o[0], o[1])) if numbered else None,
        lateral_step_mm=o[2] if numbered else None,
        anterior_step_mm=o[3] if numbered else None,
        thick_moment_nm=1e-3 * o[7],
        thin_moment_nm=1e-3 * o[8],
        residual_mm=o[5],
        residual_n=o[6],
        contacts=_contacts(problem, last, lengthening_mm) if numbered else (),
        _problem=problem,
        _last=last,
    )


_RECENT: dict[int, tuple[Construct, CoupledProblem]] = {}
_RECENT_SIZE = 64


def coupled_problem(construct: Construct) -> CoupledProblem:
    """Arrays of a construct in both planes; those of the last few constructs are kept (`plane_problem`)."""
    kept = _RECENT.get(id(construct))
    if kept is not None and kept[0] is construct:
        return kept[1]
    common = _common_walls(construct)
    made = CoupledProblem(plane_problem(common, Plane.FRONTAL), plane_problem(common, Plane.SAGITTAL))
    if len(_RECENT) >= _RECENT_SIZE:
        _RECENT.clear()
    _RECENT[id(construct)] = (construct, made)
    return made


def _motions(plane: Plane) -> slice:
    return slice(0, 5) if plane is Plane.FRONTAL else slice(5, 10)


def _rows_of(problem: CoupledProblem, plane: Plane) -> Whole:
    """Rows of one plane in the kernel's order: wall stations, then straight supports."""
    n, own = problem.stations, problem.frontal.row_count
    whole = own + problem.sagittal.row_count
    if plane is Plane.FRONTAL:
        return np.concatenate((np.arange(n), np.arange(2 * n, n + own)))
    return np.concatenate((np.arange(n, 2 * n), np.arange(n + own, whole)))


def _contacts(
    problem: CoupledProblem, last: tuple[Reals, Whole, Reals, Reals, Reals, Reals], lengthening_mm: float
) -> tuple[SpatialContact, ...]:
    z, kind, _, wall, line, _ = last
    moving, n = problem.moving, problem.stations
    found = [
        (i, Support.WALL, wall[i, 0], wall[i, 1]) for i in np.flatnonzero(np.hypot(*wall.T) > TOUCHING_N)
    ]
    for plane in Plane:
        for row, support in zip(_rows_of(problem, plane)[n:], problem.supports(plane), strict=True):
            if kind[row] == 0 and abs(line[row]) > TOUCHING_N:
                f = line[row]
                found.append((row, support, *((f, 0.0) if plane is Plane.FRONTAL else (0.0, f))))
    return tuple(
        SpatialContact(
            support=support,
            fragment=Fragment.MOVING if moving[row] else Fragment.ENTRY,
            depth_mm=float(z[row] - moving[row] * lengthening_mm),
            lateral_n=-float(x),
            anterior_n=-float(y),
        )
        for row, support, x, y in sorted(found, key=lambda f: float(z[f[0]]))
    )


def _common_walls(construct: Construct) -> Construct:
    """The construct with the walls of each fragment cut to the depths seen in both planes."""

    def trimmed(walls: Walls, start: float, end: float) -> Walls:
        inside = [z for z in walls.depth_mm if start < z < end]
        depth = np.array([start, *inside, end])
        return Walls(
            depth_mm=tuple(depth.tolist()),
            negative_mm=tuple(np.interp(depth, walls.depth_mm, walls.negative_mm).tolist()),
            positive_mm=tuple(np.interp(depth, walls.depth_mm, walls.positive_mm).tolist()),
        )

    def both(canal: Canal) -> Canal:
        f, s = canal.frontal, canal.sagittal
        if (f.depth_mm[0], f.depth_mm[-1]) == (s.depth_mm[0], s.depth_mm[-1]):
            return canal
        start, end = max(f.depth_mm[0], s.depth_mm[0]), min(f.depth_mm[-1], s.depth_mm[-1])
        if not start < end:
            raise Contradiction(
                f"the frontal walls cover {f.depth_mm[0]:g}-{f.depth_mm[-1]:g} mm, the sagittal ones "
                f"{s.depth_mm[0]:g}-{s.depth_mm[-1]:g} mm.",
                where="canal walls",
                next_step="Trace the same stretch of bone on both films.",
            )
        return Canal(frontal=trimmed(f, start, end), sagittal=trimmed(s, start, end))

    entry, moving = both(construct.entry_canal), both(construct.moving_canal)
    if entry is construct.entry_canal and moving is construct.moving_canal:
        return construct
    return replace(construct, entry_canal=entry, moving_canal=moving)
