"""What each of two osteotomies is to correct."""

import pytest

from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.reading import Measure
from limbwright.plan.leg import LegModel, leg_model
from limbwright.plan.second_correction import NOTHING, corrections_of_two
from limbwright.plan.situation import Angulation, BoneSituation
from limbwright.practice.profile import Profile

UPPER = Angulation(below_joint_mm=120, frontal_deg=-9, sagittal_deg=5)
LOWER = Angulation(below_joint_mm=230, frontal_deg=8)
TARGETS = {Measure.MPTA: 87.0, Measure.LDTA: 89.0, Measure.MLDFA: 88.0}


@pytest.fixture(scope="module")
def made(make_leg) -> LegModel:  # type: ignore[no-untyped-def]
    return leg_model(make_leg().view(Projection.FRONTAL), make_leg().view(Projection.SAGITTAL))


def found(made, *apexes, bone=Bone.TIBIA, upper_lengthens=True, extra=(), correct=True, rotation=None):  # type: ignore[no-untyped-def]
    situation = BoneSituation(
        bone=bone,
        length_mm=360,
        short_mm=30,
        angulations=tuple(a for a in (*apexes, *extra) if a is not None),
        rotation_deg=rotation,
    )
    return corrections_of_two(
        made,
        situation,
        apexes,
        upper_lengthens=upper_lengthens,
        targets=TARGETS,
        profile=Profile(),
        correct_alignment=correct,
    )


def test_each_of_two_apexes_answers_for_the_joint_beside_it(made) -> None:
    upper, lower = found(made, UPPER, LOWER)
    assert (upper.frontal.measure, lower.frontal.measure) == (Measure.MPTA, Measure.LDTA)
    assert (upper.frontal.turn_deg, lower.frontal.turn_deg) == (9, -8)
    assert (upper.sagittal.turn_deg, lower.sagittal.turn_deg) == (-5, 0)


def test_in_the_femur_the_joint_at_the_knee_is_the_lower_one(made) -> None:
    upper, lower = found(made, UPPER, LOWER, bone=Bone.FEMUR)
    assert lower.frontal.measure is Measure.MLDFA
    assert upper.frontal.measure is None  # no target for the hip: the plain turn
    assert upper.frontal.turn_deg == 9


@pytest.mark.parametrize(("apex", "measure"), [(UPPER, Measure.MPTA), (LOWER, Measure.LDTA)])
def test_one_apex_answers_alone_for_the_nearer_joint(made, apex, measure) -> None:
    length, acute = found(made, None, apex)
    assert length == NOTHING
    assert acute.frontal.measure is measure


@pytest.mark.parametrize("upper_lengthens", [True, False])
def test_rotation_is_given_where_the_bone_lengthens(made, upper_lengthens) -> None:
    both = found(made, UPPER, LOWER, upper_lengthens=upper_lengthens, rotation=20.0)
    lengthened, second = both if upper_lengthens else both[::-1]
    assert (lengthened.external_deg, second.external_deg) == (-20, 0)
    only = found(made, None, LOWER, rotation=20.0)[0]
    assert only.needed
    assert only.external_deg == -20


def test_a_step_goes_to_the_level_nearer_to_it(made) -> None:
    step = Angulation(below_joint_mm=210, lateral_mm=8.0, anterior_mm=-3.0)
    upper, lower = found(made, UPPER, LOWER, extra=(step,))
    assert upper.shift_mm == (0, 0)
    assert lower.shift_mm == (-8, 3)
    assert "shift 8.5 mm" in lower.reason
    nowhere = found(made, None, None, extra=(Angulation(lateral_mm=6.0),))
    assert nowhere[1].shift_mm == (-6, 0)


def test_only_length_corrects_nothing(made) -> None:
    assert found(made, UPPER, LOWER, correct=False) == (NOTHING, NOTHING)
