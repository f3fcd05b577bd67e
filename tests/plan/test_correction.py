import pytest

from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.reading import Measure
from limbwright.plan.correction import correction_for
from limbwright.plan.leg import leg_model
from limbwright.plan.situation import Angulation, BoneSituation

TARGETS = {Measure.MPTA: 87.0, Measure.LDTA: 89.0}


def situation(*angulations: Angulation, rotation: float | None = None) -> BoneSituation:
    return BoneSituation(
        bone=Bone.TIBIA, length_mm=360, short_mm=30, angulations=angulations, rotation_deg=rotation
    )


def correct(leg, what, *, sagittal=True, targets=TARGETS, wanted=True):  # type: ignore[no-untyped-def]
    made = leg_model(leg.view(Projection.FRONTAL), leg.view(Projection.SAGITTAL) if sagittal else None)
    return correction_for(
        made,
        what,
        targets=targets,
        tolerance_deg=2.5,
        sagittal_tolerance_deg=4.0,
        rotation_tolerance_deg=10.0,
        correct_alignment=wanted,
    )


BENT = Angulation(below_joint_mm=120, frontal_deg=-12, sagittal_deg=8)


def test_the_angle_farthest_from_its_target_is_aimed_at(make_leg) -> None:
    leg = make_leg().deformed(Bone.TIBIA, -120, varus=-12, procurvatum=8)
    found = correct(leg, situation(BENT))
    assert found.needed
    assert found.frontal.measure is Measure.MPTA
    assert (found.frontal.value, found.frontal.turn_deg, found.sagittal.turn_deg) == (87.0, 12, -8)
    assert found.size_deg == pytest.approx((144 + 64) ** 0.5)
    assert found.apex_below_joint_mm == 120
    assert "MPTA to 87.0 deg (now 95.0)" in found.reason
    distal = make_leg().deformed(Bone.TIBIA, -300, varus=-12)
    assert correct(distal, situation(Angulation(frontal_deg=-12))).frontal.measure is Measure.LDTA


def test_a_straight_bone_is_only_lengthened(make_leg) -> None:
    found = correct(make_leg(), situation())
    assert not found.needed
    assert found.apex_below_joint_mm is None
    assert "within tolerance" in found.reason


def test_the_surgeon_may_want_length_only(make_leg) -> None:
    leg = make_leg().deformed(Bone.TIBIA, -120, varus=-12)
    assert "Only length is wanted" in correct(leg, situation(BENT), wanted=False).reason


def test_without_targets_the_angulation_itself_is_undone(make_leg) -> None:
    leg = make_leg().deformed(Bone.TIBIA, -120, varus=-12)
    found = correct(leg, situation(BENT), targets={}, sagittal=False)
    assert found.frontal.measure is None
    assert found.frontal.turn_deg == 12
    assert found.sagittal.turn_deg == 0  # no sagittal film
    assert "turn the distal fragment by 12.0 deg" in found.reason


def test_rotation_beyond_tolerance_is_given_back(make_leg) -> None:
    found = correct(make_leg(), situation(rotation=-20))
    assert found.needed
    assert found.external_deg == 20
    assert "rotation 20 deg" in found.reason
    assert correct(make_leg(), situation(rotation=5)).external_deg == 0


def test_the_largest_angulation_of_known_level_is_the_apex(make_leg) -> None:
    leg = make_leg().deformed(Bone.TIBIA, -120, varus=-12)
    two = situation(
        Angulation(below_joint_mm=90, frontal_deg=-3),
        Angulation(below_joint_mm=220, frontal_deg=-9),
        Angulation(frontal_deg=-20),
    )
    assert correct(leg, two).apex_below_joint_mm == 220
    assert correct(leg, situation(Angulation(frontal_deg=-9))).apex_below_joint_mm is None


def test_the_angle_of_the_joint_near_the_apex_is_aimed_at(make_leg) -> None:
    leg = make_leg().deformed(Bone.TIBIA, -300, varus=-12)  # LDTA is the worse one
    near = correct(leg, situation(Angulation(below_joint_mm=100, frontal_deg=-12)))
    assert near.frontal.measure is Measure.MPTA
    far = correct(leg, situation(Angulation(below_joint_mm=300, frontal_deg=-12)))
    assert far.frontal.measure is Measure.LDTA
    only = correct(
        leg, situation(Angulation(below_joint_mm=300, frontal_deg=-12)), targets={Measure.MPTA: 87.0}
    )
    assert only.frontal.measure is Measure.MPTA


def test_within_tolerance_the_angle_at_the_knee_is_aimed_at(make_leg) -> None:
    leg = make_leg().deformed(Bone.TIBIA, -330, varus=-2)  # LDTA is off by more than MPTA, both by little
    found = correct(leg, situation(Angulation(frontal_deg=-2, sagittal_deg=6)))
    assert found.needed
    assert found.frontal.measure is Measure.MPTA
