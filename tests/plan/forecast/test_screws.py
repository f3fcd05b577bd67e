from dataclasses import replace

import pytest

from limbwright.limb.anatomy import Bone
from limbwright.limb.view import Border
from limbwright.plan.circumstances import HardwareKind, StandingHardware
from limbwright.plan.decision import ScrewDirection
from limbwright.plan.forecast.caution_zones import caution_zones, structures_near
from limbwright.plan.forecast.construct import modelled_bone
from limbwright.plan.forecast.screw_finding import advice_findings, said_layout
from limbwright.plan.forecast.screws import blocking_advice, blocking_candidates, scenarios_of
from limbwright.practice.profile import Profile

FEW = Profile(blocking_screw_max_to_osteotomy_mm=20)


@pytest.fixture(scope="module")
def wide(planned):  # type: ignore[no-untyped-def]
    return planned(level=100.0, widen_mm=8.0)


@pytest.fixture(scope="module")
def advice(wide, days):  # type: ignore[no-untyped-def]
    return blocking_advice(wide.plan, wide.canals, days(40.0), FEW)


def test_layouts_get_better_with_every_screw_and_say_what_each_buys(advice) -> None:
    worst = [advice.none.worst_deg, *(x.worst_deg for x in advice.best)]
    assert [x.count for x in advice.best] == [1, 2, 3]
    assert worst[1] < worst[0] - 0.3
    for before, after, layout in zip(worst, worst[1:], advice.best, strict=False):
        assert layout.bought_deg == pytest.approx(before - after)
    assert advice.exhaustive
    assert advice.layouts_solved > 100


def test_screws_stand_on_the_concave_sides_near_the_cut(advice) -> None:
    for screw in advice.best[1].screws:
        assert screw.side in {Border.LATERAL, Border.POSTERIOR}
        frontal = screw.side is Border.LATERAL
        assert screw.direction is (ScrewDirection.ANTEROPOSTERIOR if frontal else ScrewDirection.MEDIOLATERAL)
        assert 10 - 1e-9 <= screw.from_osteotomy_mm <= 20 + 1e-9
        assert screw.offset_mm == pytest.approx(10.7 / 2 + 2.5 + 0.5)


def test_every_layout_is_solved_in_both_planes_together_and_those_shown_first_are_drawn(advice) -> None:
    for layout in (advice.none, *advice.best):
        assert layout.together is not None
        assert layout.oblique_deg < layout.worst_deg
        assert layout.likely_deg < layout.rarely_above_deg
    assert advice.best[0].misplaced_deg > 0.05
    assert all(x.together is not None and x.likely_deg is None for x in advice.runners_up)


def test_the_worst_layout_is_no_better_than_any(advice) -> None:
    others = (advice.none, *advice.best, *advice.runners_up, *advice.making_worse)
    assert advice.worst.worst_deg >= max(x.worst_deg for x in others) - 1e-9


def test_the_smallest_layout_inside_the_limit_is_offered(wide, days, advice) -> None:
    limit = (advice.none.worst_deg + advice.best[0].worst_deg) / 2
    own = replace(FEW, drift_limit_deg=limit, drift_watch_deg=0.5)
    found = blocking_advice(wide.plan, wide.canals, days(40.0), own)
    assert found.smallest_within.count == 1
    hopeless = replace(FEW, drift_limit_deg=0.5, drift_watch_deg=0.5)
    none = blocking_advice(wide.plan, wide.canals, days(40.0), hopeless)
    assert none.smallest_within is None
    assert none.offered is None
    assert "None of them keeps" in none.findings[0].words


def test_scenarios_are_the_expected_and_the_strong_pull_and_the_other_way_where_it_is_uncertain(
    planned, wide, days
) -> None:
    names = [s.name for s in scenarios_of(wide.plan, days(40.0), Profile())]
    assert names == ["pull as expected", "strong pull"]
    middle = planned(level=150.0)
    turned = scenarios_of(middle.plan, days(40.0), Profile())
    assert turned[-1].name == "frontal pull the other way"
    ends = [s.stages[-1].load for s in turned]
    assert ends[2].frontal.moment_nm == pytest.approx(-ends[0].frontal.moment_nm)
    assert ends[1].frontal.moment_nm < ends[0].frontal.moment_nm


def test_scenarios_that_disagree_are_shown_side_by_side_and_nothing_is_picked(planned, days) -> None:
    found = planned(level=150.0, widen_mm=8.0)
    made = blocking_advice(found.plan, found.canals, days(40.0), FEW)
    assert not made.scenarios_agree
    assert made.offered is None
    words = next(f for f in made.findings if f.id == "pull-direction-uncertain").words
    assert "frontal pull the other way: " in words
    assert "medial" in words


def test_limits_keep_screws_out_and_say_why(planned, wide) -> None:
    modelled = modelled_bone(wide.plan, wide.canals, Profile())
    found = blocking_candidates(modelled, wide.plan, wide.canals, Profile())
    assert any(c.fits for c in found)
    tight = planned(level=180.0, nail=None)
    reasons = {
        c.against
        for c in blocking_candidates(
            modelled_bone(tight.plan, tight.canals, Profile()), tight.plan, tight.canals, Profile()
        )
    }
    assert any("of room and 3 mm of notch" in r for r in reasons)
    gap = planned(widen_mm=3.0)
    thin_bone = tuple(replace(c, outer=c.inner) for c in gap.canals)  # cortex without thickness
    outside = blocking_candidates(
        modelled_bone(gap.plan, gap.canals, Profile()), gap.plan, thin_bone, Profile()
    )
    assert any(c.against.endswith("mm outside the outer cortex") for c in outside)


def test_a_gap_too_small_for_a_screw_is_named_with_its_degrees(planned, days) -> None:
    found = planned(level=130.0)
    strict = Profile(blocking_screw_notch_mm=0, blocking_screw_worth_deg=0.1)
    made = blocking_advice(found.plan, found.canals, days(40.0), strict)
    said = next(f for f in made.findings if f.id == "gap-too-small-for-a-screw")
    assert f"costs {made.too_tight[0][2]:.1f} deg" in said.words
    loose = advice_findings(made, found.plan, replace(strict, blocking_screw_worth_deg=5))
    assert "gap-too-small-for-a-screw" not in [f.id for f in loose]


def test_layouts_that_make_it_worse_are_warned_of(advice, wide) -> None:
    bad = replace(advice.best[0], worst_deg=advice.none.worst_deg + 1)
    found = advice_findings(replace(advice, making_worse=(bad,)), wide.plan, FEW)
    worse = next(f for f in found if f.id == "blocking-screw-makes-worse")
    assert said_layout(bad) in worse.words
    none = advice_findings(replace(advice, making_worse=()), wide.plan, FEW)
    assert "blocking-screw-makes-worse" not in [f.id for f in none]


def test_a_plan_with_other_screws_than_computed_is_told(advice, wide) -> None:
    offered = replace(advice, scenarios_agree=True, smallest_within=advice.best[0])
    ids = [f.id for f in advice_findings(offered, wide.plan, FEW)]
    assert "blocking-screws-differ-from-computed" in ids
    same = replace(wide.plan, blocking_screws=advice.best[0].screws)
    assert "blocking-screws-differ-from-computed" not in [f.id for f in advice_findings(offered, same, FEW)]


def test_nerves_and_vessels_are_named_by_bone_level_and_direction() -> None:
    assert "peroneal" in structures_near(Bone.TIBIA, 10, ScrewDirection.MEDIOLATERAL)[0]
    assert structures_near(Bone.TIBIA, 50, ScrewDirection.MEDIOLATERAL) == ()
    assert "popliteal" in structures_near(Bone.FEMUR, 90, ScrewDirection.ANTEROPOSTERIOR)[0]
    assert all(
        z.from_percent < z.to_percent for bone in (Bone.TIBIA, Bone.FEMUR) for z in caution_zones(bone)
    )


def test_no_posterior_screw_is_proposed_at_the_fibular_neck(planned, days) -> None:
    high = planned(level=70.0, nail=None)
    found = blocking_candidates(
        modelled_bone(high.plan, high.canals, Profile()), high.plan, high.canals, Profile()
    )
    near = [
        c
        for c in found
        if c.screw.side.value == "posterior"
        and high.plan.osteotomy.below_joint_mm + c.screw.depth_mm - high.plan.osteotomy.depth_mm < 48
    ]
    assert near
    assert all("peroneal" in c.against for c in near)


def test_a_screw_keeps_clear_of_a_plate_that_stays(wide) -> None:
    modelled = modelled_bone(wide.plan, wide.canals, Profile())
    cut = wide.plan.osteotomy
    plate = StandingHardware(
        kind=HardwareKind.PLATE,
        bone=Bone.TIBIA,
        from_mm=cut.below_joint_mm + 12,
        to_mm=cut.below_joint_mm + 60,
        in_canal=False,
    )
    found = blocking_candidates(modelled, wide.plan, wide.canals, Profile(), hardware=(plate,))
    beyond = [c for c in found if c.screw.depth_mm > cut.depth_mm]
    assert beyond
    assert all(c.against.startswith("plate from ") for c in beyond)
    assert any(c.fits for c in found)
    elsewhere = replace(plate, bone=Bone.FEMUR)
    free = blocking_candidates(modelled, wide.plan, wide.canals, Profile(), hardware=(elsewhere,))
    assert any(c.fits for c in free if c.screw.depth_mm > cut.depth_mm)
