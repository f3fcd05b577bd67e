import pytest

from limbwright.error import Contradiction
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone
from limbwright.plan.approach import ApproachOption, approach_option, approach_options
from limbwright.plan.circumstances import Examination, JointState
from limbwright.plan.goal import Approach
from limbwright.practice.profile import Profile


def one(approach: Approach, examination: Examination) -> ApproachOption:
    bone = Bone.TIBIA if "patellar" in approach else Bone.FEMUR
    direction = Direction.RETROGRADE if approach is Approach.RETROGRADE else Direction.ANTEGRADE
    return approach_option(approach, examination=examination, direction=direction, bone=bone)


def ids(option: ApproachOption) -> list[str]:
    return [f.id for f in option.findings]


def test_each_bone_has_its_ways_the_preferred_first() -> None:
    def ways(bone: Bone, direction: Direction, profile: Profile) -> list[Approach]:
        found = approach_options(bone=bone, direction=direction, examination=Examination(), profile=profile)
        return [o.approach for o in found]

    profile = Profile()
    assert ways(Bone.TIBIA, Direction.ANTEGRADE, profile) == [Approach.SUPRAPATELLAR, Approach.INFRAPATELLAR]
    below = Profile(tibial_approach="infrapatellar")
    assert ways(Bone.TIBIA, Direction.ANTEGRADE, below)[0] is Approach.INFRAPATELLAR
    assert ways(Bone.FEMUR, Direction.ANTEGRADE, profile) == [Approach.TROCHANTERIC, Approach.PIRIFORMIS]
    assert ways(Bone.FEMUR, Direction.RETROGRADE, profile) == [Approach.RETROGRADE]
    with pytest.raises(Contradiction, match="a retrograde nail in the tibia"):
        ways(Bone.TIBIA, Direction.RETROGRADE, profile)


def test_every_approach_says_what_it_means() -> None:
    for approach in Approach:
        option = one(approach, Examination(knee_flexion_deg=140))
        assert option.approach is approach
        assert option.possible is True
        assert option.entry
        assert option.knee_position
        assert len(option.means) > 60


def test_below_the_patella_needs_a_knee_that_bends_and_above_does_not() -> None:
    stiff = Examination(knee_flexion_deg=70)
    assert one(Approach.INFRAPATELLAR, stiff).possible is False
    assert ids(one(Approach.INFRAPATELLAR, stiff)) == ["approach-knee-too-stiff"]
    assert "70 degrees" in one(Approach.INFRAPATELLAR, stiff).findings[0].words
    assert one(Approach.SUPRAPATELLAR, stiff).possible is True
    assert one(Approach.INFRAPATELLAR, Examination(knee_flexion_deg=90)).possible is True


def test_above_the_patella_needs_a_knee_that_straightens() -> None:
    bent = Examination(knee_flexion_deg=120, knee_extension_loss_deg=40)
    assert ids(one(Approach.SUPRAPATELLAR, bent)) == ["approach-knee-contracture"]
    assert one(Approach.INFRAPATELLAR, bent).possible is True


def test_a_knee_not_examined_is_not_guessed() -> None:
    option = one(Approach.INFRAPATELLAR, Examination())
    assert option.possible is None
    assert ids(option) == ["approach-knee-not-examined"]


def test_a_fused_knee_closes_what_goes_through_it() -> None:
    fused = Examination(knee=JointState.FUSED)
    assert ids(one(Approach.SUPRAPATELLAR, fused)) == ["approach-knee-fused"]
    assert ids(one(Approach.RETROGRADE, fused)) == ["approach-knee-fused"]
    assert one(Approach.TROCHANTERIC, fused).possible is True


def test_an_approach_to_another_bone_is_refused() -> None:
    with pytest.raises(Contradiction, match="the approach 'piriformis'"):
        approach_option(
            Approach.PIRIFORMIS, examination=Examination(), direction=Direction.ANTEGRADE, bone=Bone.TIBIA
        )
