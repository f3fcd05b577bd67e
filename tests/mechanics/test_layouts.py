# ruff: noqa: PLR0917  drawn arguments stand in one line
"""Blocking screws: candidates, layouts in one plane, ranked report of both."""

from dataclasses import replace

import numpy as np
import pytest

from limbwright.error import Contradiction, Refused
from limbwright.mechanics import (
    Fragment,
    KeepOut,
    Load,
    Plane,
    Scenario,
    Shape,
    Side,
    SpatialLoad,
    Spread,
    Stage,
    candidate_screws,
    compare_layouts,
    enumerate_layouts,
    forecast_course,
    solve,
    solve_layouts,
    straight_canal,
)


def scenario(name, valgus_nm, force_n=0.0, procurvatum_nm=4.0, axial_n=0.0, stiff=0.0):
    return Scenario(
        name=name,
        weight=1.0,
        stages=tuple(
            Stage(
                day=d,
                lengthening_mm=d,
                load=SpatialLoad(
                    frontal=Load(
                        moment_nm=-valgus_nm, force_n=force_n, force_beyond_osteotomy_mm=100, axial_n=axial_n
                    ),
                    sagittal=Load(moment_nm=procurvatum_nm, axial_n=axial_n),
                ),
                angular_nm_per_deg=stiff * d,
            )
            for d in (0.0, 25.0, 50.0)
        ),
    )


VALGUS = (scenario("5", 5), scenario("10", 10), scenario("push", 5, 15), scenario("pull", 5, -15))


def candidates(built, **changes):
    given = {
        "distances_mm": (10.0, 20.0, 35.0, 65.0, 75.0),
        "clearance_mm": 0.3,
        "notch_mm": 4.0,
        "from_hardware_mm": 8.0,
    }
    return candidate_screws(built, **(given | changes))


def test_candidates_cover_fragments_levels_sides_and_sizes(make):
    found = candidates(make(), diameters_mm=(4.0, 5.0))
    assert len(found) == 2 * 5 * 4 * 2
    assert {c.screw.side for c in found} == set(Side)
    assert all(c.room_mm == pytest.approx(1.65) for c in found)
    soft = candidates(make(), modulus_gpa=110.0, bone_stiffness_n_per_mm=3000.0)
    assert 2000 < soft[0].screw.stiffness_n_per_mm < 3000


def test_what_speaks_against_a_candidate(make):
    zone = KeepOut(
        fragment=Fragment.ENTRY,
        start_depth_mm=70,
        end_depth_mm=90,
        side=Side.LATERAL,
        reason="the nerve crosses here",
    )
    found = {
        (c.screw.depth_mm, c.screw.side): c
        for c in candidates(make(), keep_outs=(zone,), from_hardware_mm=70)
    }
    assert found[75.0, Side.LATERAL].against == "the nerve crosses here"
    assert found[75.0, Side.MEDIAL].against == "40 mm from a locking screw, 70 mm wanted"
    assert found[140.0, Side.LATERAL].fits
    narrow = candidates(make(150, 14), notch_mm=2.0)
    assert "1.7 mm of room and 2 mm of notch do not take a 5 mm screw" in narrow[0].against
    lying = make(150, 14)
    canal = replace(lying.entry_canal, frontal=lying.entry_canal.frontal.shifted(-1.65))
    against = [
        c.against
        for c in candidates(replace(lying, entry_canal=canal))
        if c.screw.fragment is Fragment.ENTRY and c.screw.side is Side.LATERAL
    ]
    assert all(a.startswith("the nail lies on the cortex") for a in against)


def test_plane_layouts_are_the_single_solves(make):
    built = make()
    screws = [c.screw for c in candidates(built) if c.screw.side.plane is Plane.FRONTAL]
    scenarios = (scenario("a", 5, axial_n=200, stiff=0.002), scenario("b", 9, 10, axial_n=100, stiff=0.002))
    members = np.array([[-1, -1], [0, 3], [5, -1], [2, 7]])
    solved = solve_layouts(built, Plane.FRONTAL, screws, members, scenarios)
    for i in range(4):
        placed = built.with_blocking_screws(*solved.of(i))
        for j, s in enumerate(scenarios):
            first = solve(placed, Plane.FRONTAL, s.stages[0].load.frontal)
            assert solved.angulation_deg[i, j, 0] == pytest.approx(first.angulation_deg, abs=1e-6)
            assert solved.step_mm[i, j, 0] == pytest.approx(first.step_mm, abs=1e-6)
    from limbwright.mechanics import forecast_batch

    s = scenarios[1]
    course = forecast_batch(
        built.with_blocking_screws(*solved.of(3)),
        Plane.FRONTAL,
        lengthening_mm=[x.lengthening_mm for x in s.stages],
        moment_nm=[x.load.frontal.moment_nm for x in s.stages],
        force_n=10.0,
        force_beyond_osteotomy_mm=100.0,
        axial_n=100.0,
        angular_nm_per_deg=[x.angular_nm_per_deg for x in s.stages],
    )
    assert solved.angulation_deg[3, 1] == pytest.approx(course.angulation_deg[0], abs=1e-5)


def test_study_table_of_the_straight_canal(make):
    """Straight 14 mm canal, cut at 150 mm, valgus loads: none 2.83, best one 2.24, best two 1.73 degrees."""
    built = make()
    found = candidate_screws(
        built,
        distances_mm=tuple(range(10, 105, 5)),
        sides=(Side.LATERAL, Side.MEDIAL),
        clearance_mm=0.3,
        notch_mm=10.0,
        from_hardware_mm=8.0,
    )
    screws = [c.screw for c in found if c.fits]
    solved = enumerate_layouts(built, Plane.FRONTAL, screws, VALGUS, max_screws=2, apart_mm=10.0)
    worst = np.abs(solved.angulation_deg).max(axis=(1, 2))
    best = [worst[solved.count == n].min() for n in range(3)]
    assert best == pytest.approx([2.83, 2.24, 1.73], abs=0.01)
    assert solved.exhaustive
    chosen = solved.of(int(np.flatnonzero(solved.count == 2)[np.argmin(worst[solved.count == 2])]))
    assert {(s.depth_mm, s.side) for s in chosen} == {(140.0, Side.LATERAL), (160.0, Side.LATERAL)}
    assert 3.1 < worst.max() < 3.7


def test_many_candidates_are_extended_from_the_best(make):
    built = make()
    screws = [c.screw for c in candidates(built) if c.screw.side.plane is Plane.FRONTAL]
    some = enumerate_layouts(
        built, Plane.FRONTAL, screws, VALGUS[:1], max_screws=2, apart_mm=10.0, exhaustive_limit=50, beam=8
    )
    every = enumerate_layouts(built, Plane.FRONTAL, screws, VALGUS[:1], max_screws=2, apart_mm=10.0)
    assert not some.exhaustive
    assert len(some.members) < len(every.members)
    assert np.abs(some.angulation_deg).max(axis=(1, 2)).min() == pytest.approx(
        np.abs(every.angulation_deg).max(axis=(1, 2)).min()
    )


@pytest.fixture(scope="module")
def report(make):
    built = make()
    return compare_layouts(
        built, candidates(built), VALGUS, max_screws=3, limit_deg=2.6, shift_beyond_osteotomy_mm=150.0
    )


def test_report_says_what_each_screw_buys_and_costs(report):
    assert report.none.screws == ()
    assert [len(x.screws) for x in report.best] == [1, 2, 3]
    assert report.bought_deg[0] == pytest.approx(report.none.worst_deg - report.best[0].worst_deg)
    assert all(b > 0.1 for b in report.bought_deg)
    for layout in report.best:
        assert layout.gain_deg == pytest.approx(report.none.worst_deg - layout.worst_deg)
        assert layout.worst_deg == max(layout.worst_by_scenario_deg)
        assert layout.expected_deg <= layout.worst_deg
        assert layout.misplaced_deg > 0.1  # about a degree per millimetre, shared by both planes
        assert layout.step_mm > 0
        assert layout.shift_mm > 0
    assert {s.side for s in report.best[2].screws} == {Side.LATERAL, Side.POSTERIOR}
    assert report.exhaustive
    assert report.plane_layouts > 2000


def test_report_names_the_worst_and_those_that_make_it_worse(report):
    assert report.worst.worst_deg > report.none.worst_deg
    assert report.making_worse
    assert report.making_worse_count >= len(report.making_worse)
    assert all(x.worst_deg > report.none.worst_deg for x in report.making_worse)
    assert report.making_worse[0].worst_deg == pytest.approx(report.worst.worst_deg)


def test_report_offers_the_smallest_layout_inside_the_limit(report):
    assert report.smallest_within.worst_deg <= 2.6
    fewer = [x for x in (report.none, *report.best) if len(x.screws) < len(report.smallest_within.screws)]
    assert all(x.worst_deg > 2.6 for x in fewer)


def test_report_shows_near_layouts(report):
    best = min((report.none, *report.best), key=lambda x: x.worst_deg)
    assert all(x.worst_deg <= best.worst_deg + 0.05 for x in report.runners_up)
    assert best.screws not in {x.screws for x in report.runners_up}


def test_scenarios_that_disagree_stand_side_by_side(make):
    built = make()
    mixed = (scenario("valgus", 6), scenario("varus", -6))
    report = compare_layouts(
        built,
        candidates(built, distances_mm=(10.0, 20.0)),
        mixed,
        max_screws=2,
        limit_deg=0.1,
        shift_beyond_osteotomy_mm=150.0,
    )
    assert not report.scenarios_agree
    assert report.suggested is None
    sides = [{s.side for s in x.screws} & {Side.LATERAL, Side.MEDIAL} for x in report.best_by_scenario]
    assert sides == [{Side.LATERAL}, {Side.MEDIAL}] or sides[0] != sides[1]
    assert report.smallest_within is None
    one = compare_layouts(
        built,
        candidates(built, distances_mm=(10.0, 20.0)),
        mixed[:1],
        max_screws=2,
        limit_deg=0.1,
        shift_beyond_osteotomy_mm=150.0,
    )
    assert one.scenarios_agree
    assert one.suggested == min((one.none, *one.best), key=lambda x: x.worst_deg)


def test_no_room_for_a_screw_still_tells_what_it_would_gain(make):
    built = make()
    report = compare_layouts(
        built,
        candidates(built, notch_mm=0.0),
        VALGUS[:1],
        max_screws=1,
        limit_deg=2.0,
        shift_beyond_osteotomy_mm=150.0,
    )
    assert report.best == ()
    assert report.missed[0].gain_deg > 0.4
    assert "of room" in report.missed[0].candidate.against


def test_a_nail_on_the_cortex_gains_nothing(make):
    built = make(150, 10.8)
    report = compare_layouts(
        built,
        candidates(built, clearance_mm=0.1),
        VALGUS[:1],
        max_screws=1,
        limit_deg=2.0,
        shift_beyond_osteotomy_mm=150.0,
    )
    assert report.best == ()
    assert report.missed == ()
    assert report.suggested == report.none


def test_contradictory_scenarios_are_refused(make, screw):
    other = replace(VALGUS[0], stages=VALGUS[0].stages[:2])
    with pytest.raises(Contradiction, match="another lengthening"):
        solve_layouts(make(), Plane.FRONTAL, [], np.full((1, 1), -1), (VALGUS[0], other))
    with pytest.raises(Contradiction, match="no scenario"):
        solve_layouts(make(), Plane.FRONTAL, [], np.full((1, 1), -1), ())
    with pytest.raises(Refused, match="no load in the sagittal plane on day 0"):
        solve_layouts(make(), Plane.FRONTAL, [], np.full((1, 1), -1), (scenario("x", 5, procurvatum_nm=0.0),))
    with pytest.raises(Contradiction, match="does not act in this plane"):
        solve_layouts(make(), Plane.FRONTAL, [screw(140, Side.ANTERIOR)], np.array([[0]]), VALGUS)


def test_a_nail_that_does_not_fit_has_no_number(make):
    solved = solve_layouts(make(150, 10.5), Plane.FRONTAL, [], np.full((1, 1), -1), VALGUS)
    assert np.isnan(solved.angulation_deg).all()


def test_candidates_leave_out_levels_without_walls(make):
    short = make(150, 14, moving_canal=straight_canal(diameter_mm=14, start_depth_mm=150, end_depth_mm=175))
    depths = {c.screw.depth_mm for c in candidates(short)}
    assert max(depths) == 170


def test_what_is_told_of_a_layout_is_the_course_with_both_planes_together(make, report):
    for layout in (report.none, *report.best, report.worst):
        built = make(150, 14, *layout.screws)
        worst = []
        for one in VALGUS:
            course = forecast_course(built, one.stages, coupled=True)
            worst.append(max(s.coupled.oblique_deg for s in course.stages))
        assert layout.worst_by_scenario_deg == pytest.approx(worst, abs=1e-4)
        end = forecast_course(built, VALGUS[0].stages, coupled=True).stages[-1].coupled
        assert layout.end_deg == pytest.approx((end.frontal_deg, end.sagittal_deg), abs=1e-4)


def test_an_oblique_pull_without_screws_is_not_over_stated(make, report):
    by_planes = max(
        np.hypot(
            *(
                solve(make(), p, s.load.in_plane(p), lengthening_mm=s.lengthening_mm).angulation_deg
                for p in Plane
            )
        )
        for one in VALGUS
        for s in one.stages
    )
    assert report.none.worst_deg < 0.95 * by_planes


def test_draws_widen_what_a_layout_may_come_to(make):
    built = make()
    spreads = {
        p: (
            Spread(name="moment_factor", centre=1, spread=0.4, shape=Shape.TRIANGULAR),
            Spread(name="canal_widening_mm", centre=0, spread=0.5),
            Spread(name="blocking_clearance_error_mm", centre=0, spread=0.4),
            Spread(name="new_bone_factor", centre=1, spread=0.5, shape=Shape.UNIFORM),
        )
        for p in Plane
    }
    found = compare_layouts(
        built,
        candidates(built),
        VALGUS[:1],
        max_screws=1,
        limit_deg=2.0,
        shift_beyond_osteotomy_mm=150.0,
        spreads=spreads,
    )
    for layout in (found.none, *found.best):
        assert layout.likely_deg < layout.rarely_above_deg
        assert abs(layout.likely_deg - layout.worst_deg) < 0.8
    assert found.best[0].likely_deg < found.none.likely_deg
    assert found.together < found.plane_layouts + 100


def test_screws_driven_across_each_other_never_meet(make):
    built = make()
    found = compare_layouts(
        built, candidates(built), VALGUS[:1], limit_deg=0.1, shift_beyond_osteotomy_mm=150.0
    )
    seen = 0
    for layout in (*found.best, *found.runners_up, *found.best_by_scenario):
        across = [s for s in layout.screws if s.side.plane is Plane.FRONTAL]
        along = [s for s in layout.screws if s.side.plane is Plane.SAGITTAL]
        for a in across:
            for b in along:
                seen += 1
                assert a.fragment is not b.fragment or abs(a.depth_mm - b.depth_mm) >= 10.0
    assert seen > 0
