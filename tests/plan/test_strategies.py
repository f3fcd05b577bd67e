import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from limbwright.error import Contradiction, Refused
from limbwright.growth.growth import Sex
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import Examination, JointState
from limbwright.plan.goal import BoneChoice, Goal, Staging
from limbwright.plan.situation import Angulation, BoneSituation, LegSituation
from limbwright.plan.strategies import Question, deformed, femur_direction, strategies
from limbwright.plan.strategy import Strategy, StrategyName
from limbwright.practice.profile import Profile
from limbwright.quantity import Sense

VALGUS = Angulation(below_joint_mm=120, frontal_deg=-8)
MM = st.floats(5, 60)


def leg(
    femur: float = 0,
    tibia: float = 0,
    *,
    foot: float = 0,
    femur_apex: tuple[Angulation, ...] = (),
    tibia_apex: tuple[Angulation, ...] = (),
    rotation: float | None = None,
) -> LegSituation:
    return LegSituation(
        femur=BoneSituation(
            bone=Bone.FEMUR, length_mm=430, short_mm=femur, angulations=femur_apex, rotation_deg=rotation
        ),
        tibia=BoneSituation(bone=Bone.TIBIA, length_mm=350, short_mm=tibia, angulations=tibia_apex),
        foot_short_mm=foot,
    )


def question(
    situation: LegSituation,
    *,
    goal: Goal | None = None,
    examination: Examination | None = None,
    age: float = 25,
) -> Question:
    return Question(
        situation=situation,
        goal=goal or Goal(),
        examination=examination or Examination(),
        age_years=age,
        sex=Sex.FEMALE,
    )


def laid(
    situation: LegSituation, *, goal: Goal | None = None, examination: Examination | None = None
) -> dict[StrategyName, Strategy]:
    found = strategies(question(situation, goal=goal, examination=examination), Profile())
    return {s.name: s for s in found}


def test_four_ways_are_laid_side_by_side() -> None:
    assert list(laid(leg(20, 30))) == [
        StrategyName.FEMUR,
        StrategyName.TIBIA,
        StrategyName.BOTH_TOGETHER,
        StrategyName.BOTH_STAGED,
    ]


def test_consequences_of_one_bone() -> None:
    tibia = laid(leg(10, 35, foot=5, tibia_apex=(VALGUS,), femur_apex=(Angulation(frontal_deg=4),)))[
        StrategyName.TIBIA
    ]
    assert tibia.lengthening_mm(Bone.TIBIA) == pytest.approx(50)
    assert tibia.lengthening_mm(Bone.FEMUR) == 0
    assert tibia.residual.direction is Sense.NONE
    assert (tibia.knee_height.magnitude, tibia.knee_height.direction) == (pytest.approx(10), Sense.PROXIMAL)
    femur_left, tibia_left = tibia.remaining
    assert (femur_left.frontal.magnitude, femur_left.frontal.direction) == (4, Sense.VARUS)
    assert tibia_left.frontal.direction is Sense.NONE
    share = tibia.stages[0].shares[0]
    assert share.percent_of_bone == pytest.approx(100 * 50 / 350)
    assert share.burden.index == pytest.approx(50 / 60)
    assert tibia.healed_typical_day == pytest.approx(5 * 41.0)
    assert (tibia.operations, tibia.nails, tibia.staging) == (1, 1, None)


def test_together_takes_as_long_as_the_slower_bone_and_staged_as_long_as_both() -> None:
    found = laid(leg(40, 30))
    together, staged = found[StrategyName.BOTH_TOGETHER], found[StrategyName.BOTH_STAGED]
    assert together.healed_typical_day == pytest.approx(3 * 41.0)
    assert staged.healed_typical_day == pytest.approx(3 * 41.0 + 4 * 24.5)
    assert together.burden_index == pytest.approx(0.5 + 0.5)
    assert staged.burden_index == pytest.approx(0.5)
    assert (together.operations, together.nails) == (1, 2)
    assert (staged.operations, staged.nails) == (2, 2)
    assert staged.bones() == (Bone.FEMUR, Bone.TIBIA)  # the larger share first
    assert together.knee_height.direction is Sense.NONE


def test_more_than_one_stage_is_staged_in_equal_parts() -> None:
    tibia = laid(leg(0, 100))[StrategyName.TIBIA]
    assert [s.shares[0].lengthening_mm for s in tibia.stages] == pytest.approx([50, 50])
    assert [s.shares[0].corrects for s in tibia.stages] == [True, False]
    assert tibia.operations == 2


def test_a_programme_longer_than_three_stages_leaves_a_difference() -> None:
    tibia = laid(leg(0, 250))[StrategyName.TIBIA]
    assert tibia.lengthening_mm(Bone.TIBIA) == pytest.approx(180)
    assert (tibia.residual.magnitude, tibia.residual.direction) == (pytest.approx(70), Sense.SHORTER)
    assert "length-off-goal" in [f.id for f in tibia.findings]


def test_a_bone_with_nothing_to_do_is_excluded() -> None:
    found = laid(leg(0, 40))
    assert [f.id for f in found[StrategyName.BOTH_TOGETHER].excluded] == ["bone-not-needed"]
    assert found[StrategyName.TIBIA].excluded == ()


def test_a_small_share_joins_the_other_bone() -> None:
    found = laid(leg(4, 40, femur_apex=(Angulation(frontal_deg=9),)))[StrategyName.BOTH_TOGETHER]
    assert found.lengthening_mm(Bone.TIBIA) == pytest.approx(44)
    assert found.lengthening_mm(Bone.FEMUR) == 0
    assert found.corrects(Bone.FEMUR)
    femur = next(s for s in found.stages[0].shares if s.bone is Bone.FEMUR)
    assert femur.duration is None
    assert femur.burden.index == 0


def test_a_small_share_does_not_cost_another_stage() -> None:
    found = laid(leg(58, 4, tibia_apex=(VALGUS,)))[StrategyName.BOTH_TOGETHER]
    assert found.lengthening_mm(Bone.FEMUR) == pytest.approx(62)
    found = laid(leg(79, 4, tibia_apex=(VALGUS,)))[StrategyName.BOTH_TOGETHER]
    assert found.lengthening_mm(Bone.FEMUR) == pytest.approx(80)
    assert found.operations == 1


def test_the_goal_may_leave_a_difference() -> None:
    found = laid(leg(0, 40), goal=Goal(leave_short_mm=10))[StrategyName.TIBIA]
    assert found.lengthening_mm(Bone.TIBIA) == pytest.approx(30)
    assert found.off_goal_mm == pytest.approx(0)
    assert (found.residual.magnitude, found.residual.direction) == (pytest.approx(10), Sense.SHORTER)


def test_alignment_left_alone_remains() -> None:
    found = laid(leg(0, 40, tibia_apex=(VALGUS,)), goal=Goal(correct_alignment=False))[StrategyName.TIBIA]
    assert found.remaining[1].frontal.magnitude == pytest.approx(8)
    assert not found.corrects(Bone.TIBIA)


def test_deformity_without_shortening_is_corrected_not_lengthened() -> None:
    found = laid(leg(0, 0, tibia_apex=(VALGUS,)))
    tibia = found[StrategyName.TIBIA]
    assert tibia.lengthening_mm(Bone.TIBIA) == 0
    assert tibia.corrects(Bone.TIBIA)
    assert tibia.healed_typical_day == 0
    assert [f.id for f in found[StrategyName.FEMUR].excluded] == ["bone-not-needed"]


def test_a_longer_leg_or_nothing_off_the_goal_is_refused() -> None:
    with pytest.raises(Refused, match="already 20 mm longer than wanted"):
        laid(leg(-20, 0))
    with pytest.raises(Refused, match=r"length .3 mm from the goal. and alignment are within the tolerances"):
        laid(leg(0, 3))
    with pytest.raises(Refused, match="within the tolerances"):
        laid(leg(0, 0, tibia_apex=(VALGUS,)), goal=Goal(correct_alignment=False))


def test_barriers_exclude_with_their_reasons() -> None:
    found = laid(leg(30, 30), examination=Examination(hip=JointState.UNSTABLE))
    assert [f.id for f in found[StrategyName.FEMUR].excluded] == ["hip-unstable-femur"]
    assert [f.id for f in found[StrategyName.BOTH_STAGED].excluded] == ["hip-unstable-femur"]
    assert found[StrategyName.TIBIA].excluded == ()


def test_a_closed_way_in_is_replaced_by_the_other() -> None:
    found = laid(leg(40, 0), examination=Examination(hip=JointState.REPLACED))[StrategyName.FEMUR]
    assert found.ways() == ((Bone.FEMUR, Direction.RETROGRADE),)
    assert found.excluded == ()


def test_the_femur_is_entered_from_the_side_of_its_main_apex() -> None:
    def femur(*angulations: Angulation) -> BoneSituation:
        return leg(femur_apex=angulations).femur

    low, high = Angulation(below_joint_mm=330, frontal_deg=-9), Angulation(below_joint_mm=80, frontal_deg=4)
    assert femur_direction(femur()) is Direction.ANTEGRADE
    assert femur_direction(femur(low)) is Direction.RETROGRADE
    assert femur_direction(femur(high, low)) is Direction.RETROGRADE
    assert femur_direction(femur(high)) is Direction.ANTEGRADE
    assert femur_direction(femur(Angulation(frontal_deg=9))) is Direction.ANTEGRADE


def test_deformed_means_beyond_the_tolerances() -> None:
    profile = Profile()
    assert not deformed(leg(femur_apex=(Angulation(frontal_deg=2.5),)).femur, profile)
    assert deformed(leg(femur_apex=(Angulation(frontal_deg=-2.6),)).femur, profile)
    assert deformed(leg(femur_apex=(Angulation(sagittal_deg=4.1),)).femur, profile)
    assert deformed(leg(rotation=-11).femur, profile)
    assert not deformed(leg(rotation=10).femur, profile)
    # Two opposite apexes are two deformities, though their sum is none.
    zigzag = leg(femur_apex=(Angulation(frontal_deg=8), Angulation(frontal_deg=-8))).femur
    assert deformed(zigzag, profile)


def test_staging_asked_for_excludes_the_other_way() -> None:
    found = laid(leg(30, 30), goal=Goal(staging=Staging.STAGED))
    assert [f.id for f in found[StrategyName.BOTH_TOGETHER].excluded] == ["staging-fixed"]
    assert found[StrategyName.BOTH_STAGED].excluded == ()


def surgeon(situation: LegSituation, *bones: BoneChoice, staging: Staging | None = None) -> Strategy:
    return laid(situation, goal=Goal(bones=bones, staging=staging))[StrategyName.SURGEON]


def test_bones_fixed_by_the_surgeon_are_kept() -> None:
    own = surgeon(leg(10, 40), BoneChoice(bone=Bone.FEMUR, direction=Direction.RETROGRADE))
    assert own.ways() == ((Bone.FEMUR, Direction.RETROGRADE),)
    assert own.lengthening_mm(Bone.FEMUR) == pytest.approx(50)


def test_a_length_fixed_by_the_surgeon_is_one_stage_and_the_rest_goes_to_the_other_bone() -> None:
    own = surgeon(leg(20, 60), BoneChoice(bone=Bone.TIBIA, lengthening_mm=65), BoneChoice(bone=Bone.FEMUR))
    assert own.lengthening_mm(Bone.TIBIA) == 65
    assert own.lengthening_mm(Bone.FEMUR) == pytest.approx(15)
    assert "lengthening-over-stage-limit" in [f.id for f in own.findings]


def test_both_bones_without_lengths_are_shared_and_staged_by_the_rules() -> None:
    light = surgeon(leg(30, 20), BoneChoice(bone=Bone.FEMUR), BoneChoice(bone=Bone.TIBIA))
    assert light.lengthening_mm(Bone.FEMUR) == pytest.approx(30)
    assert light.staging is Staging.SIMULTANEOUS
    heavy = surgeon(leg(70, 50), BoneChoice(bone=Bone.FEMUR), BoneChoice(bone=Bone.TIBIA))
    assert heavy.staging is Staging.STAGED
    asked = surgeon(
        leg(70, 50), BoneChoice(bone=Bone.FEMUR), BoneChoice(bone=Bone.TIBIA), staging=Staging.SIMULTANEOUS
    )
    assert asked.staging is Staging.SIMULTANEOUS


def test_a_fixed_way_in_that_is_closed_carries_the_reason() -> None:
    found = laid(
        leg(40, 0),
        goal=Goal(bones=(BoneChoice(bone=Bone.FEMUR, direction=Direction.ANTEGRADE),)),
        examination=Examination(hip=JointState.REPLACED),
    )[StrategyName.SURGEON]
    assert found.ways() == ((Bone.FEMUR, Direction.ANTEGRADE),)
    assert [f.id for f in found.excluded] == ["hip-replaced-antegrade"]


def test_naming_a_bone_twice_or_the_fibula_is_refused() -> None:
    with pytest.raises(Contradiction, match="femur, femur, expected femur, tibia or one of each"):
        surgeon(leg(40, 0), BoneChoice(bone=Bone.FEMUR), BoneChoice(bone=Bone.FEMUR))
    with pytest.raises(Contradiction, match="fibula, expected"):
        surgeon(leg(40, 0), BoneChoice(bone=Bone.FIBULA))


@given(femur=MM, tibia=MM, foot=st.floats(-5, 15))
def test_length_is_conserved(femur: float, tibia: float, foot: float) -> None:
    situation = leg(femur, tibia, foot=foot)
    assume(situation.short_mm > Profile().length_tolerance_mm)  # less is refused, there is nothing to do
    for strategy in strategies(question(situation), Profile()):
        gained = strategy.lengthening_mm(Bone.FEMUR) + strategy.lengthening_mm(Bone.TIBIA)
        residual = strategy.residual.magnitude
        assert gained + residual == pytest.approx(situation.short_mm, abs=0.06)
        assert strategy.healed_low_day <= strategy.healed_typical_day <= strategy.healed_high_day


@given(a=st.floats(10, 60), b=st.floats(10, 60))
def test_a_shorter_tibia_never_takes_less_time_or_burden(a: float, b: float) -> None:
    low, high = (laid(leg(0, short, tibia_apex=(VALGUS,)))[StrategyName.TIBIA] for short in sorted((a, b)))
    assert low.burden_index <= high.burden_index
    assert low.healed_typical_day <= high.healed_typical_day
