"""A course starts from the drift that its accepted plan foresees."""

from dataclasses import replace
from datetime import date

import pytest

from limbwright.case.case import Case
from limbwright.case.followed import followed_case
from limbwright.case.planned import planned_case
from limbwright.case.planned_drift import planned_drifts
from limbwright.cli.demo_films import invented_case
from limbwright.cli.demo_patients import ADULT_TIBIA
from limbwright.course.course import Course, Treatment
from limbwright.implant.shipped import shipped_catalogue
from limbwright.interop.plain_charts import charts_plain
from limbwright.limb.anatomy import Bone
from limbwright.practice.profile import Profile

PROFILE = Profile()
OPERATED_ON = date(2026, 3, 16)


@pytest.fixture(scope="module")
def operated() -> Case:
    """An invented tibia, its plan accepted without blocking screws, on the day of its operation."""
    case, _ = invented_case(ADULT_TIBIA, pixel_mm=0.9)
    planned = planned_case(case, PROFILE, shipped_catalogue())
    assert planned.plan is not None
    bare = tuple(replace(bone, blocking_screws=()) for bone in planned.plan.bones)
    (prescription,) = planned.prescriptions
    course = Course(treatments=(Treatment(operated_on=OPERATED_ON, prescription=prescription),))
    return replace(case, plan=replace(planned.plan, bones=bare), course=course)


def test_the_plan_says_into_which_direction_and_how_far(operated: Case) -> None:
    drift = planned_drifts(operated, PROFILE)[Bone.TIBIA]
    assert drift.varus_deg != 0
    (bone,) = followed_case(operated, PROFILE, on=OPERATED_ON).bones
    assert bone.standing.facts.drift == drift
    end = bone.standing.ahead.days[-1].varus.value
    assert end == pytest.approx(drift.varus_deg, abs=0.3 + 0.2 * abs(drift.varus_deg))
    frontal, sagittal = charts_plain(bone)["charts"][1]["series"]
    assert frontal["planned"][0] == [0, 0.0]
    assert frontal["planned"][-1][1] == pytest.approx(drift.varus_deg, abs=0.1)
    assert sagittal["planned"][-1][1] == pytest.approx(drift.procurvatum_deg, abs=0.1)


def test_drifts_that_are_given_win_and_without_a_plan_there_are_none(operated: Case) -> None:
    (bone,) = followed_case(operated, PROFILE, on=OPERATED_ON, drifts={}).bones
    assert bone.standing.facts.drift is None
    assert planned_drifts(replace(operated, plan=None), PROFILE) == {}
    assert planned_drifts(replace(operated, course=None), PROFILE) == {}
