import pytest

from limbwright.growth.growth import Sex
from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import Examination, JointState
from limbwright.plan.goal import Goal
from limbwright.plan.situation import Angulation, BoneSituation, LegSituation
from limbwright.plan.strategies import Question, strategies
from limbwright.plan.strategy import Strategy, StrategyName
from limbwright.practice.profile import Profile


def strategy(
    name: StrategyName,
    *,
    femur: float = 0,
    tibia: float = 0,
    femur_deg: float = 0,
    rotation: float | None = None,
    age: float = 25,
    examination: Examination | None = None,
    correct: bool = True,
) -> Strategy:
    apex = (Angulation(frontal_deg=femur_deg, sagittal_deg=femur_deg),) if femur_deg else ()
    leg = LegSituation(
        femur=BoneSituation(
            bone=Bone.FEMUR, length_mm=430, short_mm=femur, angulations=apex, rotation_deg=rotation
        ),
        tibia=BoneSituation(bone=Bone.TIBIA, length_mm=350, short_mm=tibia),
    )
    found = strategies(
        Question(
            situation=leg,
            goal=Goal(correct_alignment=correct),
            examination=examination or Examination(),
            age_years=age,
            sex=Sex.MALE,
        ),
        Profile(),
    )
    return next(s for s in found if s.name is name)


def ids(found: Strategy) -> list[str]:
    return [f.id for f in found.findings]


TIBIA, FEMUR, TOGETHER = StrategyName.TIBIA, StrategyName.FEMUR, StrategyName.BOTH_TOGETHER


@pytest.mark.parametrize(
    ("id_", "with_it", "without"),
    [
        ("lengthening-large-share", {"tibia": 53}, {"tibia": 52}),
        ("new-bone-at-risk", {"tibia": 41}, {"tibia": 40}),
        ("new-bone-at-risk", {"tibia": 30, "age": 30}, {"tibia": 30, "age": 29}),
        ("knee-height-differs", {"tibia": 10, "femur": 25}, {"tibia": 20, "femur": 20}),
        ("deformity-left", {"tibia": 30, "femur_deg": 3}, {"tibia": 30, "femur_deg": 2}),
        ("deformity-left", {"tibia": 30, "rotation": -12}, {"tibia": 30, "rotation": 9}),
        ("deformity-left", {"tibia": 30, "femur_deg": 3}, {"tibia": 30, "femur_deg": 3, "correct": False}),
        (
            "knee-unstable-tibia",
            {"tibia": 30, "examination": Examination(knee=JointState.UNSTABLE)},
            {"tibia": 30},
        ),
        (
            "ankle-unstable-tibia",
            {"tibia": 30, "examination": Examination(ankle=JointState.UNSTABLE)},
            {"tibia": 30},
        ),
        (
            "ankle-fused-tibia",
            {"tibia": 30, "examination": Examination(ankle=JointState.FUSED)},
            {"tibia": 30},
        ),
        ("length-off-goal", {"tibia": 190}, {"tibia": 170}),
    ],
)
def test_each_finding_fires_and_does_not(
    id_: str, with_it: dict[str, float], without: dict[str, float]
) -> None:
    assert id_ in ids(strategy(TIBIA, **with_it))  # type: ignore[arg-type]  # plain keyword table
    assert id_ not in ids(strategy(TIBIA, **without))  # type: ignore[arg-type]


def test_a_fused_hip_is_pointed_out_for_the_femur_only() -> None:
    fused = Examination(hip=JointState.FUSED)
    assert "hip-fused-femur" in ids(strategy(FEMUR, femur=40, examination=fused))
    assert "hip-fused-femur" not in ids(strategy(TIBIA, femur=40, examination=fused))


def test_two_bones_together_above_one_bone_at_its_limit() -> None:
    assert "burden-of-two-bones" in ids(strategy(TOGETHER, femur=60, tibia=40))
    assert "burden-of-two-bones" not in ids(strategy(TOGETHER, femur=40, tibia=30))
    assert "burden-of-two-bones" not in ids(strategy(StrategyName.BOTH_STAGED, femur=60, tibia=40))


def test_words_name_what_is_left() -> None:
    found = strategy(TIBIA, tibia=30, femur_deg=-6, rotation=15)
    words = next(f.words for f in found.findings if f.id == "deformity-left")
    assert "6.0 degrees of valgus in the femur" in words
    assert "6.0 degrees of recurvatum in the femur" in words
    assert "15.0 degrees of external rotation in the femur" in words
