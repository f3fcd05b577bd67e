"""Blocking layouts of one geometry: for each number of screws the one that ends nearest to the aim."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from limbwright.error import LimbwrightError
from limbwright.mechanics import BlockingScrew as ModelScrew
from limbwright.mechanics import Plane, Scenario, SpatialLoad, Stage, enumerate_layouts, solve_coupled
from limbwright.plan.canal import CanalAlong
from limbwright.plan.circumstances import StandingHardware
from limbwright.plan.decision import BlockingScrew, BonePlan
from limbwright.plan.drift import Drift
from limbwright.plan.forecast.construct import ModelledBone, modelled_bone, planned_screw
from limbwright.plan.forecast.forecast import region_of_plan
from limbwright.plan.forecast.loads import tissue_pull_of
from limbwright.plan.forecast.screws import blocking_candidates
from limbwright.plan.planner_rules import blocking_rules
from limbwright.practice.profile import Profile

IN_ONE_PLANE = 2  # a third screw in one plane gains nothing that two placed well do not
MOST = 3

Found = tuple[float, tuple[ModelScrew, ...]]
"""Angulation of one plane [deg], NaN without a number, and its screws."""


def layouts(
    plan: BonePlan,
    canals: tuple[CanalAlong, ...],
    turn_off: Drift,
    profile: Profile,
    *,
    hardware: Sequence[StandingHardware] = (),
) -> Iterator[tuple[tuple[BlockingScrew, ...], Drift | None]]:
    """Layouts of rising size, each with its drift at full length.

    A layout larger than the last one is offered only where it brings the end nearer to the aim by what the
    practice calls worth a screw. Without a screw it is offered always.

    Parameters
    ----------
    plan : BonePlan
        The plan; its own screws do not count.
    canals : tuple of CanalAlong
        Traced canals along its nail.
    turn_off : Drift
        Turn of the distal fragment beyond the aim, which the drift adds to.
    hardware : sequence of StandingHardware
        What stands in the leg already or is planned beside; a screw keeps clear of it.

    Notes
    -----
    The layout of each size is chosen with each plane alone; what it leads to, and whether it is worth its
    screws, is told by both planes together.
    """
    modelled = modelled_bone(replace(plan, blocking_screws=()), canals, profile)
    load = tissue_pull_of(profile, region_of_plan(plan)).load(plan.lengthening_mm)
    places = blocking_candidates(modelled, plan, canals, profile, hardware=hardware)
    usable = [c.screw for c in places if c.fits]
    offsets = {Plane.FRONTAL: turn_off.varus_deg, Plane.SAGITTAL: turn_off.procurvatum_deg}
    by_plane = [
        _of_plane(
            modelled,
            load,
            plane,
            usable,
            off_deg=offsets[plane],
            profile=profile,
            gain_mm=plan.lengthening_mm,
        )
        for plane in Plane
    ]
    best = math.inf
    for count in range(min(profile.blocking_screws_max, MOST) + 1):
        split = [
            (frontal, sagittal)
            for i, frontal in by_plane[0].items()
            for j, sagittal in by_plane[1].items()
            if i + j == count
        ]
        if not split:
            continue
        frontal, sagittal = min(split, key=lambda two: _end_deg(two[0][0], two[1][0], turn_off))
        screws = tuple(planned_screw(modelled, s, plan, profile) for s in (*frontal[1], *sagittal[1]))
        drift = drift_of(replace(plan, blocking_screws=screws), canals, profile)
        end = math.inf if drift is None else _end_deg(drift.varus_deg, drift.procurvatum_deg, turn_off)
        if count and not best - end >= profile.blocking_screw_worth_deg:
            continue
        best = min(best, end)
        yield screws, drift


def drift_of(plan: BonePlan, canals: tuple[CanalAlong, ...], profile: Profile) -> Drift | None:
    """Drift of a plan at full length, both planes together, without new bone; None without a number."""
    modelled = modelled_bone(plan, canals, profile)
    gain, load = plan.lengthening_mm, tissue_pull_of(profile, region_of_plan(plan)).load(plan.lengthening_mm)
    solved = solve_coupled(modelled.construct, load, lengthening_mm=gain)
    numbers = solved.frontal_deg, solved.sagittal_deg, solved.lateral_step_mm, solved.anterior_step_mm
    varus, procurvatum, *steps = (math.nan if x is None else x for x in numbers)
    lateral, anterior = (
        modelled.distal_step_mm(step, angle, gain)
        for step, angle in zip(steps, (varus, procurvatum), strict=True)
    )
    if not all(math.isfinite(x) for x in (varus, procurvatum, lateral, anterior)):
        return None
    return Drift(varus_deg=varus, procurvatum_deg=procurvatum, lateral_mm=lateral, anterior_mm=anterior)


def _end_deg(varus_deg: float, procurvatum_deg: float, turn_off: Drift) -> float:
    end = math.hypot(varus_deg + turn_off.varus_deg, procurvatum_deg + turn_off.procurvatum_deg)
    return end if math.isfinite(end) else math.inf


def _of_plane(
    modelled: ModelledBone,
    load: SpatialLoad,
    plane: Plane,
    usable: list[ModelScrew],
    *,
    gain_mm: float,
    off_deg: float,
    profile: Profile,
) -> dict[int, Found]:
    """The best layout of each number of screws in one plane."""
    own = [s for s in usable if s.side.plane is plane]
    scenario = Scenario(
        name="pull as expected",
        weight=1.0,
        stages=(Stage(day=0.0, lengthening_mm=gain_mm, load=load),),
    )
    try:
        solved = enumerate_layouts(
            modelled.construct,
            plane,
            own,
            (scenario,),
            max_screws=min(IN_ONE_PLANE, profile.blocking_screws_max),
            apart_mm=blocking_rules(profile).apart_mm,
        )
    except LimbwrightError:  # nothing pulls in this plane
        return {0: (math.nan, ())}
    angle = solved.angulation_deg[:, 0, 0]
    off = np.where(np.isfinite(angle), np.abs(angle + off_deg), np.inf)
    found: dict[int, Found] = {}
    for count in np.unique(solved.count):
        rows = np.flatnonzero(solved.count == count)
        row = int(rows[np.argmin(off[rows])])
        found[int(count)] = (float(angle[row]), solved.of(row))
    return found
