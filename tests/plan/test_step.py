"""A step between two parallel parts of a bone is taken out by a shift, without a turn."""

import numpy as np
import pytest

from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.reading import Measure
from limbwright.plan.correction import Correction, correction_for
from limbwright.plan.decision import NailPath
from limbwright.plan.end_alignment import bone_progress, measure_value, moved_leg
from limbwright.plan.leg import LegModel, leg_model
from limbwright.plan.reduction import reduction
from limbwright.plan.route import route_at
from limbwright.plan.situation import Angulation, BoneSituation
from limbwright.plan.stage import cut_faces

STEP = Angulation(below_joint_mm=147, lateral_mm=9.0, anterior_mm=-5.0)


def stepped(make_leg, side: Side = Side.RIGHT) -> LegModel:  # type: ignore[no-untyped-def]
    leg = make_leg().deformed(Bone.TIBIA, -147.0, shift=(-5.0, 0.0, 9.0))
    return leg_model(leg.view(Projection.FRONTAL, side), leg.view(Projection.SAGITTAL, side))


def aims(leg: LegModel, *angulations: Angulation, correct: bool = True) -> Correction:
    return correction_for(
        leg,
        BoneSituation(bone=Bone.TIBIA, length_mm=360, short_mm=30, angulations=angulations),
        targets={Measure.MPTA: 87.0, Measure.LDTA: 89.0},
        tolerance_deg=2.5,
        sagittal_tolerance_deg=4,
        rotation_tolerance_deg=10,
        correct_alignment=correct,
    )


def test_a_step_is_aimed_at_without_a_turn(make_leg) -> None:
    found = aims(stepped(make_leg), STEP)
    assert found.needed
    assert found.shift_mm == (-9.0, 5.0)
    assert (found.frontal.measure, found.frontal.turn_deg) == (None, 0)
    assert found.apex_below_joint_mm == 147
    assert "shift 10.3 mm" in found.reason
    assert not aims(stepped(make_leg), STEP, correct=False).needed


@pytest.mark.parametrize("level", [147.0, 120.0])
def test_the_part_below_is_shifted_back_whatever_the_level(make_leg, level) -> None:
    made = stepped(make_leg)
    route = route_at(
        made,
        bone=Bone.TIBIA,
        direction=Direction.ANTEGRADE,
        below_joint_mm=level,
        correction=aims(made, STEP),
        lengthening_mm=30,
    )
    path = NailPath(entry=route.proximal.upper, proximal=route.proximal, distal=route.distal)
    reduced = reduction(path=path, cut=route.cut, rotation_correction_deg=route.rotation_correction_deg)
    end = moved_leg(made, bone_progress((reduced,), 30.0))
    straight = np.array([0.0, -390.0, 0.0])
    assert end.place_mm(Landmark.ANKLE_CENTRE) == pytest.approx(straight, abs=0.6)
    assert reduced.motion.angle_deg() < 0.3
    for measure, wanted in ((Measure.MPTA, 87.0), (Measure.LDTA, 89.0)):
        assert measure_value(end.view(Projection.FRONTAL), measure) == pytest.approx(wanted, abs=0.2)
    faces = cut_faces(made, reduced)
    assert faces.shift_lateral_mm == pytest.approx(-9, abs=0.3)
    assert faces.shift_anterior_mm == pytest.approx(5, abs=0.3)
