# ruff: noqa: E402  thread counts have to be set before the libraries are imported
"""Plan search and uncertainty of the demo tibia: time on one core, against a plain loop, and how cost grows.

    python benchmarks/bench_search.py

Times are of the process, so that a busy machine does not count. The plain loop applies the same limits to
one candidate after another in Python on a subsample and is extrapolated to the whole; it says so.
"""

import math
import os
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "NUMBA_NUM_THREADS"):
    os.environ[threads] = "1"

import numpy as np

from limbwright.case.forecast import course_days
from limbwright.case.planned import planned_case
from limbwright.cli import demo_films, load
from limbwright.cli.demo import written_case
from limbwright.cli.demo_patients import ADULT_TIBIA
from limbwright.implant.nail import NailEnd
from limbwright.implant.shipped import shipped_catalogue
from limbwright.plan.correction import correction_for
from limbwright.plan.forecast.forecast import Sampling, bone_forecast
from limbwright.plan.hardware_limits import hardware_limits
from limbwright.plan.osteotomy import bone_line
from limbwright.plan.planner import BoneTask
from limbwright.plan.planner_rules import nail_rules
from limbwright.plan.search.search import search_bone
from limbwright.plan.search.space import SLACK_MM, Space, feasible, search_space
from limbwright.plan.uncertainty.uncertainty import Draws, plan_uncertainty
from limbwright.practice.profile import Profile

SUBSAMPLE = 20_000


def seconds(work: Callable[[], object], repeats: int = 3) -> float:
    """Least process time of a few runs."""
    best = math.inf
    for _ in range(repeats):
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return best


def keeps_limits(space: Space, task: BoneTask, where: tuple[int, ...]) -> bool:  # noqa: PLR0911
    """The same hard limits for one candidate, in plain Python."""
    i, n, g, x, y = where
    rules, profile, nail = nail_rules(task.profile), task.profile, space.nails[n]
    gain, depth = float(space.gains_mm[g]), float(space.depth_mm[i, n])
    if not space.allowed[i] or abs(space.shift_mm[i]) > profile.max_translation_at_osteotomy_mm:
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
    over = nail.reamer_over_mm if nail.reamer_over_mm is not None else profile.over_reaming_mm
    reamer = nail.thick_diameter_mm + over
    if reamer > space.narrowest_mm[i] + rules.reaming_beyond_canal_mm + SLACK_MM:
        return False
    if space.misfit_mm[i, n] > rules.misfit_mm + SLACK_MM:
        return False
    for plane, offset in ((0, float(space.lateral_mm[x])), (1, float(space.anterior_mm[y]))):
        low, high = (float(space.cortex_mm[i, n, plane, side]) for side in (0, 1))
        if min(low + offset, high - offset) < rules.cortex_left_mm - SLACK_MM:
            return False
    return True


def main() -> None:
    profile = Profile()
    with tempfile.TemporaryDirectory() as folder:
        demo_films.PIXEL_MM = 0.8
        path = written_case(ADULT_TIBIA, Path(folder))
        case = load.case_at(path)
        stated, _ = load.headers_of(case, path)
        planned = planned_case(case, profile, shipped_catalogue(), stated=stated)
    plan, canals = planned.proposals[0].plan, planned.proposals[0].canals
    assert plan is not None
    task = BoneTask(
        leg=planned.leg,
        direction=plan.direction,
        lengthening_mm=plan.lengthening_mm,
        situation=planned.situation.of(plan.bone),
        targets=planned.targets,
        profile=profile,
        catalogue=shipped_catalogue(),
        examination=case.examination,
    )
    search_bone(task)  # compiled code loaded
    whole = seconds(lambda: search_bone(task))
    found = search_bone(task)
    print(f"whole search: {found.considered:,} candidates, {found.feasible:,} within limits, "
          f"{found.evaluated} exactly, {len(found.candidates)} shown: {whole:.2f} s")  # fmt: skip

    correction = correction_for(
        task.leg, task.situation, targets=task.targets, tolerance_deg=profile.angle_tolerance_deg,
        sagittal_tolerance_deg=profile.sagittal_tolerance_deg,
        rotation_tolerance_deg=profile.rotation_tolerance_deg, correct_alignment=True,
    )  # fmt: skip
    length = bone_line(task.leg, task.bone).length_mm
    space = search_space(
        task, correction, hardware_limits(bone=task.bone, length_mm=length, hardware=(), profile=profile)
    )
    keep = feasible(space, task)
    at_once = seconds(lambda: feasible(space, task), 10)
    every = max(keep.size // SUBSAMPLE, 1)
    places = [tuple(int(k) for k in np.unravel_index(f, keep.shape)) for f in range(0, keep.size, every)]
    start = time.process_time()
    one_by_one = [keeps_limits(space, task, w) for w in places]
    plain = (time.process_time() - start) * keep.size / len(places)
    assert one_by_one == [bool(keep[w]) for w in places]
    print(f"filters: {at_once * 1e3:.1f} ms at once; plain loop {plain:.2f} s: {plain / at_once:.0f} times")
    print(f"  (extrapolated from {len(places):,} candidates, with the same answers)")

    print("cost of the filters by number of candidates:")
    for share in (4, 2, 1):
        small = replace(space, lateral_mm=np.resize(space.lateral_mm, len(space.lateral_mm) * 8 // share))
        took = seconds(lambda s=small: feasible(s, task), 5)  # type: ignore[misc]
        print(f"  {small.size:>10,}  {took * 1e3:7.1f} ms  {1e9 * took / small.size:6.2f} ns each")

    days = course_days(planned.prescriptions[0])
    forecast = bone_forecast(plan, canals, days, profile, sampling=Sampling(count=0))

    def sampled(count: int) -> object:
        return plan_uncertainty(
            planned.leg,
            plan,
            profile,
            targets=planned.targets,
            forecast=forecast,
            draws_of=Draws(count=count),
        )

    sampled(256)
    print("uncertainty of one plan by number of draws:")
    base = seconds(lambda: sampled(256))
    for count in (2_500, 5_000, 10_000, 20_000):
        took = seconds(lambda c=count: sampled(c))  # type: ignore[misc]
        print(
            f"  {count:>7,}  {took:5.2f} s  {1e6 * (took - base) / (count - 256):6.1f} us a draw beyond 256"
        )


if __name__ == "__main__":
    main()
