# ruff: noqa: E402  thread counts have to be set before the libraries are imported
"""Plan search and uncertainty of the demo tibia: time on one core, against plain loops, and how cost grows.

    python benchmarks/bench_search.py

It also draws docs/images/search-cost.svg.

Times are of the process, so that a busy machine does not count. Two plain loops do the complete work for one
candidate after another, on a subsample, and are extrapolated; each says to how many candidates. The first has
the planner's own exact functions for every candidate (lines, canals, nail, blocking layouts, drift); the
second has the same tables as the search, with limits and parts of the objective in plain Python.
"""

import math
import os
import pickle
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "NUMBA_NUM_THREADS"):
    os.environ[threads] = "1"

import numpy as np

from cost_picture import IMAGES, cost_picture
from limbwright.case.candidates import case_candidates, planner_task
from limbwright.case.case import Case
from limbwright.case.forecast import case_forecasts
from limbwright.case.planned import PlannedCase, planned_case
from limbwright.cli import demo_films, load
from limbwright.cli.demo import written_case
from limbwright.cli.demo_patients import ADULT_TIBIA
from limbwright.implant.nail import NailEnd
from limbwright.implant.shipped import shipped_catalogue
from limbwright.plan.forecast.forecast import Sampling
from limbwright.plan.hardware_limits import hardware_limits
from limbwright.plan.osteotomy import bone_line
from limbwright.plan.planner import BoneTask
from limbwright.plan.planner_rules import nail_rules
from limbwright.plan.search.exact import ExactBone
from limbwright.plan.search.level_lines import OneLevel
from limbwright.plan.search.limits import SLACK_MM, Verdicts, verdicts
from limbwright.plan.search.screening import screened
from limbwright.plan.search.search import PlannedTask, search_leg
from limbwright.plan.search.space import SEARCH_ALL, Space, search_space
from limbwright.plan.uncertainty.uncertainty import BonePlanned, Draws, plan_uncertainty
from limbwright.practice.profile import Profile

MILLION = 1_000_000
EXACT_SUBSAMPLE, TABLE_SUBSAMPLE = 40, 20_000
SHARE = (0.6, 0.6)
Where = tuple[int, ...]


def seconds(work: Callable[[], object], repeats: int = 3) -> float:
    """Least process time of a few runs."""
    best = math.inf
    for _ in range(repeats):
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return best


@dataclass(frozen=True)
class Demo:
    """The demo tibia, planned."""

    case: Case
    planned: PlannedCase
    task: BoneTask
    bones: tuple[PlannedTask, ...]


def demo() -> Demo:
    """The invented adult's tibia with low-resolution films."""
    profile = Profile()
    with tempfile.TemporaryDirectory() as folder:
        demo_films.PIXEL_MM = 0.8
        path = written_case(ADULT_TIBIA, Path(folder))
        case = load.case_at(path)
        stated, _ = load.headers_of(case, path)
        planned = planned_case(case, profile, shipped_catalogue(), stated=stated)
    proposed = planned.proposals[0]
    assert proposed.plan is not None
    task = planner_task(case, planned, proposed.plan, profile, shipped_catalogue())
    return Demo(case, planned, task, (PlannedTask(task=task, plan=proposed.plan, proposed=proposed),))


def exact_of(task: BoneTask) -> ExactBone:
    """The exact functions of one bone."""
    profile = task.profile
    correction = task.correction()
    length = bone_line(task.leg, task.bone).length_mm
    limits = hardware_limits(bone=task.bone, length_mm=length, hardware=(), profile=profile)
    lines = OneLevel(task, correction)
    return ExactBone(task=task, correction=correction, limits=limits, held=SEARCH_ALL, lines=lines)


def keeps_limits(space: Space, task: BoneTask, where: Where) -> bool:  # noqa: PLR0911  # one by one
    """The hard limits for one candidate, in plain Python."""
    i, n, g, *_line = where
    rules, profile, nail = nail_rules(task.profile), task.profile, space.nails[n]
    gain, depth = float(space.gains_mm[g]), float(space.depth_mm[i, n])
    if not space.allowed[i] or abs(space.expected_shift_mm[i]) > profile.max_translation_at_osteotomy_mm:
        return False
    exposed = max(nail.exposed_thin_mm, rules.exposed_thin_mm)
    if depth + gain + rules.overlap_mm + exposed > nail.length_mm or gain > nail.stroke_mm:
        return False
    if nail.length_mm > depth + space.beyond_mm[i] - rules.tip_clearance_mm:
        return False
    entry = far = 0
    for hole in nail.holes:
        beyond = nail.hole_depth_mm(hole) - depth
        if hole.end is NailEnd.THIN:
            far += beyond > 0
            near = abs(beyond)
        else:
            entry += beyond <= 0
            near = -beyond if beyond <= 0 else max(beyond - min(gain, nail.stroke_mm), 0.0)
        if near < rules.hole_to_osteotomy_mm - SLACK_MM:
            return False
    if nail.holes and min(entry, far) < rules.screws_per_fragment:
        return False
    reamer = float(space.reamer_mm[n])
    if reamer > space.narrowest_mm[i] + rules.reaming_beyond_canal_mm + SLACK_MM:
        return False
    if space.misfit_mm[i, n] > rules.misfit_mm + SLACK_MM:
        return False
    return line_keeps_limits(space, task, where)


def line_keeps_limits(space: Space, task: BoneTask, where: Where) -> bool:
    """The limits of the line, in plain Python."""
    i, n, _g, *line = where
    rules, profile = nail_rules(task.profile), task.profile
    reamer = float(space.reamer_mm[n])
    for plane in (0, 1):
        p, d = line[2 * plane : 2 * plane + 2]
        for fragment, cell in ((0, p), (1, d)):
            if space.bone_mm[plane][i, n, fragment, cell] - reamer / 2 < rules.cortex_left_mm - SLACK_MM:
                return False
        offset, own = space.cells[plane].offset_mm, float(space.shift_mm[i, plane])
        if abs(own + offset[p] - offset[d]) > max(profile.max_translation_at_osteotomy_mm, abs(own)):
            return False
    return True


def parts_of(space: Space, task: BoneTask, where: Where) -> tuple[float, ...]:
    """Parts of the objective of one candidate, in plain Python."""
    i, n, g, *line = where
    nail = space.nails[n]
    holes = [nail.hole_depth_mm(h) for h in nail.holes]
    ends, shifts, turns, reamed = [], [], [], 0.0
    for plane in (0, 1):
        cells, play = space.cells[plane], 0.0
        p, d = line[2 * plane : 2 * plane + 2]
        for fragment, cell, beyond in ((0, p, -10.0), (1, d, 10.0)):
            place = cells.offset_mm[cell] + math.tan(math.radians(cells.tilt_deg[cell])) * beyond
            gap = space.gap_mm[i, plane, fragment] - nail.thick_diameter_mm / 2
            gap -= space.toward[i, plane] * place
            depth = float(space.depth_mm[i, n])
            span = max(depth - min(holes) if fragment == 0 else max(holes) - depth, 20.0)
            play += math.degrees(math.atan2(max(gap, 0.0), span))
            reamed = max(reamed, space.reamer_mm[n] / 2 - space.room_mm[plane][i, n, fragment, cell])
        ends.append(-space.toward[i, plane] * SHARE[plane] * play + cells.tilt_deg[d] - cells.tilt_deg[p])
        turns.append(cells.tilt_deg[d] - cells.tilt_deg[p])
        shifts.append(space.shift_mm[i, plane] + cells.offset_mm[p] - cells.offset_mm[d])
    reserve = nail.thick_length_mm - space.depth_mm[i, n] - space.gains_mm[g] - task.profile.overlap_mm
    return (
        math.hypot(*ends),
        abs(float(space.gains_mm[g]) - task.lengthening_mm),
        max(20.0 - reserve, 0.0),
        float(space.cost_mm[i]),
        math.hypot(*shifts),
        max(reamed, 0.0),
        math.hypot(*turns),
    )


def spread_over(space: Space, count: int) -> list[Where]:
    """Candidates spread evenly over the whole space."""
    shape = (len(space.levels_mm), len(space.nails), len(space.gains_mm))
    shape += tuple(len(c.offset_mm) for c in space.cells for _ in (0, 1))
    every = max(space.size // count, 1)
    return [tuple(int(k) for k in np.unravel_index(f, shape)) for f in range(0, space.size, every)]


def agree(space: Space, kept: Verdicts, task: BoneTask, places: list[Where]) -> None:
    """The plain limits say what the filters say."""
    for where in places:
        i, n, g, *line = where
        filters = bool(kept.whole[i, n, g])
        for plane in (0, 1):
            p, d = line[2 * plane : 2 * plane + 2]
            filters &= bool(
                kept.lines[plane][i, n, 0, p] and kept.lines[plane][i, n, 1, d] and kept.ends[plane][i, p, d]
            )
        assert keeps_limits(space, task, where) is filters


def against_plain_loops(shown: Demo, whole: float) -> None:
    """Both plain loops beside the search."""
    task, exact = shown.task, exact_of(shown.task)
    space = search_space(task, exact.correction, exact.limits)
    assert space is not None
    kept = verdicts(space, task)
    places = spread_over(space, TABLE_SUBSAMPLE)
    agree(space, kept, task, places[:: len(places) // 2000])
    start = time.process_time()
    for where in places:
        if keeps_limits(space, task, where):
            parts_of(space, task, where)
    each = (time.process_time() - start) / len(places)
    print(f"plain loop with the same tables: {1e6 * each:.1f} us a candidate; for all {space.size:.1e}: "
          f"{each * space.size / 86400:.1f} days, {each * space.size / whole:.0f} times")  # fmt: skip

    feasible = screened(space, kept, task, share=SHARE).where
    few = feasible[:: max(len(feasible) // EXACT_SUBSAMPLE, 1)]
    start = time.process_time()
    for chosen in few:
        exact.routes.clear()
        list(exact.candidates(space, chosen))
    each = (time.process_time() - start) / len(few)
    share = kept.count / space.size
    print(f"plain loop with the planner's exact functions: {1e3 * each:.1f} ms a candidate that keeps the "
          f"limits; for a million, {100 * share:.0f} % of which do: {each * share * MILLION:.0f} s, "
          f"{each * share * MILLION / whole:.0f} times")  # fmt: skip


def by_candidates(shown: Demo) -> list[tuple[float, float]]:
    """Cost of the vectorised part by number of levels with a nail within limits."""
    task, exact = shown.task, exact_of(shown.task)
    space = search_space(task, exact.correction, exact.limits)
    assert space is not None
    print("limits and screening by number of levels and nails:")
    rows = []
    for share in (4, 3, 2, 1):
        names = ("depth_mm", "misfit_mm", "narrowest_mm", "beyond_mm", "gap_mm", "shift_mm")
        names += ("expected_shift_mm", "cost_mm", "allowed", "toward", "levels_mm")
        cut = {name: getattr(space, name)[::share] for name in names}
        room = {n: tuple(x[::share] for x in getattr(space, n)) for n in ("room_mm", "bone_mm")}
        small = replace(space, **cut, **room)
        pairs = int(np.count_nonzero(verdicts(small, task).whole.any(axis=2)))

        def work(small: Space = small) -> object:
            return screened(small, verdicts(small, task), task, share=SHARE)

        rows.append((small.size, pairs, seconds(work, 5)))
    for size, pairs, took in rows:
        print(
            f"  {size:.1e} candidates, {pairs:>4} pairs in limits {took * 1e3:6.1f} ms "
            f"{1e6 * took / max(pairs, 1):5.1f} us each"
        )
    return [(float(pairs), took) for _, pairs, took in rows]


def by_draws(shown: Demo) -> list[tuple[float, float]]:
    """Uncertainty of the plan by number of draws."""
    planned, profile = shown.planned, shown.task.profile
    (forecast,) = case_forecasts(planned, profile, sampling=Sampling(count=0)).values()
    assert planned.plan is not None
    bones = [BonePlanned(plan=planned.plan.bones[0], forecast=forecast)]

    def sampled(count: int) -> object:
        draws = Draws(count=count)
        return plan_uncertainty(planned.leg, bones, profile, targets=planned.targets, draws_of=draws)

    sampled(256)
    print("uncertainty of one plan by number of draws:")
    base = seconds(lambda: sampled(256))
    rows = [(n, seconds(partial(sampled, n))) for n in (2_500, 5_000, 10_000, 20_000)]
    for count, took in rows:
        each = 1e6 * (took - base) / (count - 256)
        print(f"  {count:>7,}  {took:5.2f} s  {each:5.1f} us a draw beyond 256")
    return [(float(count), took) for count, took in rows]


def first_call() -> None:
    """A new process: import and the first search, compiled code from its cache."""
    code = (
        "import time; t = time.process_time(); import pickle, sys;"
        "from limbwright.plan.search.search import search_leg;"
        "leg, bones, targets = pickle.load(open(sys.argv[1], 'rb')); i = time.process_time() - t;"
        "search_leg(leg, bones, targets=targets); print(i, time.process_time() - t - i)"
    )
    shown = demo()
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "task.pickle"
        file.write_bytes(pickle.dumps((shown.planned.leg, shown.bones, dict(shown.planned.targets))))
        done = subprocess.run(
            [sys.executable, "-c", code, str(file)], capture_output=True, text=True, check=True
        )
    imported, searched = (float(x) for x in done.stdout.split())
    print(f"a new process: {imported:.2f} s to import and read, {searched:.2f} s for its first search")


def main() -> None:
    """Everything, one after another."""
    shown = demo()
    targets = shown.planned.targets

    def search() -> object:
        return search_leg(shown.planned.leg, shown.bones, targets=targets)

    search()  # compiled code loaded
    whole = seconds(search)
    found = search_leg(shown.planned.leg, shown.bones, targets=targets)
    print(f"complete search: {found.considered:.1e} candidates, {found.feasible:.1e} in limits, "
          f"{found.evaluated} exactly, {len(found.candidates)} shown: {whole:.2f} s")  # fmt: skip
    against_plain_loops(shown, whole)
    measured = {
        "draws of a plan": by_draws(shown),
        "levels with a nail": by_candidates(shown),
    }
    picture = cost_picture(measured, counted="draws, or levels with a nail within limits")
    (IMAGES / "search-cost.svg").write_bytes(picture)
    with_draws = seconds(
        lambda: case_candidates(shown.case, shown.planned, shown.task.profile, shipped_catalogue()), 1
    )
    print(f"search, shortlist forecast with both planes and 1,024 draws each: {with_draws:.2f} s")
    first_call()


if __name__ == "__main__":
    main()
