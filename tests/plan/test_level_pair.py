"""Whether one osteotomy is enough, and which apex each of two corrects."""

from dataclasses import replace

import pytest

from limbwright.limb.anatomy import Bone
from limbwright.plan.goal import BoneChoice
from limbwright.plan.level_pair import LevelsWanted, beyond_tolerance, levels_wanted, size_deg
from limbwright.plan.situation import Angulation, BoneSituation
from limbwright.practice.profile import Profile

PROFILE = Profile()


def bend(level: float | None, frontal: float = 0.0, sagittal: float = 0.0) -> Angulation:
    return Angulation(below_joint_mm=level, frontal_deg=frontal, sagittal_deg=sagittal)


def wanted(*apexes: Angulation, choice: BoneChoice | None = None, **kwargs: bool) -> LevelsWanted:
    situation = BoneSituation(bone=Bone.TIBIA, length_mm=360, short_mm=30, angulations=apexes)
    standard = {"has_sagittal": True, "correct_alignment": True}
    return levels_wanted(situation, choice, PROFILE, **(standard | kwargs))


def test_what_lies_within_tolerance_is_left_alone() -> None:
    situation = BoneSituation(
        bone=Bone.TIBIA,
        length_mm=360,
        short_mm=30,
        angulations=(bend(200, 8), bend(100, 2), bend(150, 0, 6), bend(None, -7)),
    )
    found = beyond_tolerance(situation, PROFILE, has_sagittal=True)
    assert [a.below_joint_mm for a in found] == [150, 200, None]
    assert [a.below_joint_mm for a in beyond_tolerance(situation, PROFILE, has_sagittal=False)] == [200, None]
    assert size_deg(bend(0, 3, 4), has_sagittal=True) == 5
    assert size_deg(bend(0, 3, 4), has_sagittal=False) == 3


@pytest.mark.parametrize(
    ("apexes", "twice", "words"),
    [
        ((), False, "no more than one apex"),
        ((bend(120, -9),), False, "no more than one apex"),
        ((bend(120, -9), bend(None, 8)), False, "level of a second apex is not known"),
        ((bend(120, -9), bend(170, 8)), False, "lie 50 mm apart"),
        ((bend(120, -9), bend(230, 4)), False, "lesser apex has 4.0 deg"),
        ((bend(120, -9), bend(230, 8)), True, "9.0 deg at 120 mm and 8.0 deg at 230 mm"),
        ((bend(120, -9), bend(230, 0, 7)), True, "7.0 deg at 230 mm"),
    ],
)
def test_twice_only_where_once_would_leave_an_apex(apexes, twice, words) -> None:
    found = wanted(*apexes)
    assert found.twice is twice
    assert words in found.reason
    assert bool(found.left) is (not twice and len(apexes) > 1)


def test_without_a_sagittal_film_or_alignment_to_correct_one_is_enough() -> None:
    both = (bend(120, -9), bend(230, 0, 7))
    assert not wanted(*both, has_sagittal=False).twice
    assert not wanted(*both, correct_alignment=False).twice


def test_a_third_apex_joins_the_nearer_of_two_groups() -> None:
    found = wanted(bend(100, -6), bend(112, -3), bend(230, 8))
    assert [a.frontal_deg for a in found.apexes] == [-9, 8]
    assert found.apexes[0].below_joint_mm == pytest.approx(104)
    assert found.left == ()
    apart = wanted(bend(100, 8), bend(165, 6), bend(240, 8))
    assert [a.below_joint_mm for a in apart.left] == [100, 165]


def test_bends_that_take_each_other_out_are_not_grouped_where_another_way_is_open() -> None:
    found = wanted(bend(100, -8), bend(165, 6), bend(240, 8))
    assert [a.frontal_deg for a in found.apexes] == [-8, 14]


def test_the_surgeon_decides() -> None:
    two = BoneChoice(bone=Bone.TIBIA, osteotomies=2)
    assert wanted(choice=two).twice
    assert wanted(choice=two).apexes == ()
    assert wanted(bend(200, 8), choice=two).apexes == (bend(200, 8),)
    level = BoneChoice(bone=Bone.TIBIA, second_osteotomy_below_joint_mm=200)
    assert wanted(bend(200, 8), choice=level).asked
    one = replace(two, osteotomies=1)
    found = wanted(bend(120, -9), bend(230, 8), choice=one)
    assert not found.twice
    assert len(found.left) == 2
