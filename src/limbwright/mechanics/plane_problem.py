"""From values to the plain arrays of one plane that the compiled kernels take."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbwright.error import OutOfRange
from limbwright.mechanics.construct import Construct
from limbwright.mechanics.load import Load, Regenerate
from limbwright.mechanics.plane import Fragment, Plane, couple_nmm

Reals = NDArray[np.float64]

GEOMETRY = (
    "length_mm",
    "step_depth_mm",
    "thick_radius_mm",
    "thin_radius_mm",
    "thick_softness",
    "thin_softness",
    "osteotomy_depth_mm",
    "lengthening_mm",
    "canal_widening_mm",
    "entry_wall_shift_mm",
    "moving_wall_shift_mm",
    "lock_play_factor",
    "joint_play_rad",
    "bend_depth_mm",
    "bend_tangent",
)
"""Columns of a variant's geometry, in the kernel's order; softness is 1/EI."""
STEP_DEPTH, THICK_SOFTNESS, THIN_SOFTNESS, OSTEOTOMY, LENGTHENING, BEND_DEPTH, BEND_TANGENT = (
    GEOMETRY.index(name)
    for name in (
        "step_depth_mm",
        "thick_softness",
        "thin_softness",
        "osteotomy_depth_mm",
        "lengthening_mm",
        "bend_depth_mm",
        "bend_tangent",
    )
)
LOADS = (
    "couple_nmm",
    "force_n",
    "lever_mm",
    "axial_n",
    "angular_stiffness",
    "shear_stiffness",
    "rest_couple_nmm",
    "rest_force_n",
)
"""Columns of a variant's load; stiffness in N mm/rad and N/mm, couples on the slope."""
OUTCOME_COLUMNS = 13
FORCE_LIMIT_N = 2000.0  # beyond it the nail is forced: the geometry does not fit, whatever the tissue does


@dataclass(frozen=True, slots=True)
class PlaneProblem:
    """Arrays of one construct in one plane; made once, solved for many loads and lengthenings."""

    plane: Plane
    geometry: Reals
    entry_walls: Reals
    moving_walls: Reals
    stations: NDArray[np.int64]
    locks: Reals
    blockers: Reals
    blocker_depth: Reals
    blocker_clearance: Reals
    joint_clearance_mm: float
    joint_engagement_mm: float
    row_count: int
    """Number of contact rows."""


_RECENT: dict[tuple[int, Plane], tuple[Construct, PlaneProblem]] = {}
_RECENT_SIZE = 64


def plane_problem(construct: Construct, plane: Plane) -> PlaneProblem:
    """Arrays of a construct in one plane; those of the last few constructs are kept.

    A construct cannot change, so the same object always has the same arrays. It is told by identity: hashing
    traced walls would take longer than solving.
    """
    kept = _RECENT.get((id(construct), plane))
    if kept is not None and kept[0] is construct:
        return kept[1]
    made = _plane_problem(construct, plane)
    if len(_RECENT) >= _RECENT_SIZE:
        _RECENT.clear()
    _RECENT[id(construct), plane] = (construct, made)
    return made


def _plane_problem(construct: Construct, plane: Plane) -> PlaneProblem:
    nail = construct.nail
    bend = math.tan(math.radians(nail.bend_deg)) if plane is Plane.SAGITTAL else 0.0
    geometry = np.array(
        [
            nail.length_mm,
            nail.step_depth_mm,
            0.5 * nail.thick_diameter_mm,
            0.5 * nail.thin_diameter_mm,
            1.0 / nail.thick_stiffness_nmm2,
            1.0 / nail.thin_stiffness_nmm2,
            construct.osteotomy_depth_mm,
            0.0,
            0.0,
            0.0,
            0.0,
            1.0,
            0.0,
            nail.bend_depth_mm,
            bend,
        ],
        dtype=np.float64,
    )
    entry, moving = construct.entry_canal.in_plane(plane), construct.moving_canal.in_plane(plane)
    step, cut = construct.contact_step_mm, construct.osteotomy_depth_mm
    far = min(nail.length_mm, moving.depth_mm[-1])
    stations = (math.ceil((cut - entry.depth_mm[0]) / step) + 1, math.ceil((far - cut) / step) + 1)
    frontal = plane is Plane.FRONTAL
    locks = [
        (float(s.fragment is Fragment.MOVING), s.depth_mm, 0.0, s.play_mm, seat)
        if s.direction.stops_translation_in(plane)
        else (float(s.fragment is Fragment.MOVING), s.depth_mm, 1.0, s.play_mm, 0.0)
        for s in construct.locking_screws
        for seat in (s.frontal_seat_mm if frontal else s.sagittal_seat_mm,)
    ]
    acting = [s for s in construct.blocking_screws if s.side.plane is plane]
    blockers = [
        (
            float(s.fragment is Fragment.MOVING),
            1.0 if s.side.positive else -1.0,
            s.compliance_mm_per_n,
            s.seat_mm,
        )
        for s in acting
    ]
    return PlaneProblem(
        plane=plane,
        geometry=geometry,
        entry_walls=np.array([entry.depth_mm, entry.negative_mm, entry.positive_mm], dtype=np.float64),
        moving_walls=np.array([moving.depth_mm, moving.negative_mm, moving.positive_mm], dtype=np.float64),
        stations=np.array(stations, dtype=np.int64),
        locks=np.array(locks, dtype=np.float64).reshape(-1, 5),
        blockers=np.array(blockers, dtype=np.float64).reshape(-1, 4),
        blocker_depth=np.array([s.depth_mm for s in acting], dtype=np.float64),
        blocker_clearance=np.array([s.clearance_mm for s in acting], dtype=np.float64),
        joint_clearance_mm=nail.joint_clearance_mm,
        joint_engagement_mm=nail.joint_engagement_mm,
        row_count=sum(stations) + 2 + len(locks) + len(blockers),
    )


def geometry_row(problem: PlaneProblem, lengthening_mm: float) -> Reals:
    """The construct's own geometry at a lengthening."""
    row = problem.geometry.copy()
    row[7] = lengthening_mm
    row[12] = problem.joint_clearance_mm / max(problem.joint_engagement_mm - lengthening_mm, 1.0)
    return row


def require_lengthening(lengthening_mm: float) -> None:
    """Refuse a lengthening that no nail makes."""
    if not 0.0 <= lengthening_mm < 150.0:
        raise OutOfRange(
            f"lengthening is {lengthening_mm:g} mm, expected 0 to 150 mm.",
            where="lengthening",
            next_step="Give the lengthening gained so far.",
        )


def load_row(load: Load, regenerate: Regenerate | None) -> Reals:
    """Kernel columns of a load and of the new bone; the bone's rest position enters as a load."""
    angular = shear = rest_couple = rest_force = 0.0
    if regenerate is not None:
        angular = regenerate.angular_nm_per_deg * 1000.0 * 180.0 / math.pi
        shear = regenerate.shear_n_per_mm
        rest_couple = -angular * math.radians(regenerate.rest_angulation_deg)
        rest_force = shear * regenerate.rest_shear_mm
    return np.array(
        (
            couple_nmm(load.moment_nm),
            load.force_n,
            load.force_beyond_osteotomy_mm,
            load.axial_n,
            angular,
            shear,
            rest_couple,
            rest_force,
        ),
        dtype=np.float64,
    )
