from datetime import date

import pytest

from limbwright.course.course import Course, Treatment
from limbwright.course.prescription import default_prescription
from limbwright.course.visit import Visit
from limbwright.error import Contradiction, Missing
from limbwright.limb.anatomy import Bone
from limbwright.practice.profile import Profile

TIBIA, FEMUR = (
    Treatment(
        operated_on=day,
        prescription=default_prescription(Profile(), bone=bone, age_years=30, target_mm=40),
    )
    for bone, day in ((Bone.TIBIA, date(2026, 3, 2)), (Bone.FEMUR, date(2026, 9, 1)))
)


def test_staged_bones_have_their_own_operation():
    course = Course(treatments=(TIBIA, FEMUR), visits=(Visit(seen_on=date(2026, 3, 16)),))
    assert [one.operated_on for one in course.treatments] == [date(2026, 3, 2), date(2026, 9, 1)]


@pytest.mark.parametrize(
    ("values", "error", "message"),
    [
        ({"treatments": ()}, Missing, r"a course without a treated bone"),
        ({"treatments": (TIBIA, TIBIA)}, Contradiction, r"prescribed for twice \(tibia, tibia\)"),
        (
            {"visits": (Visit(seen_on=date(2026, 3, 30)), Visit(seen_on=date(2026, 3, 16)))},
            Contradiction,
            r"visits\[1\]\.seen_on: the visit of 2026-03-16 is listed after the one of 2026-03-30",
        ),
        (
            {"visits": (Visit(seen_on=date(2026, 3, 1)),)},
            Contradiction,
            r"a visit on 2026-03-01, before the operation on 2026-03-02",
        ),
    ],
)
def test_impossible_courses_are_refused(values, error, message):
    with pytest.raises(error, match=message):
        Course(**{"treatments": (TIBIA, FEMUR)} | values)
