"""What layouts of blocking screws lead to with both planes together, each solved once."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from limbwright.mechanics.construct import Construct
from limbwright.mechanics.layout_batch import Scenario
from limbwright.mechanics.layout_coupled import coupled_layouts, drawn_layouts
from limbwright.mechanics.plane import Plane
from limbwright.mechanics.plane_problem import Reals
from limbwright.mechanics.sampling import Spread
from limbwright.mechanics.screw import BlockingScrew
from limbwright.quantity import Value

MISPLACED_MM = 1.0
RARELY = 0.95
Screws = tuple[BlockingScrew, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout(Value):
    """One layout of blocking screws and what it leads to, both planes solved together."""

    screws: tuple[BlockingScrew, ...]
    """Its screws."""
    worst_deg: float
    """Largest angulation, in its own plane, over all scenarios and stages."""
    expected_deg: float
    """Mean over the scenarios, by weight, of the largest angulation over the stages."""
    worst_by_scenario_deg: tuple[float, ...]
    """Largest angulation over the stages, for each scenario in order."""
    frontal_deg: float
    """Frontal angulation, varus +, where its magnitude is largest."""
    sagittal_deg: float
    """Sagittal angulation, procurvatum +, where its magnitude is largest."""
    step_mm: float
    """Largest step at the cut."""
    shift_mm: float
    """Largest offset of the moving fragment's axis at the level asked for."""
    gain_deg: float
    """What it takes off the worst angulation of the same construct without blocking screws."""
    misplaced_deg: float | None
    """What one screw 1 mm off (away from the nail, or along it) adds at worst; None if not asked."""
    likely_deg: float | None
    """Mean over draws of uncertain inputs of the largest angulation over the stages; None if not drawn."""
    rarely_above_deg: float | None
    """Nineteen draws in twenty stay below it; None if not drawn."""
    end_deg: tuple[float, float] | None
    """Frontal and sagittal angulation at the last stage of the first scenario; None without a number."""
    end_step_mm: tuple[float, float] | None
    """Lateral and anterior step then."""


@dataclass(frozen=True, slots=True)
class _Course:
    """One layout: (scenarios, stages, 2) angulation and step, (scenarios, stages) angulation in its plane."""

    angulation_deg: Reals
    step_mm: Reals
    oblique_deg: Reals


class Ranking:
    """Layouts of one construct with both planes together; every layout is solved once."""

    def __init__(
        self, construct: Construct, scenarios: tuple[Scenario, ...], step_price: float, beyond_mm: float
    ) -> None:
        self.construct, self.scenarios = construct, scenarios
        self.step_price, self.beyond_mm = step_price, beyond_mm
        weight = np.array([s.weight for s in scenarios])
        self.weight = weight / weight.sum()
        self._courses: dict[Screws, _Course] = {}
        self._misplaced: dict[Screws, float] = {}
        self._drawn: dict[Screws, tuple[float, float]] = {}

    @property
    def count(self) -> int:
        """Layouts solved so far."""
        return len(self._courses)

    def solve(self, layouts: Sequence[Screws]) -> None:
        """Solve what has not been solved."""
        todo = list(dict.fromkeys(x for x in layouts if x not in self._courses))
        if not todo:
            return
        found = coupled_layouts(self.construct, todo, self.scenarios)
        for i, screws in enumerate(todo):
            self._courses[screws] = _Course(found.angulation_deg[i], found.step_mm[i], found.oblique_deg[i])

    def worst(self, screws: Screws) -> float:
        """Largest angulation over scenarios and stages; infinite where one has no number. [deg]"""
        return float(self._courses[screws].oblique_deg.max())

    def worst_in(self, plane: Plane, screws: Screws) -> float:
        """Largest angulation in one plane over scenarios and stages; infinite without a number. [deg]"""
        angle = self._courses[screws].angulation_deg[..., list(Plane).index(plane)]
        return float(np.where(np.isnan(angle), np.inf, np.abs(angle)).max())

    def price(self, screws: Screws) -> float:
        """What layouts are ranked by: the worst angulation and the price of the step. [deg]"""
        return max(self.price_under(screws, i) for i in range(len(self.scenarios)))

    def price_under(self, screws: Screws, scenario: int) -> float:
        """The same if one scenario were certain. [deg]"""
        course = self._courses[screws]
        step = np.nan_to_num(np.hypot(course.step_mm[scenario, :, 0], course.step_mm[scenario, :, 1]))
        return float(course.oblique_deg[scenario].max() + self.step_price * step.max())

    def misplace(self, layouts: Sequence[Screws]) -> None:
        """Solve every layout with one screw 1 mm off: away from the nail, and along it both ways."""
        moved = {
            screws: [
                (*screws[:i], change, *screws[i + 1 :])
                for i, screw in enumerate(screws)
                for change in self._off(screw)
            ]
            for screws in layouts
        }
        self.solve([x for part in moved.values() for x in part])
        for screws, part in moved.items():
            added = [self.worst(x) - self.worst(screws) for x in part]
            self._misplaced[screws] = max([0.0, *added])

    def _off(self, screw: BlockingScrew) -> list[BlockingScrew]:
        cut = self.construct.osteotomy_depth_mm
        along = [
            replace(screw, depth_mm=screw.depth_mm + way)
            for way in (-MISPLACED_MM, MISPLACED_MM)
            if (screw.depth_mm + way >= cut) == (screw.depth_mm >= cut)
        ]
        return [replace(screw, clearance_mm=screw.clearance_mm + MISPLACED_MM), *along]

    def draw(
        self,
        layouts: Sequence[Screws],
        spreads: Mapping[Plane, tuple[Spread, ...]],
        *,
        count: int,
        seed: int,
    ) -> None:
        """Draw uncertain inputs under the first scenario: mean and 95 % of the largest angulation."""
        drawn = drawn_layouts(
            self.construct, layouts, self.scenarios[0].stages, spreads, count=count, seed=seed
        )
        largest = drawn.oblique_deg.max(axis=1).reshape(len(layouts), count)
        for screws, row in zip(layouts, largest, strict=True):
            known = row[np.isfinite(row)]
            if len(known):
                self._drawn[screws] = (float(known.mean()), float(np.quantile(known, RARELY)))

    def layout(self, screws: Screws) -> Layout:
        """Everything that is known of one layout."""
        course = self._courses[screws]
        angle, step = course.angulation_deg, course.step_mm
        by_scenario = course.oblique_deg.max(axis=1)
        away = step - np.radians(angle) * self.beyond_mm
        largest = [float(a.ravel()[np.argmax(np.abs(np.nan_to_num(a)))]) for a in np.moveaxis(angle, -1, 0)]
        known = not np.isnan(angle[0, -1]).any()
        likely = self._drawn.get(screws)
        return Layout(
            screws=screws,
            worst_deg=float(by_scenario.max()),
            expected_deg=float(self.weight @ by_scenario),
            worst_by_scenario_deg=tuple(float(x) for x in by_scenario),
            frontal_deg=largest[0],
            sagittal_deg=largest[1],
            step_mm=_largest(step),
            shift_mm=_largest(away),
            gain_deg=self.worst(()) - float(by_scenario.max()),
            misplaced_deg=self._misplaced.get(screws),
            likely_deg=None if likely is None else likely[0],
            rarely_above_deg=None if likely is None else likely[1],
            end_deg=(float(angle[0, -1, 0]), float(angle[0, -1, 1])) if known else None,
            end_step_mm=(float(step[0, -1, 0]), float(step[0, -1, 1])) if known else None,
        )


def _largest(vectors: Reals) -> float:
    return float(np.nan_to_num(np.hypot(vectors[..., 0], vectors[..., 1])).max())
