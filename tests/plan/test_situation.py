import pytest

from limbwright.error import OutOfRange
from limbwright.limb.anatomy import Bone
from limbwright.plan.situation import Angulation, BoneSituation, LegSituation

FEMUR = BoneSituation(
    bone=Bone.FEMUR,
    length_mm=430,
    short_mm=12,
    angulations=(
        Angulation(below_joint_mm=90, frontal_deg=6, sagittal_deg=-2),
        Angulation(below_joint_mm=320, frontal_deg=-4, sagittal_deg=5),
    ),
)
TIBIA = BoneSituation(bone=Bone.TIBIA, length_mm=350, short_mm=20)


def test_angles_of_all_apexes_add_up() -> None:
    assert FEMUR.frontal_deg == pytest.approx(2)
    assert FEMUR.sagittal_deg == pytest.approx(3)
    assert TIBIA.frontal_deg == 0


def test_the_whole_discrepancy_counts_the_foot() -> None:
    leg = LegSituation(femur=FEMUR, tibia=TIBIA, foot_short_mm=5)
    assert leg.short_mm == pytest.approx(37)
    assert leg.of(Bone.TIBIA) is TIBIA
    assert leg.of(Bone.FEMUR) is FEMUR


def test_impossible_values_are_refused() -> None:
    with pytest.raises(OutOfRange, match=r"frontal angulation is 120 deg, expected -90 to 90"):
        Angulation(frontal_deg=120)
    with pytest.raises(OutOfRange, match="bone is fibula"):
        BoneSituation(bone=Bone.FIBULA, length_mm=350, short_mm=0)
    with pytest.raises(OutOfRange, match="tibia length is 20 mm"):
        BoneSituation(bone=Bone.TIBIA, length_mm=20, short_mm=0)
    with pytest.raises(OutOfRange, match="femur is described by a tibia"):
        LegSituation(femur=TIBIA, tibia=TIBIA)
    with pytest.raises(OutOfRange, match="foot height difference is 200 mm"):
        LegSituation(femur=FEMUR, tibia=TIBIA, foot_short_mm=200)
