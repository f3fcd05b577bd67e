from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from limbwright.limb.anatomy import Bone, Fragment
from limbwright.mechanics import Plane, solve, solve_coupled
from limbwright.plan.circumstances import HardwareKind, StandingHardware
from limbwright.plan.drift import Drift
from limbwright.plan.forecast.construct import modelled_bone
from limbwright.plan.forecast.forecast import region_of_plan
from limbwright.plan.forecast.loads import tissue_pull_of
from limbwright.plan.search.layout import layouts
from limbwright.practice.profile import Profile


@pytest.fixture(scope="module")
def plan(make_task, planned):  # type: ignore[no-untyped-def]
    return planned(make_task())


def offered(plan, turn_off: Drift = Drift(), hardware=(), **settings: object):  # type: ignore[no-untyped-def]  # noqa: B008
    profile = Profile(**settings)  # type: ignore[arg-type]  # settings of the practice by name
    return list(layouts(plan.plan, plan.proposed.canals, turn_off, profile, hardware=hardware))


def end(drift: Drift | None, turn_off: Drift) -> float:
    assert drift is not None
    return float(
        np.hypot(drift.varus_deg + turn_off.varus_deg, drift.procurvatum_deg + turn_off.procurvatum_deg)
    )


def test_each_larger_layout_brings_the_end_nearer_by_what_a_screw_is_worth(plan) -> None:
    found = offered(plan, blocking_screw_worth_deg=0.2)
    assert found[0][0] == ()
    ends = [end(drift, Drift()) for _screws, drift in found]
    assert len(found) > 1
    assert [len(screws) for screws, _drift in found] == sorted({len(screws) for screws, _drift in found})
    assert all(b <= a - 0.2 for a, b in pairwise(ends))


def test_the_drift_is_of_both_planes_together_and_no_larger_than_each_alone_says(plan) -> None:
    profile, gain = Profile(), plan.plan.lengthening_mm
    load = tissue_pull_of(profile, region_of_plan(plan.plan)).load(gain)
    for screws, drift in offered(plan):
        construct = modelled_bone(
            replace(plan.plan, blocking_screws=screws), plan.proposed.canals, profile
        ).construct
        whole = solve_coupled(construct, load, lengthening_mm=gain)
        assert drift is not None
        assert (drift.varus_deg, drift.procurvatum_deg) == (whole.frontal_deg, whole.sagittal_deg)
        alone = [solve(construct, p, load.in_plane(p), lengthening_mm=gain).angulation_deg for p in Plane]
        assert end(drift, Drift()) < np.hypot(*alone) + 1e-6


def test_layouts_keep_clear_of_hardware_that_stays(plan) -> None:
    level = plan.plan.osteotomy.below_joint_mm
    plate = StandingHardware(
        kind=HardwareKind.PLATE, bone=Bone.TIBIA, from_mm=level - 60, to_mm=level - 5, in_canal=False
    )
    free = [s for screws, _drift in offered(plan) for s in screws]
    held = [s for screws, _drift in offered(plan, hardware=(plate,)) for s in screws]
    assert Fragment.PROXIMAL in {s.fragment for s in free}
    assert Fragment.PROXIMAL not in {s.fragment for s in held}


def test_screws_are_chosen_for_the_end_not_for_the_drift(plan) -> None:
    """Turned against the drift by what it is, no screw is worth its place."""
    (_none, bare), *_more = offered(plan)
    assert bare is not None
    against = Drift(varus_deg=-bare.varus_deg, procurvatum_deg=-bare.procurvatum_deg)
    assert [screws for screws, _drift in offered(plan, against)] == [()]


def test_screws_stand_where_the_practice_allows_them(plan) -> None:
    profile = Profile()
    for screws, _drift in offered(plan):
        construct = modelled_bone(
            replace(plan.plan, blocking_screws=screws), plan.proposed.canals, profile
        ).construct
        assert len(construct.blocking_screws) == len(screws)
        for screw in screws:
            away = screw.from_osteotomy_mm
            assert profile.blocking_screw_min_to_osteotomy_mm <= away
            assert away <= profile.blocking_screw_max_to_osteotomy_mm


def test_no_more_screws_than_the_practice_wants(plan) -> None:
    assert max(len(screws) for screws, _drift in offered(plan, blocking_screws_max=1)) <= 1
    assert [screws for screws, _drift in offered(plan, blocking_screws_max=0)] == [()]


def test_findings_speak_of_the_candidates_own_screws(searched) -> None:
    own = next(
        c
        for x in searched.candidates
        for c in x.bones
        if c.proposed.blocking is not None and c.proposed.blocking.findings == ()
    )
    ids = [f.id for f in own.proposed.findings]
    assert ids.count("drift-expected") == 1
    assert not any(i.startswith("blocking-screw") for i in ids)
    assert own.proposed.blocking.screws == own.plan.blocking_screws
