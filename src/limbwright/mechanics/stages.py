"""Along the course: lengthening, soft-tissue pull and new bone stage by stage."""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from limbwright.error import Contradiction
from limbwright.mechanics.batch import solve_batch
from limbwright.mechanics.construct import Construct
from limbwright.mechanics.coupled import CoupledResult, solve_coupled
from limbwright.mechanics.load import Regenerate, SpatialLoad
from limbwright.mechanics.plane import Plane
from limbwright.mechanics.plane_problem import PlaneProblem, plane_problem
from limbwright.mechanics.rest import rest_after
from limbwright.mechanics.solve import PlaneResult, solve_problem
from limbwright.quantity import Value

Reals = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage(Value):
    """One moment of the course."""

    day: float
    """Day since the operation."""
    lengthening_mm: float
    """Lengthening gained by then."""
    load: SpatialLoad
    """Loads at that moment."""
    angular_nm_per_deg: float = 0.0
    """Bending stiffness of the new bone by then."""
    shear_n_per_mm: float = 0.0
    """Shear stiffness of the new bone by then."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StageForecast:
    """What the model foresees at one stage."""

    stage: Stage
    frontal: PlaneResult
    """Frontal plane alone."""
    sagittal: PlaneResult
    """Sagittal plane alone."""
    coupled: CoupledResult | None
    """Both planes together, when asked for."""
    peak_stress_mpa: float
    """Bending stress of the nail; of both planes solved together, else the peaks of both as if they met."""
    overlap_mm: float
    """Thick segment left in the moving fragment."""
    slack_screws: tuple[int, ...]
    """Blocking screws, by their place in the construct, that stand beside the thin rod by now."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CourseForecast:
    """Forecast along the course; arrays are (stages,), NaN where a stage carries no number."""

    stages: tuple[StageForecast, ...]

    def angulation_deg(self, plane: Plane) -> Reals:
        """Angulation by stage, varus + or procurvatum +; the coupled answer where there is one."""
        values = []
        for s in self.stages:
            frontal = plane is Plane.FRONTAL
            if s.coupled is not None:
                value = s.coupled.frontal_deg if frontal else s.coupled.sagittal_deg
            else:
                value = (s.frontal if frontal else s.sagittal).angulation_deg
            values.append(math.nan if value is None else value)
        return np.array(values)

    def step_mm(self, plane: Plane) -> Reals:
        """Step at the cut by stage, lateral + or anterior +."""
        values = []
        for s in self.stages:
            frontal = plane is Plane.FRONTAL
            if s.coupled is not None:
                value = s.coupled.lateral_step_mm if frontal else s.coupled.anterior_step_mm
            else:
                value = (s.frontal if frontal else s.sagittal).step_mm
            values.append(math.nan if value is None else value)
        return np.array(values)


def forecast_course(
    construct: Construct, stages: tuple[Stage, ...], *, coupled: bool = False
) -> CourseForecast:
    """Forecast drift, contact and nail stress along the course.

    Parameters
    ----------
    construct : Construct
        Nail, fragments, screws.
    stages : tuple of Stage
        In order of day.
    coupled : bool
        Also solve both planes together at every stage, and let new bone remember that answer.

    Returns
    -------
    CourseForecast
        One entry per stage; each plane's contacts say which screw carries what.
    """
    if any(b.day < a.day for a, b in pairwise(stages)):
        raise Contradiction("the days go back.", where="stages", next_step="Give the stages in order of day.")
    problems = {plane: plane_problem(construct, plane) for plane in Plane}
    rest = dict.fromkeys(Plane, (0.0, 0.0))
    place = dict.fromkeys(Plane, (0.0, 0.0))
    before = (0.0, 0.0)
    forecast: list[StageForecast] = []
    for stage in stages:
        now = (stage.angular_nm_per_deg, stage.shear_n_per_mm)
        bones, results = {}, {}
        for plane in Plane:
            angle, shear = (
                float(
                    rest_after(
                        stiffness_before=before[i],
                        rest_before=rest[plane][i],
                        stiffness_now=now[i],
                        place_before=place[plane][i],
                    )
                )
                for i in range(2)
            )
            rest[plane] = (angle, shear)
            bones[plane] = Regenerate(
                angular_nm_per_deg=now[0],
                shear_n_per_mm=now[1],
                rest_angulation_deg=angle,
                rest_shear_mm=shear,
            )
            results[plane] = solve_problem(
                problems[plane],
                stage.load.in_plane(plane),
                lengthening_mm=stage.lengthening_mm,
                regenerate=bones[plane],
            )
        both = (
            solve_coupled(
                construct,
                stage.load,
                lengthening_mm=stage.lengthening_mm,
                frontal_regenerate=bones[Plane.FRONTAL],
                sagittal_regenerate=bones[Plane.SAGITTAL],
            )
            if coupled
            else None
        )
        forecast.append(_stage_forecast(construct, stage, results, both))
        so_far = CourseForecast(stages=(forecast[-1],))
        for plane in Plane:
            angle, step = float(so_far.angulation_deg(plane)[0]), float(so_far.step_mm(plane)[0])
            place[plane] = (angle, shear_at_mid_gap_mm(angle, step, stage.lengthening_mm))
        before = now
    return CourseForecast(stages=tuple(forecast))


def shear_at_mid_gap_mm(angulation_deg: float, step_mm: float, lengthening_mm: float) -> float:
    """Step between the fragments' axes half way along the distraction gap."""
    return step_mm + math.radians(angulation_deg) * 0.5 * lengthening_mm


def _stage_forecast(
    construct: Construct, stage: Stage, results: dict[Plane, PlaneResult], both: CoupledResult | None
) -> StageForecast:
    frontal, sagittal = results[Plane.FRONTAL], results[Plane.SAGITTAL]
    thick = math.hypot(frontal.thick_moment_nm, sagittal.thick_moment_nm)
    thin = math.hypot(frontal.thin_moment_nm, sagittal.thin_moment_nm)
    if both is not None and both.oblique_deg is not None:
        thick, thin = both.thick_moment_nm, both.thin_moment_nm
    return StageForecast(
        stage=stage,
        frontal=frontal,
        sagittal=sagittal,
        coupled=both,
        peak_stress_mpa=construct.nail.peak_stress_mpa(thick_moment_nm=thick, thin_moment_nm=thin),
        overlap_mm=construct.overlap_mm(stage.lengthening_mm),
        slack_screws=tuple(
            i
            for i, screw in enumerate(construct.blocking_screws)
            if construct.beside_thin_rod(screw, stage.lengthening_mm)
        ),
    )


@dataclass(frozen=True, slots=True)
class CourseBatch:
    """Answers of n variants along the course, arrays (n, stages); NaN where there is no number."""

    angulation_deg: Reals
    step_mm: Reals
    outcome: NDArray[np.int64]
    thin_moment_nm: Reals
    thick_moment_nm: Reals
    residual_mm: Reals


def forecast_batch(
    construct: Construct | PlaneProblem,
    plane: Plane,
    *,
    lengthening_mm: ArrayLike,
    moment_nm: ArrayLike,
    force_n: ArrayLike = 0.0,
    axial_n: ArrayLike = 0.0,
    angular_nm_per_deg: ArrayLike = 0.0,
    shear_n_per_mm: ArrayLike = 0.0,
    **variants: ArrayLike,
) -> CourseBatch:
    """Forecast many variants of one construct along the course, one plane.

    Parameters
    ----------
    lengthening_mm, moment_nm, force_n, axial_n, angular_nm_per_deg, shear_n_per_mm : (S,) or (n, S)
        By stage; a scalar holds throughout.
    variants
        Any further column of `solve_batch`, constant along the course.

    Returns
    -------
    CourseBatch
        New bone remembers each variant's own drift, see `rest_after`.
    """
    problem = construct if isinstance(construct, PlaneProblem) else plane_problem(construct, plane)
    names = ("lengthening_mm", "moment_nm", "force_n", "axial_n", "angular_nm_per_deg", "shear_n_per_mm")
    given = [
        np.atleast_1d(np.asarray(x, dtype=np.float64))
        for x in (lengthening_mm, moment_nm, force_n, axial_n, angular_nm_per_deg, shear_n_per_mm)
    ]
    stages = max(a.shape[-1] for a in given)
    columns = {
        name: np.broadcast_to(a, (*a.shape[:-1], stages)) for name, a in zip(names, given, strict=True)
    }
    before = (np.zeros(1), np.zeros(1))
    rest, place = (np.zeros(1), np.zeros(1)), (np.zeros(1), np.zeros(1))
    results = []
    for s in range(stages):
        at = {name: a[..., s] for name, a in columns.items()}
        now = (at["angular_nm_per_deg"], at["shear_n_per_mm"])
        rest = (
            rest_after(
                stiffness_before=before[0], rest_before=rest[0], stiffness_now=now[0], place_before=place[0]
            ),
            rest_after(
                stiffness_before=before[1], rest_before=rest[1], stiffness_now=now[1], place_before=place[1]
            ),
        )
        solved = solve_batch(
            problem, plane, **at, rest_angulation_deg=rest[0], rest_shear_mm=rest[1], **variants
        )
        results.append(solved)
        middle = solved.step_mm + np.radians(solved.angulation_deg) * 0.5 * at["lengthening_mm"]
        place, before = (solved.angulation_deg, middle), now
    n = max(len(r.angulation_deg) for r in results)

    def stacked(name: str) -> Reals:
        return np.stack([np.broadcast_to(getattr(r, name), (n,)) for r in results], axis=1)

    return CourseBatch(
        angulation_deg=stacked("angulation_deg"),
        step_mm=stacked("step_mm"),
        outcome=stacked("outcome").astype(np.int64),
        thin_moment_nm=stacked("thin_moment_nm"),
        thick_moment_nm=stacked("thick_moment_nm"),
        residual_mm=stacked("residual_mm"),
    )
