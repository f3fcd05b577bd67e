"""Drift of one construct along the course, draw by draw of uncertain loads, fit and placement."""

from dataclasses import replace

import numpy as np

from limbwright.error import Missing
from limbwright.mechanics.construct import Construct
from limbwright.mechanics.plane import Plane
from limbwright.mechanics.plane_problem import Reals, plane_problem
from limbwright.mechanics.sampling import Spread
from limbwright.mechanics.stages import Stage, forecast_batch

FACTORS = ("moment_factor", "axial_factor", "new_bone_factor")
ADDED = ("extra_moment_nm", "extra_force_n")
COLUMNS = (
    "stiffness_factor",
    "lock_play_factor",
    "canal_widening_mm",
    "entry_wall_shift_mm",
    "moving_wall_shift_mm",
)
SCREWS = ("blocking_clearance_error_mm", "blocking_depth_error_mm")


def drawn_course(
    construct: Construct,
    plane: Plane,
    stages: tuple[Stage, ...],
    spreads: tuple[Spread, ...],
    unit_columns: Reals,
) -> tuple[Reals, Reals]:
    """Angulation [deg] and step [mm] of every draw at every stage, each (draws, stages).

    unit_columns : (draws, inputs) values of the inputs `expanded_spreads` lists, in its order.
    """
    values = dict(zip((s.name for s in spreads), unit_columns.T, strict=True))
    n = unit_columns.shape[0]
    loads = [stage.load.in_plane(plane) for stage in stages]
    one = np.ones((n, 1))

    def factor(name: str) -> Reals:
        return np.maximum(values[name], 0.0)[:, None] if name in values else one

    def added(name: str) -> Reals:
        return values[name][:, None] if name in values else 0.0 * one

    problem = plane_problem(construct, plane)
    clearance = np.tile(problem.blocker_clearance, (n, 1))
    depth = np.tile(problem.blocker_depth, (n, 1))
    cut = construct.osteotomy_depth_mm
    for i, moving in enumerate(problem.blockers[:, 0] > 0):
        # A screw does not overlap the nail, and stays in its fragment.
        clearance[:, i] = np.maximum(clearance[:, i] + values.get(f"{SCREWS[0]} {i + 1}", 0.0), 0.0)
        moved = depth[:, i] + values.get(f"{SCREWS[1]} {i + 1}", 0.0)
        depth[:, i] = np.maximum(moved, cut + 0.5) if moving else np.minimum(moved, cut - 0.5)
    solved = forecast_batch(
        problem,
        plane,
        lengthening_mm=[stage.lengthening_mm for stage in stages],
        moment_nm=factor("moment_factor") * [x.moment_nm for x in loads] + added("extra_moment_nm"),
        force_n=[x.force_n for x in loads] + added("extra_force_n"),
        axial_n=factor("axial_factor") * [x.axial_n for x in loads],
        angular_nm_per_deg=factor("new_bone_factor") * [stage.angular_nm_per_deg for stage in stages],
        shear_n_per_mm=factor("new_bone_factor") * [stage.shear_n_per_mm for stage in stages],
        force_beyond_osteotomy_mm=loads[-1].force_beyond_osteotomy_mm,
        blocking_clearance_mm=clearance,
        blocking_depth_mm=depth,
        **{name: values[name] for name in COLUMNS if name in values},
    )
    return solved.angulation_deg, solved.step_mm


def expanded_spreads(construct: Construct, plane: Plane, spreads: tuple[Spread, ...]) -> tuple[Spread, ...]:
    """The inputs to draw: placement errors once for every blocking screw of the plane, the others as given.

    Known by name are `moment_factor`, `axial_factor`, `new_bone_factor` (factors, centre 1),
    `extra_moment_nm`, `extra_force_n` (added at every stage), `stiffness_factor`, `lock_play_factor`,
    `canal_widening_mm`, `entry_wall_shift_mm`, `moving_wall_shift_mm` (as in `solve_batch`), and
    `blocking_clearance_error_mm`, `blocking_depth_error_mm` (drawn for each screw by itself).

    Raises
    ------
    Missing
        If an input is not known to the model.
    """
    known = (*FACTORS, *ADDED, *COLUMNS, *SCREWS)
    screws = sum(s.side.plane is plane for s in construct.blocking_screws)
    found: list[Spread] = []
    for spread in spreads:
        if spread.name not in known:
            raise Missing(
                f"{spread.name!r} is not an uncertain input of the model.",
                where="spreads",
                next_step=f"Use one of {', '.join(known)}.",
            )
        if spread.name in SCREWS:
            found += [replace(spread, name=f"{spread.name} {i + 1}") for i in range(screws)]
        else:
            found.append(spread)
    return tuple(found)
