import math
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from limbwright.case.case import Case
from limbwright.case.followed import followed_case
from limbwright.case.patient import Patient
from limbwright.case.problem import UnreadableCase
from limbwright.course.alignment import Alignment
from limbwright.course.course import Course, Treatment
from limbwright.course.film_marks import FollowUpMarks
from limbwright.course.prescription import default_prescription
from limbwright.course.visit import Visit
from limbwright.error import LimbwrightError, Missing
from limbwright.film.film import ViewerSide
from limbwright.growth.growth import Sex
from limbwright.implant.nail import Direction, Nail
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.plan.drift import Drift
from limbwright.practice.profile import Profile

PROFILE = Profile()
OPERATION = date(2026, 3, 2)
TREATMENT = Treatment(
    operated_on=OPERATION,
    prescription=default_prescription(PROFILE, bone=Bone.FEMUR, age_years=30, target_mm=40),
)
NAIL = Nail(
    name="retrograde",
    bone=Bone.FEMUR,
    direction=Direction.RETROGRADE,
    thick_diameter_mm=10.7,
    thin_diameter_mm=8.5,
    length_mm=300.0,
    stroke_mm=60.0,
    exposed_thin_mm=30.0,
    elastic_modulus_gpa=114.0,
)


def case(treatment=TREATMENT, born=date(1990, 1, 1), **values):
    return Case(
        id="followed",
        side=Side.LEFT,
        patient=Patient(id="P", sex=Sex.MALE, birth_date=born),
        course=Course(treatments=(treatment,)),
        **values,
    )


def ids(found):
    return [f.id for f in found.findings]


def test_without_plan_and_nail_what_needs_them_says_so():
    found = followed_case(case(), PROFILE, on=date(2026, 3, 15))
    assert ids(found) == ["nail-not-known", "prescription-stroke-unknown", "advice-keep"]
    assert found.bones[0].standing.facts.age_years == pytest.approx(36.16, abs=0.01)


def test_a_nail_recorded_with_the_treatment_counts():
    found = followed_case(case(replace(TREATMENT, nail=NAIL)), PROFILE, on=date(2026, 3, 15))
    facts = found.bones[0].standing.facts
    assert (facts.nail, facts.retrograde, facts.osteotomy_depth_mm) == (NAIL, True, None)
    assert ids(found) == ["advice-keep"]


def test_a_foreseen_drift_is_expected():
    drift = {Bone.FEMUR: Drift(varus_deg=4.0)}
    found = followed_case(case(), PROFILE, on=date(2026, 3, 15), drifts=drift)
    assert found.bones[0].standing.ahead.end.varus.value == pytest.approx(4.0, abs=0.1)


def test_growth_that_cannot_be_projected_is_said_while_there_is_growth_to_come():
    found = followed_case(case(born=date(2013, 1, 1)), PROFILE, on=date(2026, 3, 15))
    assert "growth-not-projected" in ids(found)
    assert "growth-not-projected" not in ids(followed_case(case(), PROFILE, on=date(2026, 3, 15)))


def test_before_any_operation_there_is_nothing_to_follow():
    with pytest.raises(Missing, match=r"course: no bone has been operated on"):
        followed_case(replace(case(), course=None), PROFILE, on=date(2026, 3, 15))
    with pytest.raises(Missing, match=r"no bone was operated on by 2026-02-01"):
        followed_case(case(), PROFILE, on=date(2026, 2, 1))


def test_readings_of_a_bone_that_is_not_treated_and_marks_without_a_film_are_refused():
    marks = FollowUpMarks(
        film="nowhere",
        bone=Bone.TIBIA,
        projection=Projection.FRONTAL,
        across_to=ViewerSide.VIEWER_LEFT,
        nail_edges=(),
    )
    visit = Visit(seen_on=OPERATION, alignment=(Alignment(bone=Bone.TIBIA),), marks=(marks,))
    with pytest.raises(UnreadableCase, match=r"the tibia is not lengthened") as refusal:
        replace(case(), course=Course(treatments=(TREATMENT,), visits=(visit,)))
    paths = [problem.path for problem in refusal.value.problems]
    assert paths == [
        "$.course.visits[0].alignment[0].bone",
        "$.course.visits[0].marks[0].bone",
        "$.course.visits[0].marks[0].film",
    ]


@settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
)
@given(data=st.data())
def test_any_course_that_can_be_read_can_be_followed_or_is_refused_in_words(random_cases, data):
    subject = data.draw(random_cases)
    if subject.course is None:
        return
    first = min(t.operated_on for t in subject.course.treatments)
    on = first + timedelta(days=data.draw(st.integers(0, 700)))
    try:
        found = followed_case(subject, PROFILE, on=on)
    except LimbwrightError:
        return
    for bone in found.bones:
        numbers = [n.value for f in bone.findings for n in f.numbers]
        assert all(math.isfinite(n) for n in numbers)
        assert bone.standing.ahead.end.length.sd >= 0
