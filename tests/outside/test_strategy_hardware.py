"""Fibula, pins and levels against published series and facts of practice.

Beside each test: author, title and year, or 'common practice, no source'.
"""

import math

import pytest
from scipy.spatial.transform import Rotation

from limbwright.implant.nail import Direction, Nail
from limbwright.limb.anatomy import Bone, Fragment
from limbwright.plan.decision import BonePlan, FragmentPath, NailPath, Osteotomy, Place
from limbwright.plan.fibula import FibularPlan, fibular_plan
from limbwright.plan.fibula_finding import TibialLevels
from limbwright.plan.goal import Approach
from limbwright.plan.pins import PinLevels, SagittalRoom, pin_plan
from limbwright.plan.step_words import corrections_of
from limbwright.plan.steps import StepName, operation_steps
from limbwright.practice.profile import Profile
from limbwright.quantity import Sense


def fibula(cut_mm: float = 110) -> FibularPlan:
    return fibular_plan(
        Bone.TIBIA,
        TibialLevels(
            tibia_length_mm=350,
            osteotomy_below_plateau_mm=cut_mm,
            fibular_head_below_plateau_mm=10,
            malleolus_below_plafond_mm=20,
        ),
        lengthening_mm=50,
        profile=Profile(),
    )


def test_the_fibula_is_cut_between_middle_and_distal_third_away_from_the_tibial_cut() -> None:
    """Common practice, no source: middle to distal third, away from the level of the tibial cut."""
    for cut_mm in range(80, 281, 10):
        found = fibula(cut_mm)
        assert found.osteotomy_below_plateau_mm is not None
        share = (found.osteotomy_below_plateau_mm - 10) / 360
        assert 1 / 3 < share < 5 / 6, cut_mm
        assert abs(found.osteotomy_below_plateau_mm - cut_mm) >= 30


def test_the_distal_screw_lies_20_to_50_mm_above_the_plafond_and_holds_four_cortices() -> None:
    """Common practice, no source. Screws nearer the joint widen the lateral gutter more, 0.76 mm/mm at 20 mm
    against 0.34 at 50 mm (finite-element study, Foot Ankle Spec 2021, abstract read).
    """
    found = fibula().fixation
    assert found is not None
    assert 20 <= found.distal_screw_above_plafond_mm <= 50
    assert found.cortices == 4
    assert 3.5 <= found.screw_diameter_mm <= 4.5


def test_why_the_proximal_screw_matters() -> None:
    """Without proximal fixation the head moved 19.1 mm on average (achondroplasia, preprint 2026, read); with
    a screw 2.59 mm (Role of proximal tibiofibular fixation ..., abstract read). Migration of the malleolus of
    5 mm or more was linked to valgus of the talus (Park et al., J Bone Joint Surg Am 2011, 93:294).
    """
    words = {f.id: f.words for f in fibula().findings}
    assert "2.6 mm on average, without any proximal fixation 19 mm" in words["fibula-proximal-screw-why"]
    assert "5 mm or more" in words["fibula-distal-screw-why"]


def test_pins_stay_out_of_the_nails_path() -> None:
    """Common practice, no source: proximal pin behind the nail, distal pin beyond its tip.

    The clearance is checked against the distance of two circles in the side view, worked out here.
    """
    room = SagittalRoom(below_joint_mm=25, path_anterior_mm=8, anterior_border_mm=24, posterior_border_mm=-26)
    found = pin_plan(
        bone=Bone.TIBIA,
        direction=Direction.ANTEGRADE,
        levels=PinLevels(bone_length_mm=350, osteotomies_mm=(120,), nail_tip_mm=285),
        driving_end=room,
        far_end=None,
        reamed_diameter_mm=12.7,
        profile=Profile(),
    )
    proximal, distal = found.pins[:2]
    centre = room.posterior_border_mm + 2.5  # a 5 mm pin wholly in bone at the back
    assert proximal.clearance_mm == pytest.approx((8 - 12.7 / 2) - (centre + 2.5))
    assert proximal.nail_side == "posterior to the nail"
    assert distal.below_joint_mm > 285
    assert distal.nail_side == "beyond the nail tip"


def plan(distal: Rotation, turn_deg: float) -> BonePlan:
    """A tibia whose distal canal is turned out of line by a rotation given by scipy."""
    down = distal.apply([0.0, -1.0, 0.0])  # anterior, proximal, lateral of a right leg: right-handed

    def place(point: list[float]) -> Place:
        return Place(anterior_mm=float(point[0]), proximal_mm=float(point[1]), lateral_mm=float(point[2]))

    cut = [0.0, -120.0, 0.0]
    return BonePlan(
        bone=Bone.TIBIA,
        direction=Direction.ANTEGRADE,
        approach=Approach.SUPRAPATELLAR,
        lengthening_mm=40,
        osteotomy=Osteotomy(
            bone=Bone.TIBIA, depth_mm=110, below_joint_mm=120, above_distal_joint_mm=230, off_apex_mm=0
        ),
        path=NailPath(
            entry=place([0, -10, 0]),
            proximal=FragmentPath(fragment=Fragment.PROXIMAL, upper=place([0, -10, 0]), lower=place(cut)),
            distal=FragmentPath(
                fragment=Fragment.DISTAL,
                upper=place(cut),
                lower=place([c + 130 * d for c, d in zip(cut, down, strict=True)]),
            ),
        ),
        rotation_correction_deg=turn_deg,
        nail=Nail(
            name="invented",
            bone=Bone.TIBIA,
            direction=Direction.ANTEGRADE,
            thick_diameter_mm=10.7,
            thin_diameter_mm=8,
            length_mm=245,
            stroke_mm=50,
            exposed_thin_mm=30,
            elastic_modulus_gpa=114,
        ),
        reamer_mm=12.7,
        blocking_screws=(),
        fibula=None,
        pins=(),
        calf_release=None,
    )


@pytest.mark.parametrize("varus_deg", [-12.0, -3.0, 7.0, 15.0])
def test_the_correction_in_the_checklist_is_what_an_independent_rotation_says(varus_deg: float) -> None:
    """scipy's Rotation turns the distal canal about the anterior axis (varus + about it, right-handed)."""
    (found,) = corrections_of(plan(Rotation.from_euler("x", varus_deg, degrees=True), 0.0))
    assert found.turn_deg == pytest.approx(abs(varus_deg), abs=1e-6)
    assert found.frontal.magnitude == pytest.approx(abs(varus_deg), abs=1e-6)
    assert found.frontal.direction is (Sense.VARUS if varus_deg > 0 else Sense.VALGUS)
    assert found.sagittal.direction is Sense.NONE


def test_angulation_20_and_rotation_15_are_one_turn_of_24_95_degrees() -> None:
    """cos(total/2) = cos(A/2) cos(R/2) for perpendicular axes (axis-angle composition, derived)."""
    (found,) = corrections_of(plan(Rotation.from_euler("x", 20, degrees=True), 15.0))
    by_formula = 2 * math.degrees(math.acos(math.cos(math.radians(10)) * math.cos(math.radians(7.5))))
    assert by_formula == pytest.approx(24.95, abs=0.01)
    assert found.turn_deg == pytest.approx(by_formula, abs=1e-6)


def test_the_canal_is_reamed_in_the_corrected_position() -> None:
    """Common practice, no source: correct and hold, then guide wire, ream, nail, lock."""
    found = [
        s.name
        for s in operation_steps((plan(Rotation.from_euler("x", -8, degrees=True), 0.0),), staging=None)
    ]
    wanted = [
        StepName.OSTEOTOMY,
        StepName.CORRECT,
        StepName.HOLD,
        StepName.GUIDE_WIRE,
        StepName.REAM_CORRECTED,
        StepName.NAIL,
        StepName.LOCKING,
    ]
    assert [name for name in found if name in wanted] == wanted
