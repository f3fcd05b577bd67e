"""Landmarks without which nothing can be measured."""

import json
from random import Random

import pytest

from limbwright.case.case import Case
from limbwright.case.checks import missing_landmarks
from limbwright.case.document import case_from_json, case_to_json
from limbwright.case.patient import Patient
from limbwright.case.problem import UnreadableCase
from limbwright.film.film import Film, Mark, ViewerSide
from limbwright.growth.growth import Sex
from limbwright.limb.anatomy import Projection, Side
from limbwright.limb.landmark import Landmark

HEAD = {Landmark.FEMORAL_HEAD_CENTRE: Mark(x_px=900.0, y_px=500.0)}
KNEE = {Landmark.FEMUR_KNEE_CENTRE: Mark(x_px=900.0, y_px=4000.0)}
TIBIA = {
    Landmark.TIBIA_KNEE_CENTRE: Mark(x_px=900.0, y_px=4050.0),
    Landmark.ANKLE_CENTRE: Mark(x_px=900.0, y_px=7500.0),
}


def film(name="standing", right=None, left=None, **changes):
    values = {"projection": Projection.FRONTAL, "width_px": 2000, "height_px": 8000}
    return Film(name=name, right=right or {}, left=left or {}, **values | changes)


@pytest.mark.parametrize(
    "films",
    [
        (film(right=HEAD | KNEE),),
        (film(right=TIBIA),),
        (film(right=HEAD), film(name="knee", right=KNEE)),
    ],
)
def test_one_bone_with_both_ends_is_enough(films):
    assert missing_landmarks(films, Side.RIGHT) == ()


def test_missing_landmarks_are_named_on_the_film_that_was_begun():
    found = missing_landmarks((film(), film(name="other", right=HEAD)), Side.RIGHT)
    assert [problem.path for problem in found] == [
        "$.films[1].right.femur_knee_centre",
        "$.films[1].right.tibia_knee_centre",
        "$.films[1].right.ankle_centre",
    ]
    assert "landmark 'femur knee centre' of the right leg is not marked" in found[0].found


def test_the_other_leg_does_not_count():
    assert len(missing_landmarks((film(left=HEAD | KNEE),), Side.RIGHT)) == 4


def test_without_a_frontal_film_it_is_asked_for():
    side = film(projection=Projection.SAGITTAL, anterior_at=ViewerSide.VIEWER_LEFT, right=HEAD | KNEE)
    (found,) = missing_landmarks((side,), Side.RIGHT)
    assert (found.path, found.found) == ("$.films", "no frontal film among 1.")


def test_a_case_that_is_still_being_marked_is_read_on_request():
    case = Case(
        id="begun",
        side=Side.RIGHT,
        patient=Patient(id="A", sex=Sex.MALE, age_years=12.0),
        films=(film(right=HEAD),),
    )
    text = case_to_json(case)
    with pytest.raises(UnreadableCase, match=r"3 problems"):
        case_from_json(text)
    assert case_from_json(text, complete=False) == case


@pytest.fixture(scope="module")
def planned_text(random_cases):
    """The text of a case with a plan; any will do, so none is made smaller."""
    from hypothesis import Phase, find, settings

    any_case = settings(phases=[Phase.generate], database=None)
    found = find(random_cases, lambda case: case.plan is not None, settings=any_case, random=Random(3))
    return case_to_json(found)


@pytest.fixture
def planned(planned_text):
    """A case with a plan, as a dictionary to change."""
    return json.loads(planned_text)


@pytest.mark.parametrize(
    ("place", "value", "found"),
    [
        ("lengthening_mm", -5, "expected 0 to 150 mm"),
        ("lengthening_mm", 350, "expected 0 to 150 mm"),
        ("reamer_mm", 120, "expected 5 to 25 mm"),
    ],
)
def test_impossible_numbers_of_a_plan_are_refused(planned, place, value, found):
    planned["plan"]["bones"][0][place] = value
    with pytest.raises(UnreadableCase, match=rf"\$\.plan\.bones\[0\]\.{place} = {value}: {found}"):
        case_from_json(json.dumps(planned), complete=False)


@pytest.mark.parametrize("given", ["second", "middle"])
def test_a_second_osteotomy_without_its_line_is_refused(planned, given):
    bone = planned["plan"]["bones"][0]
    bone.pop("second", None)
    bone["path"].pop("middle", None)
    if given == "second":
        bone["second"] = {
            "osteotomy": bone["osteotomy"],
            "rotation_correction_deg": 0.0,
            "hold": "plate beside the nail",
        }
    else:
        bone["path"]["middle"] = bone["path"]["distal"] | {"fragment": "middle"}
    with pytest.raises(UnreadableCase, match=r"\$\.plan\.bones\[0\]\.second.*go together; one is missing"):
        case_from_json(json.dumps(planned), complete=False)


def test_a_plan_for_the_other_leg_is_refused(planned):
    planned["plan"]["side"] = "left" if planned["side"] == "right" else "right"
    with pytest.raises(UnreadableCase, match=r"\$\.plan\.side.*the plan is for the \w+ leg"):
        case_from_json(json.dumps(planned), complete=False)
