import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.growth.growth import Sex
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import Examination
from limbwright.plan.consequence import (
    Treatment,
    bone_share,
    knee_height_difference_mm,
    remaining_deformity,
    residual_short_mm,
    slowest,
)
from limbwright.plan.goal import Goal
from limbwright.plan.situation import Angulation, BoneSituation, LegSituation
from limbwright.plan.strategies import Question, strategies
from limbwright.plan.strategy import BoneShare
from limbwright.practice.profile import Profile
from limbwright.quantity import Sense

SHORT = st.floats(0, 60)


def leg(femur: float, tibia: float, *, foot: float = 0, rotation: float | None = None) -> LegSituation:
    return LegSituation(
        femur=BoneSituation(bone=Bone.FEMUR, length_mm=430, short_mm=femur, rotation_deg=rotation),
        tibia=BoneSituation(
            bone=Bone.TIBIA,
            length_mm=350,
            short_mm=tibia,
            angulations=(Angulation(frontal_deg=-9, sagittal_deg=6),),
        ),
        foot_short_mm=foot,
    )


def share(direction: Direction, *, bone: Bone = Bone.FEMUR, age: float = 25) -> BoneShare:
    return bone_share(
        situation=leg(40, 40),
        bone=bone,
        treatment=Treatment(lengthening_mm=40, stages=1, direction=direction),
        first=True,
        corrects=True,
        examination=Examination(),
        age_years=age,
        profile=Profile(),
    )


@given(femur=SHORT, tibia=SHORT, foot=st.floats(-10, 20), gained=SHORT)
def test_only_the_lower_leg_moves_the_knee(femur: float, tibia: float, foot: float, gained: float) -> None:
    here = knee_height_difference_mm(leg(femur, tibia, foot=foot), tibia_lengthening_mm=gained)
    assert here == pytest.approx(tibia + foot - gained)
    assert here == knee_height_difference_mm(leg(femur + 20, tibia, foot=foot), tibia_lengthening_mm=gained)


def test_residual() -> None:
    assert residual_short_mm(leg(10, 30, foot=5), lengthening_mm=50) == pytest.approx(-5)


def test_remaining_deformity_by_bone() -> None:
    femur, tibia = remaining_deformity(leg(0, 0, rotation=-15), corrected=())
    assert femur.rotation is not None
    assert (femur.rotation.magnitude, femur.rotation.direction) == (15, Sense.INTERNAL)
    assert tibia.rotation is None  # not examined is not zero
    assert (tibia.frontal.magnitude, tibia.frontal.direction) == (9, Sense.VALGUS)
    assert (tibia.sagittal.magnitude, tibia.sagittal.direction) == (6, Sense.PROCURVATUM)
    _, tibia = remaining_deformity(leg(0, 0), corrected=(Bone.TIBIA,))
    assert tibia.frontal.magnitude == 0


def test_a_retrograde_femur_and_an_adult_heal_more_slowly() -> None:
    antegrade, retrograde = share(Direction.ANTEGRADE), share(Direction.RETROGRADE)
    child = share(Direction.ANTEGRADE, age=12)
    assert antegrade.duration is not None
    assert retrograde.duration is not None
    assert child.duration is not None
    assert antegrade.duration.healed_typical_day == pytest.approx(4 * 24.5)
    assert retrograde.duration.healed_typical_day == pytest.approx(4 * 33.5)
    assert child.duration.healed_typical_day == pytest.approx(4 * 24.5 * 0.75)
    assert child.duration.latency_days < antegrade.duration.latency_days


def test_the_slowest_bone_decides_each_day() -> None:
    femur, tibia = share(Direction.ANTEGRADE).duration, share(Direction.ANTEGRADE, bone=Bone.TIBIA).duration
    assert femur is not None
    assert tibia is not None
    both = slowest((femur, tibia))
    assert both is not None
    assert both.lengthened_day == max(femur.lengthened_day, tibia.lengthened_day)
    assert both.healed_high_day == tibia.healed_high_day
    assert slowest(()) is None


def test_a_mirrored_patient_has_the_same_strategies() -> None:
    """Sides are resolved before; turned signs of both planes change words only, never a choice."""

    def laid(sign: float) -> list[tuple[str, float, float, int]]:
        situation = LegSituation(
            femur=BoneSituation(
                bone=Bone.FEMUR,
                length_mm=430,
                short_mm=20,
                angulations=(Angulation(below_joint_mm=300, frontal_deg=7 * sign),),
            ),
            tibia=BoneSituation(
                bone=Bone.TIBIA,
                length_mm=350,
                short_mm=25,
                angulations=(Angulation(frontal_deg=-5 * sign, sagittal_deg=6 * sign),),
            ),
        )
        found = strategies(
            Question(situation=situation, goal=Goal(), examination=Examination(), age_years=30, sex=Sex.MALE),
            Profile(),
        )
        return [(s.name, s.burden_index, s.healed_typical_day, len(s.findings)) for s in found]

    assert laid(1) == laid(-1)
