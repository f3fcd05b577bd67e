import pytest

from limbwright.growth.growth import Physis, Sex
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone
from limbwright.plan.barrier import Barrier, barriers, way_in
from limbwright.plan.circumstances import (
    BoneQuality,
    Examination,
    HardwareKind,
    JointState,
    StandingHardware,
    Zone,
    ZoneQuality,
)
from limbwright.plan.hardware_limits import hardware_limits
from limbwright.plan.maturity import ways_maturity
from limbwright.practice.profile import Profile

FEMUR_ANY, TIBIA_ANY = (Bone.FEMUR, None), (Bone.TIBIA, None)
ANTEGRADE = (Bone.FEMUR, Direction.ANTEGRADE)
RETROGRADE = (Bone.FEMUR, Direction.RETROGRADE)
TIBIA = (Bone.TIBIA, Direction.ANTEGRADE)


def found(examination: Examination, *, age: float = 30) -> tuple[Barrier, ...]:
    profile = Profile()
    return barriers(
        examination=examination,
        ways=ways_maturity(
            sex=Sex.FEMALE,
            age_years=age,
            skeletal_age_years=None,
            examination=examination,
            profile=profile,
        ),
        hardware=tuple(
            hardware_limits(bone=bone, length_mm=length, hardware=examination.hardware, profile=profile)
            for bone, length in ((Bone.FEMUR, 430), (Bone.TIBIA, 350))
        ),
        profile=profile,
    )


def closed(examination: Examination, *, age: float = 30) -> dict[tuple[Bone, Direction | None], str]:
    return {(b.bone, b.direction): b.finding.id for b in found(examination, age=age)}


def stem(from_mm: float, to_mm: float) -> StandingHardware:
    return StandingHardware(
        kind=HardwareKind.JOINT_REPLACEMENT_STEM, bone=Bone.TIBIA, from_mm=from_mm, to_mm=to_mm, in_canal=True
    )


@pytest.mark.parametrize(
    ("examination", "expected"),
    [
        (Examination(), {}),
        (Examination(hip=JointState.UNSTABLE), {FEMUR_ANY: "hip-unstable-femur"}),
        (Examination(hip_centre_edge_deg=19), {FEMUR_ANY: "hip-cover-femur"}),
        (Examination(hip_centre_edge_deg=20), {}),
        (Examination(hip=JointState.REPLACED), {ANTEGRADE: "hip-replaced-antegrade"}),
        (Examination(hip=JointState.FUSED), {}),
        (Examination(knee=JointState.UNSTABLE), {FEMUR_ANY: "knee-unstable-femur"}),
        (
            Examination(knee=JointState.FUSED),
            {TIBIA: "knee-blocks-tibial-entry", RETROGRADE: "knee-blocks-retrograde-entry"},
        ),
        (
            Examination(knee=JointState.REPLACED),
            {TIBIA: "knee-blocks-tibial-entry", RETROGRADE: "knee-blocks-retrograde-entry"},
        ),
        (Examination(previous_infection=(Bone.TIBIA,)), {TIBIA_ANY: "infection-in-bone"}),
        (
            Examination(
                bone_quality=(
                    ZoneQuality(bone=Bone.FEMUR, zone=Zone.MIDDLE_SHAFT, quality=BoneQuality.INFECTED_BEFORE),
                    ZoneQuality(bone=Bone.TIBIA, zone=Zone.MIDDLE_SHAFT, quality=BoneQuality.SCARRED),
                )
            ),
            {FEMUR_ANY: "infection-in-bone"},
        ),
        (Examination(open_physes=(Physis.DISTAL_FEMUR,)), {RETROGRADE: "physis-open"}),
        (Examination(hardware=(stem(-5, 80),)), {TIBIA: "hardware-blocks-entry"}),
        (Examination(hardware=(stem(250, 355),)), {}),  # closes only a way that no nail takes
        (
            Examination(hardware=(stem(60, 300),)),
            {TIBIA_ANY: "hardware-leaves-no-osteotomy"},
        ),
    ],
)
def test_what_closes_what(
    examination: Examination, expected: dict[tuple[Bone, Direction | None], str]
) -> None:
    assert closed(examination) == expected


def test_a_child_can_be_nailed_only_antegrade_in_the_femur() -> None:
    assert set(closed(Examination(), age=11)) == {TIBIA, RETROGRADE}


def test_every_barrier_says_why_and_what_to_do() -> None:
    for barrier in found(Examination(hip=JointState.UNSTABLE, knee=JointState.FUSED), age=11):
        assert barrier.finding.words
        assert barrier.finding.next_step
        assert barrier.finding.severity == "stop"


def test_the_other_way_in_is_taken_when_the_preferred_one_is_closed() -> None:
    replaced = found(Examination(hip=JointState.REPLACED))
    assert way_in(Bone.FEMUR, Direction.ANTEGRADE, replaced) is Direction.RETROGRADE
    assert way_in(Bone.FEMUR, Direction.RETROGRADE, replaced) is Direction.RETROGRADE
    assert way_in(Bone.TIBIA, Direction.ANTEGRADE, replaced) is Direction.ANTEGRADE
    both = found(Examination(hip=JointState.REPLACED, knee=JointState.REPLACED))
    assert way_in(Bone.FEMUR, Direction.ANTEGRADE, both) is None
    infected = found(Examination(previous_infection=(Bone.FEMUR,)))
    assert way_in(Bone.FEMUR, Direction.ANTEGRADE, infected) is None
