"""Round trip over random cases, and what the written text looks like."""

import json
import subprocess
import sys

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from limbwright.case.case import Case
from limbwright.case.document import case_from_json, case_to_json
from limbwright.case.patient import Patient
from limbwright.error import OutOfRange
from limbwright.film.film import Film, Mark
from limbwright.growth.growth import Sex
from limbwright.limb.anatomy import Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.plan.decision import Plan
from limbwright.plan.goal import Goal


@settings(max_examples=50, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(data=st.data())
def test_what_is_written_is_read_back_equal(random_cases, data):
    case = data.draw(random_cases)
    text = case_to_json(case)
    again = case_from_json(text, complete=False)
    assert again == case
    assert case_to_json(again) == text


def small_case(**changes):
    marks = {
        Landmark.FEMORAL_HEAD_CENTRE: Mark(x_px=1000.0, y_px=500.0),
        Landmark.FEMUR_KNEE_CENTRE: Mark(x_px=1010.0, y_px=4000.0),
    }
    film = Film(name="standing", projection=Projection.FRONTAL, width_px=4000, height_px=9000, right=marks)
    values = {
        "id": "demo",
        "side": Side.RIGHT,
        "patient": Patient(id="A", sex=Sex.FEMALE, age_years=30.0),
        "films": (film,),
    }
    return Case(**values | changes)


def test_what_is_absent_is_left_out_and_defaults_are_written():
    written = json.loads(case_to_json(small_case()))
    assert list(written) == ["schema_version", "id", "invented", "side", "patient", "films", "examination"]
    assert "diagnosis" not in written
    assert written["invented"] is False
    assert written["patient"] == {"id": "A", "sex": "female", "age_years": 30.0}
    assert written["films"][0]["standing"] is True
    assert "left" not in written["films"][0]
    assert written["films"][0]["right"]["femoral_head_centre"] == {
        "x_px": 1000.0,
        "y_px": 500.0,
        "provenance": "clicked",
    }


def test_what_is_required_and_unknown_is_written_as_null():
    plan = Plan(side=Side.RIGHT, bones=(), staging=None, steps=(), findings=())
    case = small_case(plan=plan)
    assert json.loads(case_to_json(case))["plan"] == {
        "side": "right",
        "bones": [],
        "staging": None,
        "steps": [],
        "findings": [],
    }
    assert case_from_json(case_to_json(case)) == case


def test_the_text_is_indented_utf_8_and_ends_with_a_line():
    text = case_to_json(small_case(diagnosis="Verkürzung 3 cm, 膝"))
    assert '\n  "diagnosis": "Verkürzung 3 cm, 膝",\n' in text
    assert text.endswith("}\n")
    assert case_from_json(text.encode()) == case_from_json(text)


def test_text_and_bytes_with_a_byte_order_mark_are_read():
    text = case_to_json(small_case())
    assert case_from_json(b"\xef\xbb\xbf" + text.encode()) == small_case()
    assert case_from_json("\ufeff" + text) == small_case()


def test_null_means_absent_where_a_key_need_not_be_there():
    document = json.loads(case_to_json(small_case())) | {"goal": None}
    document["films"][0]["taken_on"] = None
    assert case_from_json(json.dumps(document)) == small_case()


def test_a_number_that_json_cannot_hold_is_refused_when_writing():
    goal = Goal(targets_deg={})
    object.__setattr__(goal, "leave_short_mm", float("nan"))
    case = small_case()
    object.__setattr__(case, "goal", goal)
    with pytest.raises(OutOfRange, match=r"case 'demo': the case holds a number that is infinite"):
        case_to_json(case)


def test_importing_the_room_does_not_import_the_validator():
    command = "import sys, limbwright.case.document; sys.exit('pydantic' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", command], check=False).returncode == 0
