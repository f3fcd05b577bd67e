from dataclasses import replace

import pytest

from limbwright.growth.growth import Sex
from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import Examination
from limbwright.plan.comparison import compare, criteria, deformity_left_deg
from limbwright.plan.goal import Goal
from limbwright.plan.situation import Angulation, BoneSituation, LegSituation
from limbwright.plan.strategies import Question, strategies
from limbwright.plan.strategy import Strategy
from limbwright.practice.profile import Profile
from limbwright.quantity import VARUS_VALGUS, Directed, Sense, directed

PROFILE = Profile()


def situation(femur: float = 20, tibia: float = 20, tibia_deg: float = -8) -> LegSituation:
    return LegSituation(
        femur=BoneSituation(bone=Bone.FEMUR, length_mm=430, short_mm=femur),
        tibia=BoneSituation(
            bone=Bone.TIBIA, length_mm=350, short_mm=tibia, angulations=(Angulation(frontal_deg=tibia_deg),)
        ),
    )


def laid(leg: LegSituation) -> tuple[Strategy, ...]:
    return strategies(
        Question(situation=leg, goal=Goal(), examination=Examination(), age_years=30, sex=Sex.MALE), PROFILE
    )


def against(strategy: Strategy, name: str, *, knee: bool = True, alignment: bool = True) -> float:
    found = criteria(strategy, profile=PROFILE, knee_height_counts=knee, alignment_counts=alignment)
    return next(c.against for c in found if c.name == name)


def test_deformity_beyond_tolerance_is_added_up() -> None:
    femur = laid(situation(tibia_deg=-8))[0]
    assert deformity_left_deg(femur, PROFILE) == pytest.approx((8, 5.5))


@pytest.mark.parametrize(
    ("name", "inside", "outside", "counted"),
    [
        ("distance from the wanted length", 5.0, 9.0, 4),
        ("soft-tissue burden above one bone at its limit", 1.0, 1.25, 0.25),
    ],
)
def test_what_lies_within_tolerance_counts_as_nothing(
    name: str, inside: float, outside: float, counted: float
) -> None:
    tibia = laid(situation())[1]
    field = "off_goal_mm" if "length" in name else "burden_index"
    assert against(replace(tibia, **{field: inside}), name) == 0
    assert against(replace(tibia, **{field: outside}), name) == counted


def test_knee_height_and_alignment_can_be_left_out() -> None:
    femur = laid(situation(femur=0, tibia=50))[0]
    assert against(femur, "difference of knee height") == 30
    assert against(femur, "difference of knee height", knee=False) == 0
    assert against(femur, "deformity left") > 0
    assert against(femur, "deformity left", alignment=False) == 0


def test_the_first_difference_decides() -> None:
    leg = situation()
    tibia = laid(leg)[1]
    slower = replace(tibia, healed_typical_day=tibia.healed_typical_day + 30)
    crooked = replace(
        tibia,
        healed_typical_day=1.0,
        remaining=(replace(tibia.remaining[0], frontal=directed(9, unit="deg", senses=VARUS_VALGUS)),),
    )
    result = compare((crooked, slower, tibia), situation=leg, profile=PROFILE)
    assert (result.first, result.second) == (2, 1)
    assert "expected days until healed" in result.runner_up_reason
    result = compare((crooked, tibia), situation=leg, profile=PROFILE)
    assert result.first == 1
    assert "Decided by deformity left: 0.0 degrees against 9.0 degrees" in result.reason
    assert "tolerance 2.5 degrees" in result.reason


def test_equal_strategies_keep_their_order() -> None:
    leg = situation()
    tibia = laid(leg)[1]
    result = compare((tibia, tibia), situation=leg, profile=PROFILE)
    assert (result.first, result.second) == (0, 1)
    assert "equal in every criterion" in result.reason


def test_the_order_of_the_list_does_not_matter() -> None:
    leg = situation()
    all_of_them = laid(leg)
    forward = compare(all_of_them, situation=leg, profile=PROFILE)
    backward = compare(all_of_them[::-1], situation=leg, profile=PROFILE)
    assert forward.first is not None
    assert backward.first is not None
    assert all_of_them[forward.first] == all_of_them[::-1][backward.first]


def test_words_for_longer_bones_and_the_foot() -> None:
    leg = replace(situation(femur=50, tibia=-10), foot_short_mm=4)
    result = compare(laid(leg), situation=leg, profile=PROFILE)
    assert "The femur is 50 mm short, the tibia 6 mm long with the foot" in result.reason


def test_rotation_not_examined_counts_as_nothing() -> None:
    tibia = laid(situation())[1]
    turned = Directed(magnitude=25, direction=Sense.EXTERNAL, unit="deg")
    left = replace(tibia, remaining=(replace(tibia.remaining[0], rotation=turned),))
    assert against(left, "deformity left") == 15
    assert against(tibia, "deformity left") == 0
