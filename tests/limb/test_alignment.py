import pytest

from limbwright.error import OutOfRange
from limbwright.limb.alignment import (
    deviation_from_joint_angles_deg,
    deviation_from_lengths_mm,
    leg_from_lengths_mm,
    mechanical_axis_deviation_mm,
)
from limbwright.limb.lines import Point


def test_a_line_medial_of_the_knee_is_positive():
    hip, ankle = Point(0, 800), Point(0, 0)
    assert mechanical_axis_deviation_mm(hip=hip, knee=Point(12, 400), ankle=ankle) == 12
    assert mechanical_axis_deviation_mm(hip=hip, knee=Point(-12, 400), ankle=ankle) == -12


def test_a_straight_leg_has_no_deviation_and_the_sum_of_its_parts():
    assert deviation_from_lengths_mm(femur_mm=430, tibia_mm=360, deviation_deg=0) == 0
    assert leg_from_lengths_mm(femur_mm=430, tibia_mm=360, deviation_deg=0) == 790
    assert leg_from_lengths_mm(femur_mm=300, tibia_mm=400, deviation_deg=90) == pytest.approx(500)


def test_angles_add_up():
    assert deviation_from_joint_angles_deg(mldfa_deg=84, mpta_deg=92, jlca_deg=-1) == -9


def test_an_impossible_bone_is_refused():
    with pytest.raises(OutOfRange, match=r"tibia length is 0 mm, expected 1 to 1000 mm"):
        deviation_from_lengths_mm(femur_mm=430, tibia_mm=0, deviation_deg=5)
