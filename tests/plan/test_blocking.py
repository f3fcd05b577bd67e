from dataclasses import replace

import pytest

from limbwright.finding import Severity
from limbwright.limb.anatomy import SIDES_OF_A_CUT, Bone, Fragment, Projection
from limbwright.limb.view import Border
from limbwright.mechanics.canal import Walls
from limbwright.plan.blocking import blocking_plan, play_toward, screw_depth_mm
from limbwright.plan.canal import CanalAlong
from limbwright.plan.decision import ScrewDirection
from limbwright.plan.nail_in_bone import BlockingRules, NailInBone
from limbwright.published import COMMON_PRACTICE
from limbwright.quantity import Sense

RULES = BlockingRules(
    gap_mm=2,
    min_to_osteotomy_mm=10,
    max_to_osteotomy_mm=30,
    diameter_mm=5,
    drill_mm=4.2,
    clearance_mm=0.5,
    to_hardware_mm=3,
    notch_mm=3,
    locking_play_mm=0.15,
    most=4,
    thick_beyond_mm=5,
    worth_deg=0.5,
    source=COMMON_PRACTICE,
)
NAIL = NailInBone(
    bone=Bone.TIBIA,
    entry_fragment=Fragment.PROXIMAL,
    osteotomy_depth_mm=120,
    lengthening_mm=40,
    length_mm=275,
    thick_length_mm=245,
    thick_diameter_mm=10.7,
    thin_diameter_mm=8,
    hole_depths_mm=(20, 35, 255, 267),
    hole_diameter_mm=5,
)
DRIFT = (Sense.VALGUS, Sense.PROCURVATUM)


def canal(
    fragment: Fragment, projection: Projection, low: float = 10, high: float = 10, cortex: float = 7
) -> CanalAlong:
    depths = (10.0, 120.0) if fragment is Fragment.PROXIMAL else (120.0, 330.0)

    def walls(extra: float) -> Walls:
        return Walls(depth_mm=depths, negative_mm=(-low - extra,) * 2, positive_mm=(high + extra,) * 2)

    return CanalAlong(fragment=fragment, projection=projection, inner=walls(0), outer=walls(cortex))


def all_canals(**sides: float) -> tuple[CanalAlong, ...]:
    return tuple(canal(f, p, **sides) for f in SIDES_OF_A_CUT for p in Projection)


def nothing_bars(_fragment: Fragment, _side: Border, _depth_mm: float) -> str:
    return ""


def plan(canals, nail=NAIL, rules=RULES, against=nothing_bars):  # type: ignore[no-untyped-def]
    return blocking_plan(nail=nail, canals=canals, senses=DRIFT, rules=rules, against=against)


def ids(found) -> set[str]:  # type: ignore[no-untyped-def]
    return {f.id for f in found.findings}


def test_a_wide_canal_gets_lateral_and_posterior_screws_in_both_fragments() -> None:
    found = plan(all_canals())
    placed = {(s.fragment, s.side, s.direction) for s in found.screws}
    assert placed == {
        (fragment, side, direction)
        for fragment in SIDES_OF_A_CUT
        for side, direction in (
            (Border.LATERAL, ScrewDirection.ANTEROPOSTERIOR),
            (Border.POSTERIOR, ScrewDirection.MEDIOLATERAL),
        )
    }
    assert all(s.offset_mm == pytest.approx(10.7 / 2 + 5 / 2 + 0.5) for s in found.screws)
    # Screws driven across each other at one level would meet beside the nail.
    by_fragment = {
        f: sorted(s.from_osteotomy_mm for s in found.screws if s.fragment is f) for f in SIDES_OF_A_CUT
    }
    assert all(levels == [10, 18] for levels in by_fragment.values())
    assert found.toggle_deg(Sense.VALGUS, with_screws=True) < found.toggle_deg(
        Sense.VALGUS, with_screws=False
    )


def test_no_screw_where_the_nail_lies_on_that_cortex() -> None:
    # Nail against the lateral and the posterior cortex; room on the other sides only.
    canals = tuple(
        canal(f, p, low=14, high=5.4) if p is Projection.FRONTAL else canal(f, p, low=5.4, high=14)
        for f in SIDES_OF_A_CUT
        for p in Projection
    )
    found = plan(canals)
    assert found.screws == ()
    assert ids(found) == {"blocking-screw-not-needed"}
    assert all(n.value == pytest.approx(0.05) for f in found.findings for n in f.numbers[:1])


def test_a_gap_that_is_not_worth_a_screw_gets_none() -> None:
    assert plan(all_canals(), rules=replace(RULES, worth_deg=15)).screws == ()


def test_a_narrow_gap_is_notched_and_said_so() -> None:
    found = plan(all_canals(low=8.5, high=8.5))
    assert len(found.screws) == 4
    assert "blocking-screw-notches-cortex" in ids(found)
    assert "blocking-screw-notches-cortex" not in ids(plan(all_canals(low=12, high=12)))


def test_a_barred_place_is_said_and_the_next_level_that_is_free_is_taken() -> None:
    def near_the_cut(fragment: Fragment, side: Border, depth_mm: float) -> str:
        barred = fragment is Fragment.PROXIMAL and side is Border.POSTERIOR and depth_mm > 100
        return "a nerve" if barred else ""

    found = plan(all_canals(), against=near_the_cut)
    own = next(s for s in found.screws if (s.fragment, s.side) == (Fragment.PROXIMAL, Border.POSTERIOR))
    assert own.from_osteotomy_mm == 20
    said = next(f for f in found.findings if f.id == "blocking-screw-barred")
    assert said.severity is Severity.NOTE
    assert "procurvatum in the proximal fragment of the tibia, on the posterior side" in said.words
    assert "a nerve. It is planned 20 mm from the osteotomy instead." in said.words
    free = plan(all_canals())
    assert len(found.screws) == len(free.screws) == 4


def test_a_side_that_is_barred_everywhere_gets_no_screw_and_says_why() -> None:
    def lateral(_fragment: Fragment, side: Border, _depth_mm: float) -> str:
        return "a plate" if side is Border.LATERAL else ""

    found = plan(all_canals(), against=lateral)
    assert {s.side for s in found.screws} == {Border.POSTERIOR}
    said = [f for f in found.findings if f.id == "blocking-screw-barred"]
    assert len(said) == 2
    assert all(f.severity is Severity.CAUTION and "none is planned" in f.words for f in said)
    # The play it would have closed stays.
    assert found.toggle_deg(Sense.VALGUS, with_screws=True) == found.toggle_deg(
        Sense.VALGUS, with_screws=False
    )


def test_a_level_where_a_screw_gains_too_little_is_not_taken_instead() -> None:
    def near(_fragment: Fragment, _side: Border, depth_mm: float) -> str:
        return "a nerve" if abs(depth_mm - NAIL.osteotomy_depth_mm) < 25 else ""

    narrow = tuple(
        replace(
            c,
            inner=Walls(
                depth_mm=(10.0, 98.0, 110.0, 120.0, 142.0, 330.0),
                negative_mm=(-6.0, -6.0, -12.0, -12.0, -6.0, -6.0),
                positive_mm=(6.0, 6.0, 12.0, 12.0, 6.0, 6.0),
            ),
        )
        for c in all_canals()
    )
    assert plan(narrow).screws
    found = plan(narrow, against=near)
    assert found.screws == ()
    assert "blocking-screw-barred" in ids(found)


def test_only_as_many_as_the_practice_allows_the_best_first() -> None:
    found = plan(all_canals(), rules=replace(RULES, most=1))
    assert len(found.screws) == 1
    assert found.screws[0].fragment is Fragment.PROXIMAL  # nearer its lock: more tilt saved
    assert "blocking-screws-limited" in ids(found)


def test_a_screw_keeps_clear_of_locking_screws() -> None:
    crowded = replace(NAIL, hole_depths_mm=(20, 105, 255, 267))
    assert screw_depth_mm(crowded, Fragment.PROXIMAL, RULES) == pytest.approx(120 - 23)
    full = replace(NAIL, hole_depths_mm=(95, 105, 255, 267))
    assert screw_depth_mm(full, Fragment.PROXIMAL, RULES) is None
    assert "blocking-screw-no-level" in ids(plan(all_canals(), nail=full))
    short = replace(NAIL, osteotomy_depth_mm=270)
    assert screw_depth_mm(short, Fragment.DISTAL, RULES) is None


def test_a_screw_that_ends_beside_the_thin_part_is_pointed_out() -> None:
    deep = replace(NAIL, osteotomy_depth_mm=200)
    canals = tuple(
        replace(c, inner=replace(c.inner, depth_mm=(10.0, 330.0)), outer=None) for c in all_canals()
    )
    assert "blocking-screw-ends-beside-rod" in ids(plan(canals, nail=deep))
    assert "blocking-screw-ends-beside-rod" not in ids(plan(all_canals()))


def test_without_a_lock_the_far_wall_counts() -> None:
    bare = replace(NAIL, hole_depths_mm=())
    proximal = canal(Fragment.PROXIMAL, Projection.FRONTAL)
    loose = play_toward(bare, proximal, Sense.VALGUS, 110, RULES)
    locked = play_toward(NAIL, proximal, Sense.VALGUS, 110, RULES)
    assert loose.tilt_deg > 0
    assert loose.gap_mm == locked.gap_mm == pytest.approx(4.65)
    distal = play_toward(bare, canal(Fragment.DISTAL, Projection.FRONTAL), Sense.VARUS, 130, RULES)
    assert distal.tilt_deg > 0


def test_a_retrograde_nail_counts_from_the_other_end() -> None:
    retrograde = replace(NAIL, bone=Bone.FEMUR, entry_fragment=Fragment.DISTAL)
    assert screw_depth_mm(retrograde, Fragment.DISTAL, RULES) == 110
    assert screw_depth_mm(retrograde, Fragment.PROXIMAL, RULES) == 130


def test_a_plane_that_was_not_traced_gets_no_screw() -> None:
    found = plan(tuple(c for c in all_canals() if c.projection is Projection.FRONTAL))
    assert {s.side for s in found.screws} == {Border.LATERAL}
    assert found.toggle_deg(Sense.PROCURVATUM, with_screws=False) == 0


def test_a_screw_that_saves_most_takes_the_nearest_level() -> None:
    wide = tuple(
        canal(f, p, high=14) if p is Projection.FRONTAL else canal(f, p)
        for f in SIDES_OF_A_CUT
        for p in Projection
    )
    found = plan(wide)
    for fragment in SIDES_OF_A_CUT:
        nearest = min((s for s in found.screws if s.fragment is fragment), key=lambda s: s.from_osteotomy_mm)
        assert nearest.side is Border.LATERAL


def test_no_second_level_free_is_said() -> None:
    tight = replace(RULES, max_to_osteotomy_mm=15)
    found = plan(all_canals(), rules=tight)
    assert len(found.screws) == 2
    assert "blocking-screw-no-level" in ids(found)


def test_a_thick_part_that_withdraws_leaves_more_tilt_with_and_without_a_screw() -> None:
    deep = replace(NAIL, osteotomy_depth_mm=200)
    assert deep.slack_mm(Fragment.DISTAL, 210) == pytest.approx((10.7 - 8) / 2)
    assert deep.slack_mm(Fragment.DISTAL, 202) == 0  # thick part beside it to the end
    assert deep.slack_mm(Fragment.PROXIMAL, 190) == 0
    here = canal(Fragment.DISTAL, Projection.FRONTAL)
    ends_thin = play_toward(deep, here, Sense.VALGUS, 210, RULES)
    short = play_toward(replace(deep, lengthening_mm=10), here, Sense.VALGUS, 210, RULES)
    assert ends_thin.tilt_with_screw_deg > short.tilt_with_screw_deg + 1
    assert ends_thin.tilt_deg > short.tilt_deg + 1
