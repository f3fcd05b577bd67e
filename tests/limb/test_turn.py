import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from limbwright.error import OutOfRange, Refused
from limbwright.limb.turn import combined_turn_deg, equivalent_turn, turn_of_apexes

angles = st.floats(-40, 40)
shifts = st.floats(-30, 30)


def test_pure_varus_turns_about_the_anterior_axis():
    turn = equivalent_turn(frontal_deg=20, sagittal_deg=0)
    assert turn.angle_deg == pytest.approx(20)
    assert turn.axis == pytest.approx((0, 1, 0))
    assert turn.point_mm == pytest.approx((0, 0, 0))
    assert turn.inclination_deg == 0
    assert turn.slide_mm == 0


def test_pure_external_rotation_of_a_right_foot_turns_its_toes_lateral():
    turn = equivalent_turn(frontal_deg=0, sagittal_deg=0, external_deg=30)
    toes = Rotation.from_rotvec(np.array(turn.axis) * math.radians(turn.angle_deg)).apply([0, 1, 0])
    assert toes == pytest.approx([0.5, math.cos(math.radians(30)), 0])
    assert turn.inclination_deg == pytest.approx(-90)


def test_translation_alone_has_no_axis():
    turn = equivalent_turn(frontal_deg=0, sagittal_deg=0, lateral_mm=3, anterior_mm=4)
    assert turn.axis is None
    assert turn.point_mm is None
    assert turn.slide_mm == pytest.approx(5)


def test_varus_with_lateral_shift_turns_about_a_hinge_in_the_frontal_plane():
    # A hinge h above the cut swings the cut's end by h·sin a medially; varus 20, 10 mm medial.
    turn = equivalent_turn(
        frontal_deg=20,
        sagittal_deg=0,
        lateral_mm=-10,
        proximal_mm=10 / math.sin(math.radians(20)) * (1 - math.cos(math.radians(20))),
    )
    assert turn.slide_mm == pytest.approx(0)
    assert turn.point_mm == pytest.approx((0, 0, 10 / math.sin(math.radians(20))), abs=1e-9)


@given(f=angles, s=angles, spin=angles)
def test_size_follows_the_half_angle_rule(f, s, spin):
    turn = equivalent_turn(frontal_deg=f, sagittal_deg=s, external_deg=spin)
    tilt = equivalent_turn(frontal_deg=f, sagittal_deg=s).angle_deg
    assert turn.angle_deg == pytest.approx(
        combined_turn_deg(angulation_deg=tilt, rotation_deg=spin), abs=0.06
    )


@given(f=angles, s=angles, spin=angles)
def test_a_mirrored_deformity_has_the_mirrored_turn(f, s, spin):
    one = equivalent_turn(frontal_deg=f, sagittal_deg=s, external_deg=spin)
    other = equivalent_turn(frontal_deg=-f, sagittal_deg=s, external_deg=-spin)
    assert one.angle_deg == pytest.approx(other.angle_deg)
    if one.axis is not None and other.axis is not None:
        # Mirrored at the sagittal plane, an axis keeps its lateral part and turns the other two over.
        assert other.axis == pytest.approx((one.axis[0], -one.axis[1], -one.axis[2]))


def test_impossible_rotation_is_refused():
    with pytest.raises(OutOfRange, match=r"rotation is 200 deg, expected -170 to 170 deg"):
        equivalent_turn(frontal_deg=0, sagittal_deg=0, external_deg=200)


@settings(max_examples=20, deadline=None)
@given(f=st.floats(6, 25), s=st.floats(6, 25), level=st.floats(120, 230))
def test_turning_back_lays_the_distal_axis_on_the_proximal_one(bent_tibia, f, s, level):
    (view_f, frontal), (view_s, sagittal) = bent_tibia(f, s)
    turn = turn_of_apexes(view_f, frontal, view_s, sagittal, from_proximal_joint_mm=level)
    axis, point = np.array(turn.axis), np.array(turn.point_mm)
    back = Rotation.from_rotvec(-axis * math.radians(turn.angle_deg))
    depth_f = frontal.from_proximal_joint.value - level
    depth_s = sagittal.from_proximal_joint.value - level
    for z in (0.0, -80.0, -160.0):
        # Each film shows the distal axis leaning away from its own apex.
        seen = np.array(
            [(z + depth_f) * math.tan(math.radians(f)), (z + depth_s) * math.tan(math.radians(s)), z]
        )
        straight = point + back.apply(seen - turn.slide_mm * axis - point)
        assert straight[:2] == pytest.approx([0, 0], abs=1e-6)


def test_apexes_of_one_plane_make_no_turn(bent_tibia):
    (view, frontal), _ = bent_tibia(15, 15)
    with pytest.raises(Refused, match="not the frontal and the sagittal one of one bone"):
        turn_of_apexes(view, frontal, view, frontal, from_proximal_joint_mm=150)
