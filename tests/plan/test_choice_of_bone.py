import pytest

from limbwright.growth.growth import Sex
from limbwright.limb.anatomy import Bone
from limbwright.plan.choice_of_bone import ChoiceOfBone, choose_bones
from limbwright.plan.circumstances import Examination, JointState
from limbwright.plan.goal import BoneChoice, Goal
from limbwright.plan.situation import Angulation, BoneSituation, LegSituation
from limbwright.plan.strategies import Question
from limbwright.plan.strategy import StrategyName
from limbwright.practice.profile import Profile


def chosen(
    femur: float,
    tibia: float,
    *,
    femur_deg: float = 0,
    tibia_deg: float = 0,
    goal: Goal | None = None,
    examination: Examination | None = None,
    age: float = 25,
    skeletal: float | None = None,
) -> ChoiceOfBone:
    def bone(which: Bone, length: float, short: float, deg: float) -> BoneSituation:
        apex = (Angulation(below_joint_mm=length / 4, frontal_deg=deg),) if deg else ()
        return BoneSituation(bone=which, length_mm=length, short_mm=short, angulations=apex)

    return choose_bones(
        Question(
            situation=LegSituation(
                femur=bone(Bone.FEMUR, 430, femur, femur_deg), tibia=bone(Bone.TIBIA, 350, tibia, tibia_deg)
            ),
            goal=goal or Goal(),
            examination=examination or Examination(),
            age_years=age,
            sex=Sex.FEMALE,
            skeletal_age_years=skeletal,
        ),
        Profile(),
    )


def name(choice: ChoiceOfBone) -> StrategyName | None:
    return choice.recommended.name if choice.recommended else None


def ids(choice: ChoiceOfBone) -> list[str]:
    return [f.id for f in choice.findings]


@pytest.mark.parametrize(
    ("femur", "tibia", "femur_deg", "tibia_deg", "expected"),
    [
        (5, 35, 0, -8, StrategyName.TIBIA),
        (60, 0, 10, 0, StrategyName.FEMUR),
        (40, 30, 0, 0, StrategyName.BOTH_TOGETHER),
        (10, 35, 9, -8, StrategyName.BOTH_TOGETHER),
        (75, 55, 0, 0, StrategyName.BOTH_STAGED),
    ],
)
def test_the_bone_follows_deformity_and_shortening(
    femur: float, tibia: float, femur_deg: float, tibia_deg: float, expected: StrategyName
) -> None:
    choice = chosen(femur, tibia, femur_deg=femur_deg, tibia_deg=tibia_deg)
    assert name(choice) is expected


def test_the_reason_names_numbers_and_the_runner_up_what_it_loses_by() -> None:
    choice = chosen(60, 0, femur_deg=12)
    assert "The femur is 60 mm short, the tibia as long as the other" in choice.reason
    assert choice.runner_up is not None
    assert choice.runner_up.name is StrategyName.TIBIA
    assert "deformity left: 12.0 degrees instead of 0.0 degrees" in choice.runner_up_reason


def test_an_unstable_hip_moves_the_choice_to_the_tibia_and_says_so() -> None:
    assert name(chosen(40, 10)) is StrategyName.FEMUR
    choice = chosen(40, 10, examination=Examination(hip=JointState.UNSTABLE))
    assert name(choice) is StrategyName.TIBIA
    assert "only one the rules do not exclude" in choice.reason
    assert "knee-height-differs" in ids(choice)
    femur = choice.strategies[0]
    assert "hip is unstable" in femur.excluded[0].words


def test_infection_moves_the_choice_to_the_other_bone() -> None:
    assert (
        name(chosen(0, 30, examination=Examination(previous_infection=(Bone.TIBIA,)))) is StrategyName.FEMUR
    )


def test_a_fused_knee_leaves_the_femur_and_does_not_count_knee_height() -> None:
    choice = chosen(0, 45, examination=Examination(knee=JointState.FUSED))
    assert name(choice) is StrategyName.FEMUR
    assert "knee-height-not-counted" in ids(choice)


def test_nothing_left_is_a_stop_with_the_reasons() -> None:
    choice = chosen(20, 20, examination=Examination(previous_infection=(Bone.TIBIA, Bone.FEMUR)))
    assert choice.recommended is None
    assert choice.runner_up is None
    stop = next(f for f in choice.findings if f.id == "no-strategy-left")
    assert "femur was infected" in stop.words
    assert "tibia was infected" in stop.words


def test_a_child_is_offered_the_femur_with_the_caution_of_its_age() -> None:
    choice = chosen(30, 25, age=12)
    assert name(choice) is StrategyName.FEMUR
    assert "proximal-femur-by-age" in ids(choice)
    assert name(chosen(30, 25, age=12, skeletal=15)) is StrategyName.BOTH_TOGETHER


def test_the_surgeons_choice_stands_and_the_difference_is_shown() -> None:
    choice = chosen(5, 35, goal=Goal(bones=(BoneChoice(bone=Bone.FEMUR),)))
    assert name(choice) is StrategyName.SURGEON
    assert choice.strategies[0].name is StrategyName.SURGEON
    assert choice.runner_up is not None
    assert choice.runner_up.name is StrategyName.TIBIA
    assert "surgeon-choice-differs" in ids(choice)


def test_a_surgeons_choice_against_a_rule_keeps_the_stop() -> None:
    choice = chosen(
        35,
        5,
        goal=Goal(bones=(BoneChoice(bone=Bone.FEMUR),)),
        examination=Examination(hip=JointState.UNSTABLE),
    )
    assert name(choice) is StrategyName.SURGEON
    assert ids(choice)[0] == "hip-unstable-femur"


def test_a_surgeons_choice_with_nothing_else_left_stands_alone() -> None:
    choice = chosen(
        20,
        20,
        goal=Goal(bones=(BoneChoice(bone=Bone.TIBIA),)),
        examination=Examination(previous_infection=(Bone.TIBIA, Bone.FEMUR)),
    )
    assert name(choice) is StrategyName.SURGEON
    assert choice.runner_up is None
    assert "infection-in-bone" in ids(choice)


def test_the_same_choice_as_the_rules_raises_nothing() -> None:
    choice = chosen(0, 35, goal=Goal(bones=(BoneChoice(bone=Bone.TIBIA),)))
    assert "surgeon-choice-differs" not in ids(choice)


def test_a_small_discrepancy_is_pointed_out() -> None:
    assert "discrepancy-small" in ids(chosen(0, 15, tibia_deg=-8))
    assert "discrepancy-small" not in ids(chosen(0, 20, tibia_deg=-8))


def test_findings_are_given_once() -> None:
    for choice in (chosen(40, 30), chosen(75, 55, age=40), chosen(30, 25, age=12)):
        assert len(choice.findings) == len(set(choice.findings))
