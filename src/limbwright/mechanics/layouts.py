"""Which blocking screws earn their place: layouts ranked with both planes together.

Every layout is screened by planes; the best few tens, the worst ones, and all that is told of any layout, are
solved in both planes together.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from limbwright.mechanics.candidates import Candidate
from limbwright.mechanics.construct import Construct
from limbwright.mechanics.layout_batch import Scenario
from limbwright.mechanics.layout_ranking import Layout, Ranking
from limbwright.mechanics.layout_screening import Screening
from limbwright.mechanics.plane import Plane
from limbwright.mechanics.sampling import Spread
from limbwright.mechanics.screw import BlockingScrew
from limbwright.quantity import Value

WORSE_DEG = 0.005  # a layout this much worse than no screw makes the drift worse


@dataclass(frozen=True, slots=True, kw_only=True)
class Missed(Value):
    """What a screw would gain alone where it cannot stand."""

    candidate: Candidate
    """The screw and what speaks against it."""
    gain_deg: float
    """What it would take off the worst angulation in its plane, both planes solved together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutReport(Value):
    """Layouts worth showing, with none at the head."""

    scenarios: tuple[str, ...]
    """Names of the load scenarios."""
    none: Layout
    """Without blocking screws."""
    best: tuple[Layout, ...]
    """Best layout of one, two, three screws, as far as there is one."""
    top: Layout
    """The best of these and of none, if every screw has to buy the margin."""
    bought_deg: tuple[float, ...]
    """What each of these takes off the worst angulation of the one before it."""
    runners_up: tuple[Layout, ...]
    """Other layouts of as many screws as the top one and within the margin of it."""
    worst: Layout
    """The worst layout there is."""
    making_worse: tuple[Layout, ...]
    """Layouts that drift more than none, the worst first, at most ten."""
    making_worse_count: int
    """How many layouts of one plane alone, screened, make the angulation of their plane worse."""
    best_by_scenario: tuple[Layout, ...]
    """Best layout if that scenario were certain, in the order of the scenarios."""
    scenarios_agree: bool
    """Whether these put their screws into the same fragments on the same sides."""
    smallest_within: Layout | None
    """Layout of fewest screws that keeps the worst angulation inside the limit."""
    missed: tuple[Missed, ...]
    """Screws that do not fit but would gain at least the margin, the best first, at most ten."""
    plane_layouts: int
    """Layouts screened, each in its plane."""
    together: int
    """Layouts solved with both planes together."""
    exhaustive: bool
    """Whether every layout up to the number of screws was solved."""

    @property
    def suggested(self) -> Layout | None:
        """The best layout in which every screw buys the margin; None when the scenarios disagree."""
        return self.top if self.scenarios_agree else None


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
    together: int = 24,
    spreads: Mapping[Plane, tuple[Spread, ...]] | None = None,
    draw_count: int = 32,
    seed: int = 1,
) -> LayoutReport:
    """Screen layouts of 0 to `max_screws` blocking screws, and rank the best with both planes together.

    Parameters
    ----------
    construct : Construct
        Its own blocking screws are left out.
    candidates : tuple of Candidate
        From `candidate_screws`; those that do not fit are reported, not used.
    scenarios : tuple of Scenario
        Load scenarios; each needs a load in both planes at every stage. The first is the expected one.
    apart_mm : float
        Least distance of two screws on one side of one fragment.
    step_price_deg_per_mm : float
        Degrees that one millimetre of step at the cut counts as, in the ranking only.
    limit_deg : float
        Drift that is still accepted; the smallest layout inside it is offered.
    margin_deg : float
        What a screw has to buy to count as better; layouts this close to the best are shown beside it.
    shift_beyond_osteotomy_mm : float
        Where along the moving fragment the shift is told, for instance at the ankle.
    keep : int
        Layouts of each size kept per plane for putting the planes together.
    together : int
        Layouts of each size solved with both planes together.
    spreads, draw_count, seed
        Uncertain inputs and draws of the expected scenario, as in `drawn_layouts`; none are drawn without.

    Returns
    -------
    LayoutReport
    """
    screening = Screening(
        construct,
        candidates,
        scenarios,
        max_screws=max_screws,
        apart_mm=apart_mm,
        step_price_deg_per_mm=step_price_deg_per_mm,
        keep=keep,
    )
    ranking = Ranking(construct, scenarios, step_price_deg_per_mm, shift_beyond_osteotomy_mm)
    unfit = screening.unfit(margin_deg)
    none: tuple[BlockingScrew, ...] = ()
    worse, worse_count = screening.making_worse()
    sizes = {n: screening.best(n, together) for n in range(1, max_screws + 1)}
    ranking.solve([none, *(x for part in sizes.values() for x in part), *worse, *((c.screw,) for c in unfit)])
    best = tuple(min(part, key=ranking.price) for part in sizes.values() if part)
    every = [none, *(x for part in sizes.values() for x in part)]

    def count_in(layout: tuple[BlockingScrew, ...], price: float) -> float:
        return price + margin_deg * len(layout)

    top = min((none, *best), key=lambda x: count_in(x, ranking.price(x)))
    by_scenario = tuple(
        min(every, key=lambda x, i=i: count_in(x, ranking.price_under(x, i)))  # type: ignore[misc]  # i is bound
        for i in range(len(scenarios))
    )
    within = next(
        (
            min(inside, key=ranking.price)
            for part in ([none], *sizes.values())
            if (inside := [x for x in part if ranking.worst(x) <= limit_deg])
        ),
        None,
    )
    shown = list(dict.fromkeys([none, *best, top, *by_scenario, *([] if within is None else [within])]))
    ranking.misplace(shown)
    if spreads is not None:
        ranking.draw(shown, spreads, count=draw_count, seed=seed)
    near = [
        x for x in sizes.get(len(top), []) if x != top and ranking.worst(x) <= ranking.worst(top) + margin_deg
    ]
    bad = [x for x in worse if ranking.worst(x) > ranking.worst(none) + 0.5 * WORSE_DEG]
    return LayoutReport(
        scenarios=tuple(s.name for s in scenarios),
        none=ranking.layout(none),
        best=tuple(ranking.layout(x) for x in best),
        top=ranking.layout(top),
        bought_deg=tuple(
            ranking.worst(before) - ranking.worst(after)
            for before, after in zip((none, *best), best, strict=False)
        ),
        runners_up=tuple(ranking.layout(x) for x in sorted(near, key=ranking.worst)[:10]),
        worst=ranking.layout(max([*every, *worse], key=ranking.worst)),
        making_worse=tuple(ranking.layout(x) for x in sorted(bad, key=ranking.worst, reverse=True)[:10]),
        making_worse_count=worse_count,
        best_by_scenario=tuple(ranking.layout(x) for x in by_scenario),
        scenarios_agree=len({_places(x) for x in by_scenario}) == 1,
        smallest_within=None if within is None else ranking.layout(within),
        missed=_missed(unfit, ranking, margin_deg),
        plane_layouts=screening.count,
        together=ranking.count,
        exhaustive=screening.exhaustive,
    )


def _places(layout: tuple[BlockingScrew, ...]) -> frozenset[tuple[str, str]]:
    return frozenset((s.fragment.value, s.side.value) for s in layout)


def _missed(unfit: list[Candidate], ranking: Ranking, margin_deg: float) -> tuple[Missed, ...]:
    found = []
    for candidate in unfit:
        plane = candidate.screw.side.plane
        gain = ranking.worst_in(plane, ()) - ranking.worst_in(plane, (candidate.screw,))
        if gain >= margin_deg:
            found.append(Missed(candidate=candidate, gain_deg=gain))
    return tuple(sorted(found, key=lambda m: -m.gain_deg)[:10])
