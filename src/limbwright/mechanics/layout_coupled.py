"""Layouts of blocking screws with both planes together: over load scenarios, and over uncertain inputs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from limbwright.mechanics.construct import Construct
from limbwright.mechanics.coupled_course import CoupledCourse, coupled_course
from limbwright.mechanics.layout_batch import Scenario
from limbwright.mechanics.plane import Plane
from limbwright.mechanics.plane_problem import Reals
from limbwright.mechanics.sampling import Spread, draws
from limbwright.mechanics.screw import BlockingScrew
from limbwright.mechanics.stages import Stage

Layout = tuple[BlockingScrew, ...]
SHARED_FACTORS = ("axial_factor", "new_bone_factor", "stiffness_factor", "lock_play_factor")
CLEARANCE_ERROR, DEPTH_ERROR = "blocking_clearance_error_mm", "blocking_depth_error_mm"


@dataclass(frozen=True, slots=True)
class LayoutCourses:
    """Layouts along the course, both planes together.

    `angulation_deg` and `step_mm` are (layouts, scenarios, stages, 2), frontal then sagittal; NaN where the
    model has no number. `oblique_deg` is (layouts, scenarios, stages), infinite without a number.
    """

    angulation_deg: Reals
    step_mm: Reals
    oblique_deg: Reals


def coupled_layouts(
    construct: Construct, layouts: Sequence[Layout], scenarios: Sequence[Scenario]
) -> LayoutCourses:
    """Solve layouts over all scenarios and stages; the construct's own blocking screws are left out.

    scenarios : lengthening and new bone are those of the first one.
    """
    built, screws = _with_all(construct, layouts)
    n, k = len(layouts), len(scenarios)
    first = scenarios[0].stages
    planes: list[dict[str, ArrayLike]] = []
    for plane in Plane:
        loads = [[s.load.in_plane(plane) for s in scenario.stages] for scenario in scenarios]
        planes.append(
            {
                "moment_nm": np.tile([[x.moment_nm for x in row] for row in loads], (n, 1)),
                "force_n": np.tile([[x.force_n for x in row] for row in loads], (n, 1)),
                "force_beyond_osteotomy_mm": np.tile([row[0].force_beyond_osteotomy_mm for row in loads], n),
                "blocking_clearance_mm": np.repeat(_clearance(layouts, screws[plane]), k, axis=0),
            }
        )
    axial = [[s.load.frontal.axial_n for s in scenario.stages] for scenario in scenarios]
    found = coupled_course(
        built,
        frontal=planes[0],
        sagittal=planes[1],
        lengthening_mm=[s.lengthening_mm for s in first],
        axial_n=np.tile(axial, (n, 1)),
        angular_nm_per_deg=[s.angular_nm_per_deg for s in first],
        shear_n_per_mm=[s.shear_n_per_mm for s in first],
    )
    shape = (n, k, len(first))
    return LayoutCourses(
        angulation_deg=found.angulation_deg.reshape(*shape, 2),
        step_mm=found.step_mm.reshape(*shape, 2),
        oblique_deg=found.oblique_deg.reshape(shape),
    )


def drawn_layouts(
    construct: Construct,
    layouts: Sequence[Layout],
    stages: Sequence[Stage],
    spreads: Mapping[Plane, tuple[Spread, ...]],
    *,
    count: int,
    seed: int,
) -> CoupledCourse:
    """The same draws of uncertain inputs for every layout; rows are (layout, draw), the layout slowest.

    Parameters
    ----------
    spreads : mapping
        Uncertain inputs of each plane, named as in `expanded_spreads`; axial load, new bone, stiffness of the
        nail and play of locking screws are one draw for both planes, placement of a screw is drawn for each.
    count, seed : int
        Quasi-random draws.
    """
    _built, screws = _with_all(construct, layouts)
    inputs: list[Spread] = []
    for plane in Plane:
        for spread in spreads[plane]:
            if spread.name in SHARED_FACTORS:
                if plane is Plane.FRONTAL:
                    inputs.append(spread)
            elif spread.name in {CLEARANCE_ERROR, DEPTH_ERROR}:
                inputs += [
                    replace(spread, name=f"{plane} {spread.name} {i + 1}") for i in range(len(screws[plane]))
                ]
            else:
                inputs.append(replace(spread, name=f"{plane} {spread.name}"))
    drawn = draws(tuple(inputs), count=count, seed=seed)
    return layouts_of_draws(construct, layouts, stages, drawn, count=count)


def layouts_of_draws(
    construct: Construct,
    layouts: Sequence[Layout],
    stages: Sequence[Stage],
    drawn: Mapping[str, Reals],
    *,
    count: int,
) -> CoupledCourse:
    """The same for draws that are there already.

    Parameters
    ----------
    drawn : mapping
        (count,) values by name: those of `SHARED_FACTORS` by their own, all others after their plane and a
        space; errors of placement are numbered from 1 in the order of the screws of their plane in the first
        layouts that have them. What is not given does not vary.
    """
    built, screws = _with_all(construct, layouts)
    n = len(layouts)

    def column(name: str, usual: float) -> Reals:
        return np.tile(drawn.get(name, np.full(count, usual)), n)

    planes: list[dict[str, ArrayLike]] = []
    for plane in Plane:
        loads = [s.load.in_plane(plane) for s in stages]
        factor = np.maximum(column(f"{plane} moment_factor", 1.0), 0.0)[:, None]
        own: dict[str, ArrayLike] = {
            "moment_nm": factor * [x.moment_nm for x in loads]
            + column(f"{plane} extra_moment_nm", 0.0)[:, None],
            "force_n": [x.force_n for x in loads] + column(f"{plane} extra_force_n", 0.0)[:, None],
            "force_beyond_osteotomy_mm": loads[-1].force_beyond_osteotomy_mm,
        }
        for name in ("canal_widening_mm", "entry_wall_shift_mm", "moving_wall_shift_mm"):
            own[name] = column(f"{plane} {name}", 0.0)
        clearance = np.repeat(_clearance(layouts, screws[plane]), count, axis=0)
        depth = np.tile([s.depth_mm for s in screws[plane]], (n * count, 1))
        for i, screw in enumerate(screws[plane]):
            # A screw does not overlap the nail, and stays in its fragment.
            error = column(f"{plane} {CLEARANCE_ERROR} {i + 1}", 0.0)
            clearance[:, i] = np.maximum(clearance[:, i] + error, 0.0)
            moved, cut = (
                depth[:, i] + column(f"{plane} {DEPTH_ERROR} {i + 1}", 0.0),
                construct.osteotomy_depth_mm,
            )
            beyond = screw.depth_mm >= cut
            depth[:, i] = np.maximum(moved, cut + 0.5) if beyond else np.minimum(moved, cut - 0.5)
        own["blocking_clearance_mm"], own["blocking_depth_mm"] = clearance, depth
        planes.append(own)
    bone = np.maximum(column("new_bone_factor", 1.0), 0.0)[:, None]
    axial = np.maximum(column("axial_factor", 1.0), 0.0)[:, None]
    return coupled_course(
        built,
        frontal=planes[0],
        sagittal=planes[1],
        lengthening_mm=[s.lengthening_mm for s in stages],
        axial_n=axial * [s.load.frontal.axial_n for s in stages],
        angular_nm_per_deg=bone * [s.angular_nm_per_deg for s in stages],
        shear_n_per_mm=bone * [s.shear_n_per_mm for s in stages],
        stiffness_factor=column("stiffness_factor", 1.0),
        lock_play_factor=np.maximum(column("lock_play_factor", 1.0), 0.0),
    )


def _with_all(
    construct: Construct, layouts: Sequence[Layout]
) -> tuple[Construct, dict[Plane, tuple[BlockingScrew, ...]]]:
    """The construct with every screw of any layout, and these screws by plane."""
    union = tuple(dict.fromkeys(screw for layout in layouts for screw in layout))
    return construct.with_blocking_screws(*union), {
        plane: tuple(s for s in union if s.side.plane is plane) for plane in Plane
    }


def _clearance(layouts: Sequence[Layout], screws: tuple[BlockingScrew, ...]) -> Reals:
    """(layouts, screws) clearance of each screw; infinite where a layout is without it."""
    return np.array(
        [[s.clearance_mm if s in layout else np.inf for s in screws] for layout in layouts], dtype=np.float64
    ).reshape(len(layouts), len(screws))
