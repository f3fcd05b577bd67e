import pytest

from limbwright.error import Contradiction, OutOfRange
from limbwright.growth.growth import Physis
from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import (
    BoneQuality,
    EarlierLengths,
    Examination,
    HardwareKind,
    StandingHardware,
    Zone,
    ZoneQuality,
)
from limbwright.quantity import EXTERNAL_INTERNAL, Directed, Sense, directed


def hardware(from_mm, to_mm):
    return StandingHardware(
        kind=HardwareKind.PLATE, bone=Bone.TIBIA, from_mm=from_mm, to_mm=to_mm, in_canal=False
    )


@pytest.mark.parametrize(
    ("field", "value", "message"),
    [
        ("knee_flexion_deg", 171.0, r"knee_flexion_deg is 171 deg, expected 0 to 170 deg"),
        ("knee_flexion_deg", float("nan"), r"knee_flexion_deg is nan deg"),
        ("ankle_dorsiflexion_deg", 90.0, r"expected -80 to 60 deg. Give it in degrees"),
        ("block_test_mm", 3500.0, r"expected -300 to 300 mm. Give it in millimetres"),
        ("foot_height_difference_mm", -101.0, r"expected -100 to 100 mm"),
    ],
)
def test_impossible_clinical_values_are_refused(field, value, message):
    with pytest.raises(OutOfRange, match=message):
        Examination(**{field: value})


def test_a_rotation_has_degrees_and_a_direction():
    turned = directed(-12.0, unit="deg", senses=EXTERNAL_INTERNAL)
    none = directed(0.02, unit="deg", senses=EXTERNAL_INTERNAL)
    assert Examination(femur_rotation=turned, tibia_rotation=none).femur_rotation is turned


@pytest.mark.parametrize(
    ("rotation", "message"),
    [
        (Directed(magnitude=12, direction=Sense.VARUS, unit="deg"), r"a rotation of 12 deg varus"),
        (Directed(magnitude=12, direction=Sense.NONE, unit="deg"), r"a rotation of 12 deg none"),
        (Directed(magnitude=12, direction=Sense.EXTERNAL, unit="mm"), r"a rotation in 'mm'"),
        (Directed(magnitude=-12, direction=Sense.EXTERNAL, unit="deg"), r"magnitude is -12 deg"),
    ],
)
def test_impossible_rotations_are_refused(rotation, message):
    with pytest.raises(OutOfRange, match=message):
        Examination(tibia_rotation=rotation)


def test_each_zone_is_judged_once():
    zones = [
        ZoneQuality(bone=bone, zone=Zone.MIDDLE_SHAFT, quality=BoneQuality.SCLEROTIC)
        for bone in (Bone.TIBIA, Bone.FEMUR)
    ]
    assert Examination(bone_quality=tuple(zones)).bone_quality == tuple(zones)
    with pytest.raises(Contradiction, match=r"the middle shaft of the tibia is judged 2 times"):
        Examination(bone_quality=(zones[0], zones[0]))


def test_hardware_has_its_proximal_end_first():
    assert hardware(20.0, 140.0).to_mm == 140.0
    with pytest.raises(Contradiction, match=r"plate from 140 to 20 mm ends above where it begins"):
        hardware(140.0, 20.0)
    with pytest.raises(OutOfRange, match=r"to_mm is 1400 mm, expected -100 to 700 mm"):
        hardware(20.0, 1400.0)


def test_earlier_lengths_that_cannot_be_true_are_refused() -> None:
    with pytest.raises(OutOfRange, match="treated_mm is 5 mm, expected 20 to 1500"):
        EarlierLengths(treated_mm=5, other_mm=600, years_before=1)
    with pytest.raises(OutOfRange, match=r"years_before is 0\.2 years"):
        EarlierLengths(treated_mm=590, other_mm=600, years_before=0.2)


def test_a_growth_plate_cannot_be_open_and_closed() -> None:
    with pytest.raises(Contradiction, match="distal femur growth plate is seen open and closed"):
        Examination(open_physes=(Physis.DISTAL_FEMUR,), closed_physes=(Physis.DISTAL_FEMUR,))
    Examination(open_physes=(Physis.DISTAL_FEMUR,), closed_physes=(Physis.PROXIMAL_TIBIA,))


def test_an_impossible_cover_of_the_hip_is_refused() -> None:
    with pytest.raises(OutOfRange, match="hip_centre_edge_deg is 95 deg, expected -60 to 80"):
        Examination(hip_centre_edge_deg=95)
