import json

import pytest

from limbwright.case.case import SCHEMA_VERSION
from limbwright.case.document import case_from_json
from limbwright.case.migration import MIGRATIONS, up_to_date
from limbwright.error import Missing, Unreadable


def test_every_older_version_has_a_way_up():
    assert set(MIGRATIONS) == set(range(1, SCHEMA_VERSION))


def test_steps_are_taken_in_order_and_the_document_given_is_not_changed():
    steps = {
        1: lambda document: {**document, "notes": [document["note"]]},
        2: lambda document: {key: value for key, value in document.items() if key != "note"},
    }
    given = {"schema_version": 1, "note": "x"}
    assert up_to_date(given, where="f", migrations=steps, current=3) == {"schema_version": 3, "notes": ["x"]}
    assert given == {"schema_version": 1, "note": "x"}


def test_a_current_document_is_passed_on_as_it_is():
    document = {"schema_version": SCHEMA_VERSION}
    assert up_to_date(document, where="f") is document


def test_a_newer_version_is_refused_by_name():
    with pytest.raises(Unreadable, match=r"version 99; this program reads versions up to 2.*Update"):
        case_from_json(json.dumps({"schema_version": 99, "something": "new"}))


@pytest.mark.parametrize("version", [0, -1, "1", 1.0, True, None])
def test_what_is_no_version_is_refused(version):
    with pytest.raises(Unreadable, match=r"schema_version: version .*, expected a whole number from 1"):
        up_to_date({"schema_version": version}, where="f")


def test_a_document_without_version_is_refused_with_the_line_to_add():
    with pytest.raises(Missing, match=r'does not say its version.*Add "schema_version": 2'):
        case_from_json("{}")


def test_a_file_of_the_first_version_is_read_as_it_was():
    document = {
        "schema_version": 1,
        "id": "a",
        "side": "left",
        "patient": {"id": "A", "sex": "female", "age_years": 30},
        "goal": {"bones": [{"bone": "tibia", "osteotomy_below_joint_mm": 120.0}]},
    }
    case = case_from_json(json.dumps(document), complete=False)
    assert case.schema_version == SCHEMA_VERSION
    assert case.goal.bones[0].osteotomy_below_joint_mm == 120.0
    assert case.goal.bones[0].second_osteotomy_below_joint_mm is None
