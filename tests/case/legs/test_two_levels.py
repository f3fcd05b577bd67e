"""An invented tibia that bends twice, from marks on a film to a plan, its forecast and its file."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from limbwright.case.case import Case
from limbwright.case.document import case_from_json, case_to_json
from limbwright.case.forecast import case_ahead
from limbwright.case.planned import PlannedCase, planned_case
from limbwright.film.film import Mark
from limbwright.implant.shipped import shipped_catalogue
from limbwright.limb.anatomy import Bone
from limbwright.limb.landmark import Landmark
from limbwright.limb.reading import Measure
from limbwright.plan.forecast.forecast import Sampling
from limbwright.plan.goal import BoneChoice, Goal
from limbwright.plan.stage import StageName
from limbwright.practice.profile import Profile

Drawn = Callable[..., Case]
UPPER_MM, LOWER_MM = 105.0, 205.0
SLOPES = (-0.20, 0.02)  # sideways per millimetre, between the bends and below the lower one


def zigzag(depth: float) -> float:
    """Sideways place of the tibia's axis at a depth below the knee. [mm]"""
    return -4.0 + sum(
        slope * max(0.0, min(depth, end) - start)
        for slope, start, end in zip(SLOPES, (UPPER_MM, LOWER_MM), (LOWER_MM, 1000.0), strict=True)
    )


@pytest.fixture
def twice_bent(case_of: Drawn) -> Case:
    """The drawn case with a right tibia of 318 mm that bends 11 degrees one way and 12 back."""
    case = case_of(treated_mm=318.0, bent_mm=0.0)
    film = case.films[0]

    def mark(across: float, depth: float) -> Mark:
        return Mark(x_px=250.0 - across, y_px=500.0 + depth, sd_px=0.3)

    shaft = {
        Landmark.TIBIA_PROXIMAL_SHAFT_UPPER: 50.0,
        Landmark.TIBIA_PROXIMAL_SHAFT_LOWER: 95.0,
        Landmark.TIBIA_MIDDLE_SHAFT_UPPER: 118.0,
        Landmark.TIBIA_MIDDLE_SHAFT_LOWER: 192.0,
        Landmark.TIBIA_DISTAL_SHAFT_UPPER: 216.0,
        Landmark.TIBIA_DISTAL_SHAFT_LOWER: 280.0,
    }
    end = zigzag(318.0)
    joint = {
        Landmark.MEDIAL_PLAFOND: mark(end - 12.0, 318.0 + 12.0 * SLOPES[1]),
        Landmark.LATERAL_PLAFOND: mark(end + 12.0, 318.0 - 12.0 * SLOPES[1]),
        Landmark.ANKLE_CENTRE: mark(end + 4.0, 318.0),
    }
    marks = dict(film.right) | {k: mark(zigzag(d), d) for k, d in shaft.items()} | joint
    return replace(case, films=(replace(film, right=marks),))


def planned(case: Case) -> PlannedCase:
    return planned_case(case, Profile(), shipped_catalogue())


def test_both_apexes_are_found_and_cut(twice_bent: Case) -> None:
    found = planned(twice_bent)
    levels = [a.below_joint_mm for a in found.situation.tibia.angulations]
    assert levels == pytest.approx([UPPER_MM, LOWER_MM], abs=6)
    assert found.plan is not None
    (bone,) = found.plan.bones
    assert bone.second is not None
    cuts = sorted(cut.below_joint_mm for cut in bone.osteotomies())
    assert cuts == pytest.approx([UPPER_MM, LOWER_MM], abs=26)
    assert found.outlook is not None
    end = found.outlook.stage(StageName.FULL_LENGTH)
    for measure in (Measure.MPTA, Measure.LDTA):
        assert end.value(measure) == pytest.approx(found.targets[measure], abs=0.01)
    assert end.discrepancy is not None
    assert end.discrepancy.total is not None
    assert abs(end.discrepancy.total.value) <= 1.0
    ids = {f.id for f in found.findings}
    assert {"two-osteotomies", "middle-fragment-hold", "second-osteotomy-not-forecast"} <= ids


def test_the_plan_is_kept_in_the_case_file_without_loss(twice_bent: Case) -> None:
    accepted = replace(twice_bent, plan=planned(twice_bent).plan)
    assert case_from_json(case_to_json(accepted)) == accepted


def test_the_forecast_is_of_the_gap_that_is_lengthened(twice_bent: Case) -> None:
    found = planned(twice_bent)
    ahead = case_ahead(twice_bent, found, Profile(), sampling=Sampling(count=0))
    (bone,) = ahead.bones
    assert bone.forecast.planned.drift() is not None
    assert ahead.outlook is not None
    drifted = ahead.outlook.stage(StageName.FULL_LENGTH).value(Measure.MAD)
    straight = found.outlook.stage(StageName.FULL_LENGTH).value(Measure.MAD)
    assert drifted is not None
    assert straight is not None
    assert drifted != straight


def test_the_goal_can_ask_for_one_cut_alone(twice_bent: Case) -> None:
    once = replace(twice_bent, goal=Goal(bones=(BoneChoice(bone=Bone.TIBIA, osteotomies=1),)))
    found = planned(once)
    assert "apex-left" in {f.id for f in found.findings}
    assert found.plan is None or found.plan.bones[0].second is None
