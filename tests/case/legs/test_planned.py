"""A case planned: what is chosen, what is fixed, what stops it. Legs are drawn, see conftest."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from limbwright.case.case import Case
from limbwright.case.patient import Patient
from limbwright.case.planned import PlannedCase, planned_case
from limbwright.error import Missing, Refused
from limbwright.film.film import ScaleEvidence
from limbwright.finding import Severity
from limbwright.growth.growth import Sex
from limbwright.implant.shipped import shipped_catalogue
from limbwright.limb.anatomy import Bone
from limbwright.limb.reading import Measure
from limbwright.plan.circumstances import Examination, JointState
from limbwright.plan.goal import BoneChoice, Goal
from limbwright.plan.stage import StageName
from limbwright.practice.profile import Profile

Drawn = Callable[..., Case]


def planned(case: Case, profile: Profile | None = None) -> PlannedCase:
    return planned_case(case, profile or Profile(), shipped_catalogue())


def test_the_bone_that_is_short_and_bent_is_treated_and_the_legs_come_out_equal(case_of: Drawn) -> None:
    found = planned(case_of())
    assert found.plan is not None
    assert found.outlook is not None
    (bone,) = found.plan.bones
    assert bone.bone is Bone.TIBIA
    end = found.outlook.stage(StageName.FULL_LENGTH)
    assert end.discrepancy is not None
    assert end.discrepancy.total is not None
    assert abs(end.discrepancy.total.value) <= 0.5
    assert bone.lengthening_mm == round(bone.lengthening_mm)
    assert end.frontal_readings.need(Measure.MPTA).out_of_range == 0
    assert [p.target_mm for p in found.prescriptions] == [bone.lengthening_mm]
    assert not found.stopped()


def test_straightening_gains_length_that_is_not_lengthened_again(case_of: Drawn) -> None:
    found = planned(case_of())
    assert found.plan is not None
    short = found.situation.tibia.short_mm
    assert found.plan.bones[0].lengthening_mm < round(short)


def test_a_leg_may_be_left_short(case_of: Drawn) -> None:
    found = planned(case_of(goal=Goal(leave_short_mm=12.0)))
    assert found.outlook is not None
    end = found.outlook.stage(StageName.FULL_LENGTH).discrepancy
    assert end is not None
    assert end.total is not None
    assert end.total.value == pytest.approx(-12.0, abs=0.5)


def test_what_the_surgeon_fixed_is_not_adjusted(case_of: Drawn) -> None:
    goal = Goal(bones=(BoneChoice(bone=Bone.TIBIA, lengthening_mm=20.0, osteotomy_below_joint_mm=140.0),))
    found = planned(case_of(goal=goal))
    assert found.plan is not None
    (bone,) = found.plan.bones
    assert bone.lengthening_mm == 20.0
    assert bone.osteotomy.below_joint_mm == pytest.approx(140.0, abs=0.5)


def test_without_a_sagittal_film_the_plan_says_what_it_does_not_know(case_of: Drawn) -> None:
    ids = {f.id for f in planned(case_of()).findings}
    assert {"no-sagittal-film", "pins-not-placed"} <= ids


def test_every_finding_is_said_once(case_of: Drawn) -> None:
    found = planned(case_of()).findings
    said = [(f.id, f.words) for f in found]
    assert len(said) == len(set(said))
    severities = [list(Severity).index(f.severity) for f in found]
    assert severities == sorted(severities, reverse=True)


def test_a_long_lengthening_is_planned_for_its_first_operation_only(case_of: Drawn) -> None:
    goal = Goal(bones=(BoneChoice(bone=Bone.TIBIA),))
    found = planned(case_of(treated_mm=250.0, bent_mm=0.0, goal=goal))
    assert "later-stage-not-planned" in {f.id for f in found.findings}
    if found.plan is not None:
        assert found.plan.bones[0].lengthening_mm < 100.0


def test_when_every_way_is_barred_there_is_no_plan_but_a_stop(case_of: Drawn) -> None:
    barred = Examination(
        hip=JointState.UNSTABLE,
        knee=JointState.UNSTABLE,
        previous_infection=(Bone.FEMUR, Bone.TIBIA),
    )
    found = planned(case_of(examination=barred))
    assert found.plan is None or found.stopped()


def test_a_child_gets_the_discrepancy_at_maturity(case_of: Drawn) -> None:
    child = Patient(id="P", sex=Sex.MALE, age_years=12.0, skeletal_age_years=12.0)
    found = planned(case_of(patient=child))
    assert found.growth.alternatives or found.growth.prediction is not None


def test_a_leg_that_needs_nothing_is_refused(case_of: Drawn) -> None:
    with pytest.raises(Refused, match="within the tolerances"):
        planned(case_of(treated_mm=350.0, bent_mm=0.0))


def test_without_scale_a_plan_would_be_a_guess(case_of: Drawn) -> None:
    case = case_of()
    film = replace(case.films[0], scale=ScaleEvidence())
    with pytest.raises(Missing, match="scale"):
        planned(replace(case, films=(film,)))
