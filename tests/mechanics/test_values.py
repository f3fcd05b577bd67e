"""Values refuse what cannot be: nail, walls, screws, loads, construct."""

import math
from dataclasses import replace

import pytest

from limbwright.error import Contradiction, OutOfRange
from limbwright.mechanics import (
    BlockingScrew,
    Canal,
    Fragment,
    Load,
    LockingScrew,
    NailBeam,
    Plane,
    Regenerate,
    ScrewDirection,
    Side,
    SpatialLoad,
    Walls,
    concave_side,
    flared_canal,
    screw_stiffness_n_per_mm,
    second_moment_mm4,
    straight_canal,
)


def test_second_moment_of_solid_and_hollow_sections():
    assert second_moment_mm4(10.7) == pytest.approx(643.4, abs=0.05)
    assert second_moment_mm4(10.7, 6.0) == pytest.approx(579.8, abs=0.05)


def nail(**changes):
    base = NailBeam(
        length_mm=300, exposed_rod_mm=30, thick_diameter_mm=10.7, thin_diameter_mm=8, modulus_gpa=110
    )
    return replace(base, **changes)


def test_the_step_belongs_to_the_thick_segment():
    assert nail().step_depth_mm == 270
    assert nail().radius_mm(270) == 5.35
    assert nail().radius_mm(270.001) == 4.0


def test_stiffness_of_the_study_nail():
    assert nail().thick_stiffness_nmm2 == pytest.approx(7.08e7, rel=1e-3)
    assert nail().thin_stiffness_nmm2 == pytest.approx(2.21e7, rel=1e-3)


def test_joint_play_grows_as_the_rod_leaves():
    play = nail(joint_clearance_mm=0.1, joint_engagement_mm=100.0)
    assert play.joint_play_rad(0) == pytest.approx(1e-3)
    assert play.joint_play_rad(50) == pytest.approx(2e-3)


def test_the_bend_is_sagittal_and_leans_forward_above_it():
    bent = nail(bend_depth_mm=50, bend_deg=10)
    assert bent.unloaded_offset_mm(Plane.FRONTAL, 0) == 0
    assert bent.unloaded_offset_mm(Plane.SAGITTAL, 0) == pytest.approx(50 * math.tan(math.radians(10)))
    assert bent.unloaded_offset_mm(Plane.SAGITTAL, 60) == 0


def test_peak_stress_is_the_larger_of_both_segments():
    # 5 N m: 32 M / (pi D^3)
    thin = 32 * 5000 / (math.pi * 8**3)
    assert nail().peak_stress_mpa(thick_moment_nm=5, thin_moment_nm=5) == pytest.approx(thin)
    thick = 32 * 5000 / (math.pi * 10.7**3)
    assert nail().peak_stress_mpa(thick_moment_nm=5, thin_moment_nm=1) == pytest.approx(thick)


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"length_mm": 20}, "nail length"),
        ({"exposed_rod_mm": 400}, "exposed rod"),
        ({"thin_diameter_mm": 11}, "thin segment"),
        ({"modulus_gpa": math.nan}, "modulus"),
        ({"joint_clearance_mm": -0.1}, "joint clearance"),
    ],
)
def test_a_nail_that_cannot_be_is_refused(change, word):
    with pytest.raises(OutOfRange, match=word):
        nail(**change)


def test_a_bore_as_wide_as_the_segment_is_refused():
    with pytest.raises(Contradiction, match="leave no wall"):
        nail(thin_bore_mm=8)


def test_walls_must_match_rise_and_not_cross():
    with pytest.raises(Contradiction, match="2 depths with 1 and 2"):
        Walls(depth_mm=(0, 1), negative_mm=(-1,), positive_mm=(1, 1))
    with pytest.raises(Contradiction, match="do not rise"):
        Walls(depth_mm=(1, 1), negative_mm=(-1, -1), positive_mm=(1, 1))
    with pytest.raises(Contradiction, match="cross at depth 1"):
        Walls(depth_mm=(0, 1), negative_mm=(-1, 2), positive_mm=(1, 1))


def test_walls_shift_and_mirror():
    walls = Walls(depth_mm=(0, 1), negative_mm=(-1, -2), positive_mm=(3, 4))
    assert walls.shifted(1).negative_mm == (0, -1)
    assert walls.mirrored().positive_mm == (1, 2)
    assert walls.mirrored().mirrored() == walls


def test_canal_shapes():
    straight = straight_canal(diameter_mm=14, start_depth_mm=40, end_depth_mm=150)
    assert straight.in_plane(Plane.SAGITTAL).positive_mm == (7, 7)
    flared = flared_canal(
        isthmus_diameter_mm=12,
        isthmus_depth_mm=170,
        flare_mm=25,
        flare_length_mm=170,
        start_depth_mm=0,
        end_depth_mm=300,
    )
    assert 2 * flared.frontal.positive_mm[0] == pytest.approx(37)
    assert 2 * flared.frontal.positive_mm[-1] == pytest.approx(12)
    assert isinstance(flared, Canal)


def test_a_screw_holds_across_its_axis_only():
    assert ScrewDirection.ANTEROPOSTERIOR.stops_translation_in(Plane.FRONTAL)
    assert not ScrewDirection.ANTEROPOSTERIOR.stops_translation_in(Plane.SAGITTAL)
    assert ScrewDirection.MEDIOLATERAL.stops_translation_in(Plane.SAGITTAL)
    assert not ScrewDirection.MEDIOLATERAL.stops_translation_in(Plane.FRONTAL)


@pytest.mark.parametrize("side", Side)
def test_sides_oppose_each_other_in_one_plane(side):
    assert side.opposite.opposite is side
    assert side.opposite.plane is side.plane
    assert side.opposite.positive is not side.positive


def test_concave_sides():
    assert concave_side(Plane.FRONTAL, -3) is Side.LATERAL  # valgus
    assert concave_side(Plane.FRONTAL, 3) is Side.MEDIAL
    assert concave_side(Plane.SAGITTAL, 3) is Side.POSTERIOR  # procurvatum
    assert concave_side(Plane.SAGITTAL, -3) is Side.ANTERIOR


def test_screw_numbers():
    screw = BlockingScrew(
        fragment=Fragment.ENTRY, depth_mm=140, side=Side.LATERAL, clearance_mm=0.5, stiffness_n_per_mm=2000
    )
    assert screw.axis_offset_mm(5.35) == pytest.approx(8.35)
    assert screw.compliance_mm_per_n == 5e-4
    assert replace(screw, stiffness_n_per_mm=None).compliance_mm_per_n == 0
    soft = screw_stiffness_n_per_mm(diameter_mm=5, span_mm=25, modulus_gpa=110, bone_stiffness_n_per_mm=1000)
    stiff = screw_stiffness_n_per_mm(diameter_mm=5, span_mm=25, modulus_gpa=110)
    assert stiff == pytest.approx(192 * 110e3 * second_moment_mm4(5) / 25**3)
    assert 1 / soft == pytest.approx(1 / stiff + 1 / 1000)


def test_screws_and_loads_out_of_range_are_refused():
    with pytest.raises(OutOfRange, match="clearance"):
        BlockingScrew(fragment=Fragment.ENTRY, depth_mm=140, side=Side.LATERAL, clearance_mm=20)
    with pytest.raises(OutOfRange, match="stiffness"):
        BlockingScrew(
            fragment=Fragment.ENTRY, depth_mm=140, side=Side.LATERAL, clearance_mm=0, stiffness_n_per_mm=0
        )
    with pytest.raises(OutOfRange, match="play"):
        LockingScrew(
            fragment=Fragment.ENTRY, depth_mm=20, direction=ScrewDirection.ANTEROPOSTERIOR, play_mm=-1
        )
    with pytest.raises(OutOfRange, match="moment"):
        Load(moment_nm=100)
    with pytest.raises(OutOfRange, match="axial"):
        Load(axial_n=-1)
    with pytest.raises(OutOfRange, match="new bone"):
        Regenerate(angular_nm_per_deg=-1)


def test_spatial_load_by_plane():
    load = SpatialLoad(frontal=Load(moment_nm=1), sagittal=Load(moment_nm=2))
    assert load.in_plane(Plane.FRONTAL).moment_nm == 1
    assert load.in_plane(Plane.SAGITTAL).moment_nm == 2


def test_construct_contradictions(make, screw):
    with pytest.raises(OutOfRange, match="osteotomy depth"):
        make(150, 14, osteotomy_depth_mm=299.5)
    with pytest.raises(Contradiction, match="walls cover"):
        make(150, 14, entry_canal=straight_canal(diameter_mm=14, start_depth_mm=160, end_depth_mm=200))
    with pytest.raises(Contradiction, match="name the other fragment"):
        make(150, 14, replace(screw(140), fragment=Fragment.MOVING))
    late = LockingScrew(
        fragment=Fragment.MOVING, depth_mm=310, direction=ScrewDirection.ANTEROPOSTERIOR, play_mm=0.1
    )
    with pytest.raises(Contradiction, match="beyond the nail's end"):
        make(150, 14, locking_screws=(late,))


def test_overlap_and_the_thin_rod(make, screw):
    built = make(200, 14, screw(225, osteotomy_mm=200))
    assert built.overlap_mm(0) == 70
    assert built.overlap_mm(50) == 20
    placed = built.blocking_screws[0]
    assert not built.beside_thin_rod(placed, 45)
    assert built.beside_thin_rod(placed, 46)
    assert built.with_blocking_screws().blocking_screws == ()
