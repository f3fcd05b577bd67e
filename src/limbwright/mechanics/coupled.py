"""Both planes at once in a canal that is round (or elliptic) in section: the drift in an oblique direction.

Each plane alone lets the nail use the corners of a box that a round canal does not have, and so
over-estimates oblique drift. Here the offset of the nail stays inside the ellipse that the four walls span
at every depth, a second-order cone program. It is solved by adding tangents of the ellipses where the answer
leaves them, each time proving the answer with the same contact kernel, and finished by Newton's method on
the places that touch.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from limbwright.error import Contradiction
from limbwright.mechanics.canal import Canal, Walls
from limbwright.mechanics.construct import Construct
from limbwright.mechanics.load import Regenerate, SpatialLoad
from limbwright.mechanics.newton_contact import finished
from limbwright.mechanics.plane import Fragment, Plane, angulation_deg
from limbwright.mechanics.plane_problem import (
    FORCE_LIMIT_N,
    PlaneProblem,
    Reals,
    geometry_row,
    load_row,
    plane_problem,
)
from limbwright.mechanics.solve import Outcome, Support
from limbwright.mechanics.spatial_rows import SpatialRows, spatial_rows, with_tangents
from limbwright.quantity import Value

TANGENT_ROUNDS = 60
NEWTON_FROM_MM = 0.2
NEWTON_EAGER = 4  # tried in each of so many rounds, then in every fourth: it costs more than a round
NEAR_TANGENT = 1e-7  # one less the cosine of the angle between two tangents of one station
PROVED_MM, PROVED_N = 1e-6, 1e-4
ACCEPTED_MM = 1e-5  # tangents alone come this near where Newton's method finds no set of touching places
PROOF_ROUNDS = 8  # rounds in which only a proof to `PROVED_MM` ends the search
SLIGHT_NMM, SLIGHT_N = 10.0, 0.1
AXIAL_ROUNDS, AXIAL_SETTLED_RAD = 60, 1e-8


@dataclass(frozen=True, slots=True, kw_only=True)
class SpatialContact(Value):
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


@dataclass(frozen=True, slots=True, kw_only=True)
class CoupledResult(Value):
    """Answer of the coupled solve; angles and steps are None unless the outcome carries a number."""

    outcome: Outcome
    """How the solve ended."""
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
    residual_mm: float
    """Largest violation of a wall or support in the solution."""
    residual_n: float
    """Largest pulling contact, and largest force that does not stand square to its wall."""
    contacts: tuple[SpatialContact, ...]
    """Places that hold the nail, from the entry on."""


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
        With residuals that prove it: 1e-6 mm (1e-5 where tangents alone end the search) and 1e-4 N, unless
        the outcome says otherwise.

    Notes
    -----
    Only the depths where both films show walls are used. The free room of an ellipse for a round nail is
    taken as the ellipse of the remaining half widths: exact in a round canal. A load below 10 N mm and 0.1 N
    in one plane is taken as none: the nail then rests in that plane wherever the other plane's load lets it,
    and its place in the play there is not foretold.
    """
    common = _common_walls(construct)
    problems = (plane_problem(common, Plane.FRONTAL), plane_problem(common, Plane.SAGITTAL))
    bones = (frontal_regenerate, sagittal_regenerate)
    loads = tuple(load_row(load.in_plane(p.plane), bone) for p, bone in zip(problems, bones, strict=True))
    slight = [_slight(row) for row in loads]
    for row, small in zip(loads, slight, strict=True):
        if small:
            row[[0, 1, 6, 7]] = 0.0
    rows = spatial_rows(problems, tuple(geometry_row(p, lengthening_mm) for p in problems), loads)
    if rows is None:
        return _without_number(Outcome.NAIL_WIDER_THAN_CANAL, math.nan, math.nan)
    if all(slight):
        return _without_number(Outcome.UNDETERMINED, 0.0, 0.0)
    axial = (float(loads[0][3]), float(loads[1][3]))
    answer, residual_mm, residual_n = _settled(rows, axial)
    return _result(
        problems, rows, answer, lengthening_mm=lengthening_mm, residual_mm=residual_mm, residual_n=residual_n
    )


def _slight(load: Reals) -> bool:
    """Whether a plane has no load worth the name, new bone out of its rest position included."""
    return bool(abs(load[0]) + abs(load[6]) < SLIGHT_NMM and abs(load[1]) + abs(load[7]) < SLIGHT_N)


@dataclass(frozen=True, slots=True)
class _Answer:
    """Motions (10,), force on each wall station (n, 2), force on each straight row."""

    motion: Reals
    wall_force: Reals
    row_force: Reals


def _settled(rows: SpatialRows, axial: tuple[float, float]) -> tuple[_Answer, float, float]:
    """Contact solved, and repeated until the compressed nail's own shape is settled."""
    answer, mm, newton = _contact(rows)
    if not any(axial):
        return answer, mm, newton
    previous = answer.motion
    for _ in range(AXIAL_ROUNDS):
        bent = rows.compressed(axial, answer.motion, answer.wall_force, answer.row_force)
        answer, mm, newton = _contact(bent)
        rows = replace(rows, bowed=bent.bowed)
        if float(np.abs(answer.motion - previous)[[3, 8]].max()) < AXIAL_SETTLED_RAD:
            return answer, mm, newton
        previous = answer.motion
    return answer, math.inf, newton


def _contact(rows: SpatialRows) -> tuple[_Answer, float, float]:
    """Tangents where the answer leaves an ellipse, then Newton on the places that touch."""
    from limbwright.mechanics.contact_kernel import solve_contact
    from limbwright.mechanics.restart_kernel import workspace

    tangents: list[tuple[int, float, float]] = []
    best: tuple[_Answer, float, float] | None = None
    for turn in range(TANGENT_ROUNDS):
        full = with_tangents(rows, tangents)
        m = len(full.z)
        space = workspace(m, 10)
        k, _, mm, newton = solve_contact(
            m,
            full.z,
            full.kind,
            full.across,
            rows.nail,
            full.motion,
            full.compliance,
            full.lo,
            full.hi,
            rows.spring,
            rows.spring_inverse,
            rows.load,
            full.shift,
            False,
            np.zeros((1, 1)),
            np.zeros((1, 1)),
            np.zeros(0, dtype=np.int64),
            space,
            0,
        )
        force = np.zeros(m)
        force[space[4][:k]] = space[2][:k]
        wall = rows.wall_force(force, tangents)
        answer = _Answer(space[1].copy(), wall, force[: len(rows.z)].copy())
        offset = rows.wall_offset(space[0])
        outside = rows.outside_mm(offset)
        worst = max(float(outside.max(initial=0.0)), mm)
        if best is None or worst < best[1]:
            best = (answer, worst, newton)
        if worst < NEWTON_FROM_MM and (turn < NEWTON_EAGER or turn % NEWTON_EAGER == 0):
            touch = finished(
                rows, answer.motion, wall, answer.row_force, small_mm=0.1 * PROVED_MM, small_n=0.1 * PROVED_N
            )
            if touch is not None and touch.violation_mm < PROVED_MM and touch.pull_n < PROVED_N:
                proved = _Answer(touch.motion, touch.wall_force, touch.row_force)
                return proved, touch.violation_mm, touch.pull_n
        near = 0.1 * PROVED_MM if turn < PROOF_ROUNDS else ACCEPTED_MM
        if worst < near or not np.isfinite(worst):
            break
        more = _next_tangents(rows, tangents, force=force, wall=wall, offset=offset, outside=outside)
        if more == tangents:
            break
        tangents = more
    assert best is not None
    return best


def _next_tangents(
    rows: SpatialRows,
    tangents: list[tuple[int, float, float]],
    *,
    force: Reals,
    wall: Reals,
    offset: Reals,
    outside: Reals,
) -> list[tuple[int, float, float]]:
    """Tangents that carry force, and new ones where the nail is outside: toward its place and its force."""
    first = len(rows.z)
    kept = [t for i, t in enumerate(tangents) if force[first + i] != 0.0]

    def add(station: int, x: float, y: float) -> None:
        # Two tangents that nearly coincide make the contact problem as good as singular.
        if all(s != station or x * a + y * b < 1.0 - NEAR_TANGENT for s, a, b in kept):
            kept.append((station, x, y))

    for station in np.flatnonzero(outside > 0.05 * PROVED_MM):
        add(int(station), *rows.normal(int(station), offset[station]))
        size = math.hypot(*wall[station])
        if size > 1e-6:
            add(int(station), wall[station][0] / size, wall[station][1] / size)
    return kept


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

    return replace(
        construct, entry_canal=both(construct.entry_canal), moving_canal=both(construct.moving_canal)
    )


def _without_number(outcome: Outcome, mm: float, newton: float) -> CoupledResult:
    return CoupledResult(
        outcome=outcome,
        frontal_deg=None,
        sagittal_deg=None,
        oblique_deg=None,
        lateral_step_mm=None,
        anterior_step_mm=None,
        residual_mm=mm,
        residual_n=newton,
        contacts=(),
    )


def _result(
    problems: tuple[PlaneProblem, PlaneProblem],
    rows: SpatialRows,
    answer: _Answer,
    *,
    lengthening_mm: float,
    residual_mm: float,
    residual_n: float,
) -> CoupledResult:
    q = answer.motion
    contacts = rows.contacts(answer.wall_force, answer.row_force, lengthening_mm)
    largest = max((math.hypot(c[3], c[4]) for c in contacts), default=0.0)
    if residual_mm > ACCEPTED_MM or residual_n > PROVED_N:
        return _without_number(Outcome.NOT_PROVED, residual_mm, residual_n)
    if max(abs(q[3]), abs(q[8])) > 0.5 or max(abs(q[2]), abs(q[7])) > 200.0:
        return _without_number(Outcome.NOTHING_HOLDS, residual_mm, residual_n)
    return CoupledResult(
        outcome=Outcome.NAIL_FORCED if largest > FORCE_LIMIT_N else Outcome.DETERMINED,
        frontal_deg=angulation_deg(q[3]),
        sagittal_deg=angulation_deg(q[8]),
        oblique_deg=math.degrees(math.hypot(q[3], q[8])),
        lateral_step_mm=float(q[2]),
        anterior_step_mm=float(q[7]),
        residual_mm=residual_mm,
        residual_n=residual_n,
        contacts=tuple(
            SpatialContact(support=Support(s), fragment=Fragment(f), depth_mm=z, lateral_n=x, anterior_n=y)
            for s, f, z, x, y in contacts
        ),
    )
