"""Layouts of blocking screws screened by planes: each plane solved alone, the angles put together."""

from dataclasses import dataclass
from itertools import product

import numpy as np

from limbwright.mechanics.candidates import Candidate
from limbwright.mechanics.construct import Construct
from limbwright.mechanics.layout_batch import PlaneLayouts, Scenario, enumerate_layouts, solve_layouts
from limbwright.mechanics.plane import Fragment, Plane
from limbwright.mechanics.plane_problem import Reals
from limbwright.mechanics.screw import BlockingScrew

WORSE_DEG = 0.005  # a layout this much worse than no screw makes the drift worse
Screws = tuple[BlockingScrew, ...]


@dataclass(frozen=True, slots=True)
class _Pool:
    """Layouts of one plane with their summaries."""

    solved: PlaneLayouts
    price: Reals
    """(n, scenarios) worst magnitude over the stages plus the price of the step."""


class Screening:
    """All layouts of both planes, the planes solved apart: an over-estimate in oblique directions."""

    def __init__(
        self,
        construct: Construct,
        candidates: tuple[Candidate, ...],
        scenarios: tuple[Scenario, ...],
        *,
        max_screws: int,
        apart_mm: float,
        step_price_deg_per_mm: float,
        keep: int,
    ) -> None:
        self.construct, self.candidates, self.scenarios = construct, candidates, scenarios
        self.pools = []
        for plane in Plane:
            usable = [c.screw for c in candidates if c.fits and c.screw.side.plane is plane]
            solved = enumerate_layouts(
                construct, plane, usable, scenarios, max_screws=max_screws, apart_mm=apart_mm
            )
            self.pools.append(_Pool(solved, _price(solved, step_price_deg_per_mm)))
        self.count = sum(len(p.solved.members) for p in self.pools)
        self.exhaustive = all(p.solved.exhaustive for p in self.pools)
        kept = [[_shortlist(pool, n, keep) for n in range(max_screws + 1)] for pool in self.pools]
        pairs, price = [], []
        for nf, ns in product(range(max_screws + 1), repeat=2):
            f, s = kept[0][nf], kept[1][ns]
            if nf + ns <= max_screws and len(f) and len(s):
                free = self._uncrossed(f, s, apart_mm)
                both = np.hypot(self.pools[0].price[f][:, None, :], self.pools[1].price[s][None, :, :])
                total = np.full(len(f) * len(s), nf + ns)
                pairs.append(np.stack((np.repeat(f, len(s)), np.tile(s, len(f)), total), axis=1)[free])
                price.append(both.reshape(-1, len(scenarios))[free])
        self._pairs, self._price = np.concatenate(pairs), np.concatenate(price)

    def _uncrossed(self, frontal: Reals, sagittal: Reals, apart_mm: float) -> Reals:
        """Pairs of layouts, flat, in which no two screws driven across each other meet in one fragment."""
        places = []
        for pool, index in zip(self.pools, (frontal, sagittal), strict=True):
            screws = pool.solved.screws
            # Depths of the moving fragment are put out of reach of those of the entry fragment.
            depth = [s.depth_mm + (1e4 if s.fragment is Fragment.MOVING else 0.0) for s in screws]
            known = np.append(depth, np.nan)[pool.solved.members[index]]
            places.append(known)
        near = np.abs(places[0][:, None, :, None] - places[1][None, :, None, :]) < apart_mm
        return np.asarray(~near.any(axis=(2, 3)).ravel())

    def best(self, size: int, count: int) -> list[Screws]:
        """Layouts of one size: the best at worst, and the best few under each scenario alone.

        They are taken turn by turn from the ways of sharing the screws between the planes, for it is there
        that the planes apart mislead.
        """
        mine = np.flatnonzero(self._pairs[:, 2] == size)
        if not len(mine):
            return []
        worst = self._price[mine].max(axis=1)
        chosen = list(mine[np.argsort(worst, kind="stable")][: count // 2])
        share = self.pools[0].solved.count[self._pairs[mine, 0]]
        few = max(1, count // (2 * (size + 1)))
        for n in range(size + 1):
            own = np.flatnonzero(share == n)
            chosen += list(mine[own[np.argsort(worst[own], kind="stable")][:few]])
        for i in range(self._price.shape[1]):
            chosen += list(mine[np.argsort(self._price[mine, i], kind="stable")][:2])
        return list(dict.fromkeys(self._screws(int(i)) for i in chosen))

    def making_worse(self) -> tuple[list[Screws], int]:
        """Layouts of one plane that raise its worst angulation, the worst few of few screws; and how many."""
        found: list[Screws] = []
        count = 0
        for pool in self.pools:
            worst = np.max(_worst(pool.solved.angulation_deg), axis=1)
            bad = np.flatnonzero(worst > worst[0] + WORSE_DEG)
            count += len(bad)
            few = bad[np.lexsort((-worst[bad], pool.solved.count[bad]))][:200]
            found += [pool.solved.of(int(i)) for i in few[np.argsort(-worst[few], kind="stable")][:6]]
        return found, count

    def unfit(self, margin_deg: float) -> list[Candidate]:
        """Screws that cannot stand and would gain the margin in their plane, each alone; the best ten."""
        found: list[tuple[float, Candidate]] = []
        for plane in Plane:
            mine = [c for c in self.candidates if not c.fits and c.screw.side.plane is plane]
            if not mine:
                continue
            members = np.arange(-1, len(mine), dtype=np.int64)[:, None]
            solved = solve_layouts(self.construct, plane, [c.screw for c in mine], members, self.scenarios)
            worst = np.max(_worst(solved.angulation_deg), axis=1)
            found += [
                (float(worst[0] - w), c)
                for c, w in zip(mine, worst[1:], strict=True)
                if worst[0] - w >= margin_deg
            ]
        found.sort(key=lambda pair: -pair[0])
        return [c for _, c in found[:10]]

    def _screws(self, index: int) -> Screws:
        f, s, _ = self._pairs[index]
        return (*self.pools[0].solved.of(int(f)), *self.pools[1].solved.of(int(s)))


def _shortlist(pool: _Pool, size: int, keep: int) -> Reals:
    """Layouts of one plane and size: the best at worst, and the best under each scenario alone."""
    index = np.flatnonzero(pool.solved.count == size)
    price = pool.price[index]
    orders = [np.argsort(price.max(axis=1), kind="stable")[:keep]]
    orders += [np.argsort(price[:, i], kind="stable")[:10] for i in range(price.shape[1])]
    return np.asarray(index[np.unique(np.concatenate(orders))])


def _worst(angulation: Reals) -> Reals:
    """(n, scenarios) largest magnitude over the stages; infinite without a number."""
    return np.asarray(np.max(np.where(np.isnan(angulation), np.inf, np.abs(angulation)), axis=2))


def _price(solved: PlaneLayouts, step_price: float) -> Reals:
    steps = np.max(np.abs(np.nan_to_num(solved.step_mm)), axis=2)
    return np.asarray(_worst(solved.angulation_deg) + step_price * steps)
