# ruff: noqa: PLR0917  drawn arguments stand in one line
"""One plane: figures of the default case, proof by residuals, symmetry, degenerate cases by name."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.error import OutOfRange
from limbwright.mechanics import (
    Canal,
    Fragment,
    Load,
    Outcome,
    Plane,
    Regenerate,
    ScrewDirection,
    Side,
    Support,
    Walls,
    envelope,
    plane_problem,
    solve,
    solve_problem,
    straight_canal,
)

VALGUS5 = Load(moment_nm=-5)


@pytest.mark.parametrize(
    ("depths", "valgus_deg", "step_mm"),
    [((), 2.2610, 1.0063), ((140,), 1.4730, -1.2888), ((160,), 1.5728, 2.6042), ((140, 160), 0.7849, 0.3092)],
)
def test_figures_reproduced_by_a_finite_element_program(make, screw, depths, valgus_deg, step_mm):
    """Cut at 150 mm, canal 14 mm, 50 mm gained, 5 N m valgus: regression values, equal to FE + quadprog."""
    result = solve(make(150, 14, *map(screw, depths)), Plane.FRONTAL, VALGUS5, lengthening_mm=50)
    assert result.outcome is Outcome.DETERMINED
    assert result.angulation_deg == pytest.approx(-valgus_deg, abs=1e-4)
    assert result.step_mm == pytest.approx(step_mm, abs=1e-4)
    assert result.residual_mm < 1e-9
    assert result.residual_n < 1e-9


def test_hand_formula_of_rigid_play_plus_bending(make):
    """theta_rigid + M/EI (Lp/3 + d + Ld/3), an approximation good to 2.5 %."""
    for cut, gained, canal in ((150, 50, 14), (150, 25, 14), (110, 50, 12)):
        built = make(cut, canal)
        rigid = envelope(built, Plane.FRONTAL).highest_deg
        bend = 5000 / built.nail.thick_stiffness_nmm2 * ((cut - 35) / 3 + gained + (280 - cut) / 3)
        result = solve(built, Plane.FRONTAL, VALGUS5, lengthening_mm=gained)
        assert -result.angulation_deg == pytest.approx(rigid + math.degrees(bend), rel=0.025)


def test_signs_of_both_planes(make):
    assert solve(make(), Plane.FRONTAL, Load(moment_nm=5)).angulation_deg > 0  # varus
    assert solve(make(), Plane.FRONTAL, VALGUS5).angulation_deg < 0
    assert solve(make(), Plane.SAGITTAL, Load(moment_nm=5)).angulation_deg > 0  # procurvatum
    lateral = solve(make(), Plane.FRONTAL, Load(force_n=50, force_beyond_osteotomy_mm=100))
    assert lateral.angulation_deg < 0  # a lateral push on the far end is valgus
    assert lateral.shift_mm(100) > 0


@given(st.floats(-15, 15), st.floats(-60, 60), st.floats(0, 50), st.floats(0, 1000))
@settings(max_examples=40, deadline=None)
def test_mirror_symmetry(make, screw, moment, force, gained, axial):
    load = Load(moment_nm=moment, force_n=force, force_beyond_osteotomy_mm=80, axial_n=axial)
    other = replace(load, moment_nm=-moment, force_n=-force)
    a = solve(make(150, 13, screw(140, Side.LATERAL)), Plane.FRONTAL, load, lengthening_mm=gained)
    b = solve(make(150, 13, screw(140, Side.MEDIAL)), Plane.FRONTAL, other, lengthening_mm=gained)
    assert a.outcome is b.outcome
    if a.angulation_deg is not None:
        assert a.angulation_deg == pytest.approx(-b.angulation_deg, abs=1e-6)
        assert a.step_mm == pytest.approx(-b.step_mm, abs=1e-6)


@given(
    st.floats(110, 200),
    st.floats(10.9, 16.7),
    st.floats(0, 50),
    st.floats(-15, 15),
    st.floats(-100, 100),
    st.floats(-1.5, 1.0),
)
@settings(max_examples=150, deadline=None)
def test_every_answer_is_proved_even_under_preload(make, screw, cut, canal, gained, moment, force, clearance):
    screws = [
        replace(screw(cut - 12, Side.LATERAL, osteotomy_mm=cut), clearance_mm=max(clearance, -1.0)),
        screw(cut + 9, Side.MEDIAL, osteotomy_mm=cut),
    ]
    load = Load(moment_nm=moment, force_n=force, force_beyond_osteotomy_mm=100)
    result = solve(make(cut, canal, *screws), Plane.FRONTAL, load, lengthening_mm=gained)
    assert result.outcome in (Outcome.DETERMINED, Outcome.NAIL_FORCED, Outcome.UNDETERMINED)
    assert result.residual_mm < 1e-6
    assert result.residual_n < 1e-4


def test_forces_balance_the_load(make, screw):
    load = Load(moment_nm=-7, force_n=30, force_beyond_osteotomy_mm=100)
    built = make(150, 14, screw(140), screw(160))
    result = solve(built, Plane.FRONTAL, load, lengthening_mm=40)
    moving = [c for c in result.contacts if c.fragment is Fragment.MOVING]
    # The moving fragment: load + reactions of the nail on it, forces and moments about the cut.
    assert sum(c.force_n for c in moving) == pytest.approx(load.force_n, abs=1e-2)
    moment = sum(c.force_n * (c.depth_mm - 150) for c in moving) - 1e3 * sum(c.couple_nm for c in moving)
    assert moment == pytest.approx(7000 + 30 * 100, abs=5)
    entry = [c for c in result.contacts if c.fragment is Fragment.ENTRY]
    assert sum(c.force_n for c in entry) == pytest.approx(-load.force_n, abs=1e-2)
    blocked = [c for c in result.contacts if c.support is Support.BLOCKING_SCREW]
    assert {c.index for c in blocked} == {0, 1}


def test_locking_screws_hold_only_what_their_direction_can(make):
    free = make(locking_screws=())
    across = make(
        locking_screws=tuple(
            s for s in make().locking_screws if s.direction is ScrewDirection.ANTEROPOSTERIOR
        )
    )
    along = make(
        locking_screws=tuple(s for s in make().locking_screws if s.direction is ScrewDirection.MEDIOLATERAL)
    )
    push = Load(force_n=40, force_beyond_osteotomy_mm=130)
    steps = [solve(c, Plane.FRONTAL, push).shift_mm(130) for c in (free, along, across)]
    # Without an anteroposterior lock the nail slides to the walls; a mediolateral one does not stop that.
    assert steps[1] == pytest.approx(steps[0], rel=0.05)
    assert steps[2] < 0.6 * steps[0]
    turned = [solve(c, Plane.SAGITTAL, push).shift_mm(130) for c in (along, across)]
    assert turned[0] < 0.6 * turned[1]
    assert turned[1] == pytest.approx(steps[1], rel=0.01)


def test_retracting_thick_segment_leaves_a_screw_slack(make, screw):
    built = make(200, 14, screw(225, osteotomy_mm=200))
    at = {d: -solve(built, Plane.FRONTAL, VALGUS5, lengthening_mm=d).angulation_deg for d in (25, 50)}
    assert at[25] < 1.4
    assert at[50] > at[25] + 0.9


def test_a_far_concave_screw_can_make_it_worse(make, screw):
    load = Load(moment_nm=-10)
    none = solve(make(), Plane.FRONTAL, load, lengthening_mm=50).angulation_deg
    far = make(150, 14, screw(75, clearance_mm=0.3), screw(215, clearance_mm=0.3))
    assert solve(far, Plane.FRONTAL, load, lengthening_mm=50).angulation_deg == pytest.approx(
        -3.133, abs=2e-3
    )
    assert none == pytest.approx(-2.832, abs=2e-3)
    assert envelope(far, Plane.FRONTAL).lowest_deg > envelope(make(), Plane.FRONTAL).lowest_deg


def test_wrong_side_next_to_the_cut_does_nothing(make, screw):
    none = solve(make(), Plane.FRONTAL, VALGUS5, lengthening_mm=40).angulation_deg
    convex = make(150, 14, screw(140, Side.MEDIAL), screw(160, Side.MEDIAL))
    assert solve(convex, Plane.FRONTAL, VALGUS5, lengthening_mm=40).angulation_deg == pytest.approx(
        none, abs=1e-8
    )


@pytest.mark.parametrize(
    ("axial_n", "none_deg", "both_deg"), [(300, 2.41, 0.86), (600, 2.58, 0.95), (1000, 2.88, 1.11)]
)
def test_axial_compression_as_iterated_on_finite_elements(make, screw, axial_n, none_deg, both_deg):
    load = replace(VALGUS5, axial_n=axial_n)
    none = solve(make(), Plane.FRONTAL, load, lengthening_mm=50).angulation_deg
    both = solve(make(150, 14, screw(140), screw(160)), Plane.FRONTAL, load, lengthening_mm=50).angulation_deg
    assert -none == pytest.approx(none_deg, abs=0.01)
    assert -both == pytest.approx(both_deg, abs=0.01)


def test_compression_beyond_the_critical_load_has_no_answer(make):
    long = make(150, 30, locking_screws=make().locking_screws)
    result = solve(long, Plane.FRONTAL, replace(VALGUS5, axial_n=4900), lengthening_mm=140)
    assert result.outcome in (Outcome.NOT_PROVED, Outcome.NOTHING_HOLDS)
    assert result.angulation_deg is None


def test_new_bone_holds_where_it_was_laid_down(make):
    free = solve(make(), Plane.FRONTAL, VALGUS5, lengthening_mm=40).angulation_deg
    stiff = {
        k: solve(
            make(), Plane.FRONTAL, VALGUS5, lengthening_mm=40, regenerate=Regenerate(angular_nm_per_deg=k)
        ).angulation_deg
        for k in (1.0, 3.5, 17.45)
    }
    assert -free == pytest.approx(2.21, abs=0.01)
    # 1 N m/deg = 5.7e4 N mm/rad; 2e5 and 1e6 N mm/rad.
    assert -stiff[1.0] == pytest.approx(2.00, abs=0.01)
    assert -stiff[3.5] == pytest.approx(1.43, abs=0.01)
    assert -stiff[17.45] == pytest.approx(0.29, abs=0.01)
    at_rest = solve(
        make(),
        Plane.FRONTAL,
        VALGUS5,
        lengthening_mm=40,
        regenerate=Regenerate(
            angular_nm_per_deg=1e3, rest_angulation_deg=-1.0, shear_n_per_mm=10, rest_shear_mm=0.3
        ),
    )
    assert at_rest.angulation_deg == pytest.approx(-1.0, abs=0.01)


def test_joint_play_adds_its_tilt(make):
    built = make()
    loose = replace(built, nail=replace(built.nail, joint_clearance_mm=0.2, joint_engagement_mm=100.0))
    a = solve(built, Plane.FRONTAL, VALGUS5, lengthening_mm=50).angulation_deg
    b = solve(loose, Plane.FRONTAL, VALGUS5, lengthening_mm=50)
    assert b.residual_mm < 1e-9
    assert 0 < a - b.angulation_deg < math.degrees(0.2 / 50) + 1e-6
    assert any(c.support is Support.JOINT for c in b.contacts)


def test_a_yielding_screw_holds_less(make, screw):
    firm = solve(make(150, 14, screw(140), screw(160)), Plane.FRONTAL, VALGUS5).angulation_deg
    soft = [replace(screw(z), stiffness_n_per_mm=1000) for z in (140, 160)]
    assert solve(make(150, 14, *soft), Plane.FRONTAL, VALGUS5).angulation_deg < firm - 0.01


def test_bending_moment_of_pure_moment_load(make):
    result = solve(make(), Plane.FRONTAL, VALGUS5, lengthening_mm=50)
    assert result.thick_moment_nm == pytest.approx(5.0, abs=1e-3)
    assert result.thin_moment_nm < 5.0


def test_nail_offset_follows_walls_and_locks(make):
    result = solve(make(), Plane.FRONTAL, VALGUS5, lengthening_mm=50)
    z = np.array([35.0, 150.0, 330.0])
    offset = result.nail_offset_mm(z)
    assert offset[0] == pytest.approx(-0.15, abs=1e-4)  # lock with its play
    assert offset[1] == pytest.approx(1.65, abs=1e-4)  # lateral wall at the cut
    assert offset[2] - result.shift_mm(130) == pytest.approx(-0.15, abs=1e-4)
    squeezed = solve(make(), Plane.FRONTAL, replace(VALGUS5, axial_n=600), lengthening_mm=50)
    assert squeezed.nail_offset_mm(z)[1] == pytest.approx(1.65, abs=1e-3)


def test_a_bent_nail_presses_on_straight_walls(make):
    built = make()
    bent = replace(built, nail=replace(built.nail, bend_depth_mm=60, bend_deg=6))
    frontal = solve(bent, Plane.FRONTAL, VALGUS5).angulation_deg
    assert frontal == pytest.approx(solve(built, Plane.FRONTAL, VALGUS5).angulation_deg, abs=1e-9)
    # At 40 mm the nail leans 2.1 mm forward, the wall leaves it 1.65 mm: preload with no load at all.
    still = solve(bent, Plane.SAGITTAL, Load())
    assert still.outcome is Outcome.DETERMINED
    assert still.residual_mm < 1e-9
    assert max(abs(c.force_n) for c in still.contacts) > 50


def test_no_load_gives_the_envelope_not_a_number(make):
    result = solve(make(), Plane.FRONTAL, Load())
    assert result.outcome is Outcome.UNDETERMINED
    assert result.angulation_deg is None
    assert result.step_mm is None
    assert result.envelope == envelope(make(), Plane.FRONTAL)


def test_nail_wider_than_the_canal_is_named_with_its_place(make):
    tight = make(150, 10.5)
    result = solve(tight, Plane.FRONTAL, VALGUS5)
    assert result.outcome is Outcome.NAIL_WIDER_THAN_CANAL
    assert result.angulation_deg is None
    assert "canal wall of the entry fragment at depth 40 mm" in result.where
    assert "0.2 mm too narrow" in result.where


def test_nothing_holds_a_fragment_without_contact(make):
    walls = Walls(depth_mm=(0, 151), negative_mm=(-500, -500), positive_mm=(500, 500))
    wide = Canal(frontal=walls, sagittal=walls)
    loose = make(
        150,
        14,
        entry_canal=wide,
        moving_canal=straight_canal(diameter_mm=1000, start_depth_mm=150, end_depth_mm=300),
        locking_screws=(),
    )
    result = solve(loose, Plane.FRONTAL, VALGUS5)
    assert result.outcome is Outcome.NOTHING_HOLDS
    assert result.angulation_deg is None


def test_a_forced_nail_is_named(make, screw):
    wrong = [
        replace(screw(z, side), clearance_mm=-1.0) for z, side in ((140, Side.LATERAL), (148, Side.MEDIAL))
    ]
    shifted = make(150, 10.75, *wrong)
    result = solve(shifted, Plane.FRONTAL, VALGUS5)
    assert result.outcome is Outcome.NAIL_FORCED
    assert result.residual_mm < 1e-6


def test_lengthening_out_of_range_is_refused(make):
    with pytest.raises(OutOfRange, match="lengthening is -1"):
        solve(make(), Plane.FRONTAL, VALGUS5, lengthening_mm=-1)


def test_contact_step_converges_in_a_flared_canal(make):
    from limbwright.mechanics import flared_canal

    flare = {
        "isthmus_diameter_mm": 12,
        "isthmus_depth_mm": 170,
        "flare_mm": 25,
        "flare_length_mm": 170,
        "step_mm": 0.5,
    }
    results = []
    for step in (10, 5, 2.5, 1.0):
        built = make(
            110,
            14,
            entry_canal=flared_canal(start_depth_mm=40, end_depth_mm=110, **flare),
            moving_canal=flared_canal(start_depth_mm=110, end_depth_mm=300, **flare),
            contact_step_mm=step,
        )
        results.append(-solve(built, Plane.FRONTAL, VALGUS5, lengthening_mm=50).angulation_deg)
    assert results[-1] == pytest.approx(2.96, abs=0.01)
    assert abs(results[2] - results[3]) < 0.01
    assert abs(results[1] - results[3]) < 0.05


def test_a_prepared_problem_gives_the_same_answer(make):
    prepared = plane_problem(make(), Plane.SAGITTAL)
    load = Load(moment_nm=3)
    assert solve_problem(prepared, load).angulation_deg == solve(make(), Plane.SAGITTAL, load).angulation_deg


def test_arrays_of_a_construct_are_kept_but_never_mixed_up(make):
    first, second = make(150, 14), make(150, 13)
    a, b = plane_problem(first, Plane.FRONTAL), plane_problem(second, Plane.FRONTAL)
    assert plane_problem(first, Plane.FRONTAL) is a
    assert plane_problem(first, Plane.SAGITTAL) is not a
    assert a.entry_walls[2, 0] == 7.0
    assert b.entry_walls[2, 0] == 6.5
    for width in range(80):
        assert plane_problem(make(150, 12 + 0.1 * width), Plane.FRONTAL).entry_walls[2, 0] == 6 + 0.05 * width
