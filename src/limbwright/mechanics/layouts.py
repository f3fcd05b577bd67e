"""Which blocking screws earn their place: layouts of both planes ranked, and what each one buys and costs."""

from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from limbwright.mechanics.candidates import Candidate
from limbwright.mechanics.construct import Construct
from limbwright.mechanics.layout_batch import (
    PlaneLayouts,
    Scenario,
    enumerate_layouts,
    solve_layouts,
)
from limbwright.mechanics.plane import Plane
from limbwright.mechanics.plane_problem import Reals
from limbwright.mechanics.screw import BlockingScrew
from limbwright.mechanics.stages import forecast_batch
from limbwright.quantity import Value

WORSE_DEG = 0.005  # a layout this much worse than no screw makes the drift worse


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout(Value):
    """One layout of blocking screws and what it leads to; planes solved apart and put together.

    Angles are magnitudes of the angulation of both planes together, an over-estimate in oblique directions.
    """

    screws: tuple[BlockingScrew, ...]
    """Its screws."""
    worst_deg: float
    """Largest angulation over all scenarios and stages."""
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Missed(Value):
    """What a screw would gain alone where it cannot stand."""

    candidate: Candidate
    """The screw and what speaks against it."""
    gain_deg: float
    """What it would take off the worst angulation of its plane."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutReport(Value):
    """Layouts worth showing, with none at the head."""

    scenarios: tuple[str, ...]
    """Names of the load scenarios."""
    none: Layout
    """Without blocking screws."""
    best: tuple[Layout, ...]
    """Best layout of one, two, three screws, as far as there is one."""
    bought_deg: tuple[float, ...]
    """What each of these takes off the worst angulation of the one before it."""
    runners_up: tuple[Layout, ...]
    """Other layouts of the same number of screws as the best one and within the margin of it."""
    worst: Layout
    """The worst layout there is."""
    making_worse: tuple[Layout, ...]
    """Layouts that drift more than none, the worst first, at most ten."""
    making_worse_count: int
    """How many of the plane layouts looked at make the angulation of their plane worse."""
    best_by_scenario: tuple[Layout, ...]
    """Best layout if that scenario were certain, in the order of the scenarios."""
    scenarios_agree: bool
    """Whether these put their screws into the same fragments on the same sides."""
    smallest_within: Layout | None
    """Layout of fewest screws that keeps the worst angulation inside the limit."""
    missed: tuple[Missed, ...]
    """Screws that do not fit but would gain at least the margin, the best first, at most ten."""
    plane_layouts: int
    """Layouts solved, both planes together."""
    exhaustive: bool
    """Whether every layout up to the number of screws was solved."""

    @property
    def suggested(self) -> Layout | None:
        """The best layout of all; None when the scenarios disagree, for then the choice is the surgeon's."""
        if not self.scenarios_agree:
            return None
        return min((self.none, *self.best), key=lambda layout: layout.worst_deg)


@dataclass(frozen=True, slots=True)
class _Pool:
    """Layouts of one plane with their summaries."""

    solved: PlaneLayouts
    price: Reals
    """(n, scenarios) worst magnitude over the stages plus the price of the step."""


def compare_layouts(
    construct: Construct,
    candidates: tuple[Candidate, ...],
    scenarios: tuple[Scenario, ...],
    *,
    max_screws: int = 3,
    apart_mm: float = 10.0,
    step_price_deg_per_mm: float = 0.05,
    limit_deg: float,
    margin_deg: float = 0.05,
    shift_beyond_osteotomy_mm: float,
    keep: int = 150,
) -> LayoutReport:
    """Solve and rank layouts of 0 to `max_screws` blocking screws over both planes.

    Parameters
    ----------
    construct : Construct
        Its own blocking screws are left out.
    candidates : tuple of Candidate
        From `candidate_screws`; those that do not fit are reported, not used.
    scenarios : tuple of Scenario
        Load scenarios; each needs a load in both planes at every stage.
    apart_mm : float
        Least distance of two screws on one side of one fragment.
    step_price_deg_per_mm : float
        Degrees that one millimetre of step at the cut counts as, in the ranking only.
    limit_deg : float
        Drift that is still accepted; the smallest layout inside it is offered.
    margin_deg : float
        Layouts this close to the best are shown beside it.
    shift_beyond_osteotomy_mm : float
        Where along the moving fragment the shift is told, for instance at the ankle.
    keep : int
        Layouts of each size kept per plane for putting the planes together.

    Returns
    -------
    LayoutReport
    """
    pools, missed, counted, exhaustive = [], [], 0, True
    for plane in Plane:
        mine = [c for c in candidates if c.screw.side.plane is plane]
        usable = [c.screw for c in mine if c.fits]
        solved = enumerate_layouts(
            construct, plane, usable, scenarios, max_screws=max_screws, apart_mm=apart_mm
        )
        counted += len(solved.members)
        exhaustive = exhaustive and solved.exhaustive
        pools.append(_Pool(solved, _price(solved, step_price_deg_per_mm)))
        missed += _missed(construct, plane, [c for c in mine if not c.fits], scenarios, margin_deg)
    joint = _Joint(
        construct,
        pools[0],
        pools[1],
        scenarios,
        beyond_mm=shift_beyond_osteotomy_mm,
        max_screws=max_screws,
        keep=keep,
    )
    none = joint.layout(0, 0)
    best = tuple(x for n in range(1, max_screws + 1) if (x := joint.best(n)) is not None)
    best = tuple(joint.with_misplacement(x) for x in best)
    by_scenario = tuple(joint.best_under(i) for i in range(len(scenarios)))
    top = min((none, *best), key=lambda layout: layout.worst_deg)
    worse, worse_count = joint.making_worse(none)
    missed.sort(key=lambda m: -m.gain_deg)
    return LayoutReport(
        scenarios=tuple(s.name for s in scenarios),
        none=none,
        best=best,
        bought_deg=tuple(
            before.worst_deg - after.worst_deg for before, after in zip((none, *best), best, strict=False)
        ),
        runners_up=joint.near(top, margin_deg),
        worst=joint.worst(),
        making_worse=worse,
        making_worse_count=worse_count,
        best_by_scenario=by_scenario,
        scenarios_agree=len({_places(x) for x in by_scenario}) == 1,
        smallest_within=joint.smallest_within(limit_deg),
        missed=tuple(missed[:10]),
        plane_layouts=counted,
        exhaustive=exhaustive,
    )


def _places(layout: Layout) -> frozenset[tuple[str, str]]:
    return frozenset((s.fragment.value, s.side.value) for s in layout.screws)


def _worst(angulation: Reals) -> Reals:
    """(n, scenarios) largest magnitude over the stages; infinite without a number."""
    return np.asarray(np.max(np.where(np.isnan(angulation), np.inf, np.abs(angulation)), axis=2))


def _price(solved: PlaneLayouts, step_price: float) -> Reals:
    steps = np.max(np.abs(np.nan_to_num(solved.step_mm)), axis=2)
    return np.asarray(_worst(solved.angulation_deg) + step_price * steps)


def _missed(
    construct: Construct,
    plane: Plane,
    unfit: list[Candidate],
    scenarios: tuple[Scenario, ...],
    margin_deg: float,
) -> list[Missed]:
    """Gains of screws that do not fit, each alone."""
    if not unfit:
        return []
    members = np.arange(-1, len(unfit), dtype=np.int64)[:, None]
    solved = solve_layouts(construct, plane, [c.screw for c in unfit], members, scenarios)
    worst = np.max(_worst(solved.angulation_deg), axis=1)
    gains = worst[0] - worst[1:]
    return [
        Missed(candidate=c, gain_deg=float(g)) for c, g in zip(unfit, gains, strict=True) if g >= margin_deg
    ]


class _Joint:
    """Layouts of both planes put together."""

    def __init__(
        self,
        construct: Construct,
        frontal: _Pool,
        sagittal: _Pool,
        scenarios: tuple[Scenario, ...],
        *,
        beyond_mm: float,
        max_screws: int,
        keep: int,
    ) -> None:
        self.construct, self.pools, self.scenarios = construct, (frontal, sagittal), scenarios
        self.beyond_mm, self.max_screws = beyond_mm, max_screws
        weight = np.array([s.weight for s in scenarios])
        self.weight = weight / weight.sum()
        # Per number of screws: the layouts best at worst, and best under each scenario alone.
        self.kept = [[self._shortlist(pool, n, keep) for n in range(max_screws + 1)] for pool in self.pools]
        pairs, worst = [], []
        for nf, ns in product(range(max_screws + 1), repeat=2):
            f, s = self.kept[0][nf], self.kept[1][ns]
            if nf + ns <= max_screws and len(f) and len(s):
                both = np.hypot(frontal.price[f][:, None, :], sagittal.price[s][None, :, :])
                pairs.append(
                    np.stack(
                        (np.repeat(f, len(s)), np.tile(s, len(f)), np.full(len(f) * len(s), nf + ns)), axis=1
                    )
                )
                worst.append(both.reshape(-1, len(scenarios)))
        self.pairs, self.price = np.concatenate(pairs), np.concatenate(worst)

    def _shortlist(self, pool: _Pool, n: int, keep: int) -> Reals:
        index = np.flatnonzero(pool.solved.count == n)
        price = pool.price[index]
        orders = [np.argsort(price.max(axis=1), kind="stable")[:keep]]
        orders += [np.argsort(price[:, i], kind="stable")[:10] for i in range(price.shape[1])]
        return np.asarray(index[np.unique(np.concatenate(orders))])

    def layout(self, f: int, s: int) -> Layout:
        """Summary of one pair."""
        a, b = self.pools[0].solved.angulation_deg[f], self.pools[1].solved.angulation_deg[s]
        u, v = self.pools[0].solved.step_mm[f], self.pools[1].solved.step_mm[s]
        both = np.where(np.isnan(a) | np.isnan(b), np.inf, np.hypot(a, b))
        shift = np.hypot(u - np.radians(a) * self.beyond_mm, v - np.radians(b) * self.beyond_mm)
        by_scenario = both.max(axis=1)
        none = np.hypot(self.pools[0].solved.angulation_deg[0], self.pools[1].solved.angulation_deg[0])
        return Layout(
            screws=(*self.pools[0].solved.of(f), *self.pools[1].solved.of(s)),
            worst_deg=float(by_scenario.max()),
            expected_deg=float(self.weight @ by_scenario),
            worst_by_scenario_deg=tuple(float(x) for x in by_scenario),
            frontal_deg=float(a.ravel()[np.argmax(np.abs(np.nan_to_num(a)))]),
            sagittal_deg=float(b.ravel()[np.argmax(np.abs(np.nan_to_num(b)))]),
            step_mm=float(np.nanmax(np.hypot(u, v))),
            shift_mm=float(np.nanmax(shift)),
            gain_deg=float(np.nanmax(none)) - float(by_scenario.max()),
            misplaced_deg=None,
        )

    def _pick(self, index: int) -> Layout:
        f, s, _ = self.pairs[index]
        return self.layout(int(f), int(s))

    def best(self, n: int) -> Layout | None:
        """Best layout of n screws over all scenarios."""
        mine = np.flatnonzero(self.pairs[:, 2] == n)
        return self._pick(int(mine[np.argmin(self.price[mine].max(axis=1))])) if len(mine) else None

    def best_under(self, scenario: int) -> Layout:
        """Best layout of any number of screws if one scenario were certain; fewer screws win a tie."""
        price = self.price[:, scenario] + 1e-6 * self.pairs[:, 2]
        return self._pick(int(np.argmin(price)))

    def near(self, top: Layout, margin_deg: float) -> tuple[Layout, ...]:
        """Others of the same number of screws within the margin, at most ten."""
        mine = np.flatnonzero(self.pairs[:, 2] == len(top.screws))
        worst = self.price[mine].max(axis=1)
        order = mine[np.argsort(worst, kind="stable")][:60]
        found = [self._pick(int(i)) for i in order]
        close = [x for x in found if x.screws != top.screws and x.worst_deg <= top.worst_deg + margin_deg]
        return tuple(sorted(close, key=lambda x: x.worst_deg)[:10])

    def smallest_within(self, limit_deg: float) -> Layout | None:
        """Fewest screws with the worst angulation inside the limit; among those the best."""
        for n in range(self.max_screws + 1):
            mine = np.flatnonzero(self.pairs[:, 2] == n)
            order = mine[np.argsort(self.price[mine].max(axis=1), kind="stable")][:60]
            inside = [x for x in map(self._pick, order.tolist()) if x.worst_deg <= limit_deg]
            if inside:
                return min(inside, key=lambda x: x.worst_deg)
        return None

    def worst(self) -> Layout:
        """The worst layout of one plane, the other without screws."""
        worst = [np.max(_worst(p.solved.angulation_deg), axis=1) for p in self.pools]
        f, s = int(np.argmax(worst[0])), int(np.argmax(worst[1]))
        return max((self.layout(f, 0), self.layout(0, s)), key=lambda x: x.worst_deg)

    def making_worse(self, none: Layout) -> tuple[tuple[Layout, ...], int]:
        """Layouts that raise the worst angulation of their plane, the other plane without screws."""
        found, count = [], 0
        for plane, pool in enumerate(self.pools):
            worst = np.max(_worst(pool.solved.angulation_deg), axis=1)
            bad = np.flatnonzero(worst > worst[0] + WORSE_DEG)
            count += len(bad)
            few = bad[np.lexsort((-worst[bad], pool.solved.count[bad]))][:200]
            for i in few[np.argsort(-worst[few], kind="stable")][:10]:
                found.append(self.layout(int(i), 0) if plane == 0 else self.layout(0, int(i)))
        found = [x for x in found if x.worst_deg > none.worst_deg + 0.5 * WORSE_DEG]
        return tuple(sorted(found, key=lambda x: -x.worst_deg)[:10]), count

    def with_misplacement(self, layout: Layout) -> Layout:
        """The same layout with the effect of one screw placed 1 mm off."""
        added = 0.0
        base = {p: self._plane_worst(p, [s for s in layout.screws if s.side.plane is p]) for p in Plane}
        for plane in Plane:
            mine = [s for s in layout.screws if s.side.plane is plane]
            rest = base[Plane.SAGITTAL if plane is Plane.FRONTAL else Plane.FRONTAL]
            for i, screw in enumerate(mine):
                for change in (
                    replace(screw, clearance_mm=screw.clearance_mm + 1.0),
                    replace(screw, depth_mm=screw.depth_mm - 1.0),
                    replace(screw, depth_mm=screw.depth_mm + 1.0),
                ):
                    moved = self._plane_worst(plane, [*mine[:i], change, *mine[i + 1 :]])
                    before, after = np.hypot(base[plane], rest).max(), np.hypot(moved, rest).max()
                    added = max(added, float(after - before))
        return replace(layout, misplaced_deg=added)

    def _plane_worst(self, plane: Plane, screws: list[BlockingScrew]) -> Reals:
        """(scenarios, stages) magnitude in one plane."""
        first = self.scenarios[0].stages
        load = [[s.load.in_plane(plane) for s in scenario.stages] for scenario in self.scenarios]
        solved = forecast_batch(
            self.construct.with_blocking_screws(*screws),
            plane,
            lengthening_mm=[s.lengthening_mm for s in first],
            moment_nm=[[x.moment_nm for x in row] for row in load],
            force_n=[[x.force_n for x in row] for row in load],
            axial_n=[[x.axial_n for x in row] for row in load],
            angular_nm_per_deg=[s.angular_nm_per_deg for s in first],
            shear_n_per_mm=[s.shear_n_per_mm for s in first],
            force_beyond_osteotomy_mm=[row[0].force_beyond_osteotomy_mm for row in load],
        )
        return np.abs(np.where(np.isnan(solved.angulation_deg), 90.0, solved.angulation_deg))
