"""All layouts of blocking screws in one plane, solved over all stages and load scenarios in one go."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import comb

import numpy as np
from numpy.typing import NDArray

from limbwright.error import Contradiction, Refused
from limbwright.mechanics.batch import batch_result
from limbwright.mechanics.construct import Construct
from limbwright.mechanics.plane import Plane
from limbwright.mechanics.plane_problem import (
    FORCE_LIMIT_N,
    OUTCOME_COLUMNS,
    Reals,
    geometry_row,
    load_row,
    plane_problem,
)
from limbwright.mechanics.rest import rest_after
from limbwright.mechanics.screw import BlockingScrew
from limbwright.mechanics.stages import Stage
from limbwright.quantity import Value

Whole = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario(Value):
    """One way the tissue may load the limb along the course."""

    name: str
    """Name, in plain words."""
    weight: float
    """Weight in expected values; weights need not add up to 1."""
    stages: tuple[Stage, ...]
    """Stages in order of day; lengthening and new bone must be the same in all scenarios."""


@dataclass(frozen=True, slots=True)
class PlaneLayouts:
    """Layouts of one plane: `members` (n, slots) index the screws, -1 for an empty slot.

    `angulation_deg` and `step_mm` are (n, scenarios, stages); NaN where the model has no number.
    """

    plane: Plane
    screws: tuple[BlockingScrew, ...]
    members: Whole
    angulation_deg: Reals
    step_mm: Reals
    exhaustive: bool

    @property
    def count(self) -> Whole:
        """(n,) number of screws of each layout."""
        return np.asarray(np.sum(self.members >= 0, axis=1))

    def of(self, layout: int) -> tuple[BlockingScrew, ...]:
        """Screws of one layout."""
        return tuple(self.screws[i] for i in self.members[layout] if i >= 0)


def solve_layouts(
    construct: Construct,
    plane: Plane,
    screws: Sequence[BlockingScrew],
    members: Whole,
    scenarios: tuple[Scenario, ...],
) -> PlaneLayouts:
    """Solve given layouts over all scenarios and stages; flexibility is made once per stage.

    members : (n, slots) indices into `screws`, all acting in this plane, -1 for an empty slot.
    """
    from limbwright.mechanics.layout_kernel import solve_bounds

    _require_same_course(scenarios)
    problem = plane_problem(construct.with_blocking_screws(*screws), plane)
    if len(problem.blockers) != len(screws):
        raise Contradiction(
            "a screw does not act in this plane.", where="layouts", next_step=f"Give only {plane} screws."
        )
    layouts, n_scenarios, n_stages = len(members), len(scenarios), len(scenarios[0].stages)
    which = np.ascontiguousarray(np.repeat(members, n_scenarios, axis=0))
    bound = np.where(which >= 0, np.append(problem.blocker_clearance, 0.0)[which], 0.0)
    n = len(which)
    angulation, step = np.empty((n, n_stages)), np.empty((n, n_stages))
    rest, place, before = np.zeros((2, n)), np.zeros((2, n)), np.zeros(2)
    for s in range(n_stages):
        stage = scenarios[0].stages[s]
        now = np.array([stage.angular_nm_per_deg, stage.shear_n_per_mm])
        for i in range(2):
            rest[i] = rest_after(
                stiffness_before=before[i], rest_before=rest[i], stiffness_now=now[i], place_before=place[i]
            )
        loads = np.tile(
            np.array([load_row(c.stages[s].load.in_plane(plane), None) for c in scenarios]),
            (layouts, 1),
        )
        loads[:, 4] = now[0] * 1000.0 * 180.0 / np.pi
        loads[:, 5] = now[1]
        loads[:, 6], loads[:, 7] = -loads[:, 4] * np.radians(rest[0]), now[1] * rest[1]
        out, support = np.empty((n, OUTCOME_COLUMNS)), np.empty((n, len(problem.locks) + which.shape[1]))
        solve_bounds(
            geometry_row(problem, stage.lengthening_mm),
            loads,
            problem.entry_walls,
            problem.moving_walls,
            problem.stations,
            problem.locks,
            problem.blockers,
            problem.blocker_depth,
            which,
            bound,
            FORCE_LIMIT_N,
            out,
            support,
        )
        solved = batch_result(plane, out, support, len(problem.locks))
        angulation[:, s], step[:, s] = solved.angulation_deg, solved.step_mm
        middle = solved.step_mm + np.radians(solved.angulation_deg) * 0.5 * stage.lengthening_mm
        place, before = np.stack((solved.angulation_deg, middle)), now
    shape = (layouts, n_scenarios, n_stages)
    return PlaneLayouts(
        plane=plane,
        screws=tuple(screws),
        members=members,
        angulation_deg=angulation.reshape(shape),
        step_mm=step.reshape(shape),
        exhaustive=True,
    )


def enumerate_layouts(
    construct: Construct,
    plane: Plane,
    screws: Sequence[BlockingScrew],
    scenarios: tuple[Scenario, ...],
    *,
    max_screws: int,
    apart_mm: float,
    exhaustive_limit: int = 20_000,
    beam: int = 60,
) -> PlaneLayouts:
    """Solve every layout of 0 to `max_screws` screws in one plane.

    Parameters
    ----------
    apart_mm : float
        Least distance between the axes of two screws of one fragment.
    exhaustive_limit : int
        Above so many layouts of one size, only the best `beam` layouts one screw smaller are extended.

    Returns
    -------
    PlaneLayouts
        `exhaustive` says whether nothing was left out.
    """
    done = [solve_layouts(construct, plane, screws, np.full((1, max_screws), -1, dtype=np.int64), scenarios)]
    exhaustive = True
    for size in range(1, max_screws + 1):
        if size == 1 or comb(len(screws), size) <= exhaustive_limit:
            groups = {frozenset(g) for g in combinations(range(len(screws)), size)}
        else:
            exhaustive = False
            last = done[-1]
            best = np.argsort(_worst(last.angulation_deg), kind="stable")[:beam]
            groups = {
                frozenset((*(int(i) for i in last.members[b] if i >= 0), j))
                for b in best
                for j in range(len(screws))
            }
        table = [
            sorted(g) for g in groups if len(g) == size and _apart(tuple(screws[i] for i in g), apart_mm)
        ]
        if not table:
            break
        members = np.full((len(table), max_screws), -1, dtype=np.int64)
        members[:, :size] = np.array(sorted(table), dtype=np.int64)
        done.append(solve_layouts(construct, plane, screws, members, scenarios))
    return PlaneLayouts(
        plane=plane,
        screws=tuple(screws),
        members=np.concatenate([d.members for d in done]),
        angulation_deg=np.concatenate([d.angulation_deg for d in done]),
        step_mm=np.concatenate([d.step_mm for d in done]),
        exhaustive=exhaustive,
    )


def _worst(angulation: Reals) -> Reals:
    """Largest magnitude over scenarios and stages; infinite where a stage has no number."""
    return np.asarray(np.max(np.where(np.isnan(angulation), np.inf, np.abs(angulation)), axis=(1, 2)))


def _apart(screws: tuple[BlockingScrew, ...], apart_mm: float) -> bool:
    return all(
        a.fragment is not b.fragment or abs(a.depth_mm - b.depth_mm) >= apart_mm or a.side is b.side.opposite
        for a, b in combinations(screws, 2)
    ) and len({(s.fragment, s.side, s.depth_mm) for s in screws}) == len(screws)


def _require_same_course(scenarios: tuple[Scenario, ...]) -> None:
    if not scenarios or not scenarios[0].stages:
        raise Contradiction(
            "no scenario or no stage.", where="layouts", next_step="Give at least one of each."
        )
    first = [(s.lengthening_mm, s.angular_nm_per_deg, s.shear_n_per_mm) for s in scenarios[0].stages]
    for scenario in scenarios:
        if [(s.lengthening_mm, s.angular_nm_per_deg, s.shear_n_per_mm) for s in scenario.stages] != first:
            raise Contradiction(
                f"scenario {scenario.name!r} has another lengthening or new bone than the first.",
                where="layouts",
                next_step="Let scenarios differ in their loads only.",
            )
        for stage in scenario.stages:
            for plane in Plane:
                load = stage.load.in_plane(plane)
                if abs(load.moment_nm) < 0.01 and abs(load.force_n) < 0.1:
                    raise Refused(
                        f"scenario {scenario.name!r} has no load in the {plane} plane on day {stage.day:g}: "
                        "the nail may lie anywhere in its play.",
                        where="layouts",
                        next_step="Give each stage a moment, however small, or ask for the toggle envelope.",
                    )
