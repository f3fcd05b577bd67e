"""The published schema and its page are what the code says, and the schema agrees with the reader."""

import json
from pathlib import Path

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from limbwright.case.case import Case
from limbwright.case.document import case_to_json
from limbwright.case.patient import Patient
from limbwright.case.schema import case_schema, case_schema_text, description_of, reference_text

DOCS = Path(__file__).parents[2] / "docs"
AGAIN = "run: python docs/schema/write.py"


def validator():
    return jsonschema.Draft202012Validator(
        case_schema(), format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER
    )


def test_the_committed_schema_is_the_one_the_code_makes():
    committed = (DOCS / "schema" / "case.schema.json").read_text(encoding="utf-8")
    assert committed == case_schema_text(), AGAIN


def test_the_reference_page_holds_the_tables_the_code_makes():
    page = (DOCS / "case-file.md").read_text(encoding="utf-8")
    assert page.endswith(reference_text()), AGAIN


def test_the_schema_is_a_schema_with_a_neutral_name():
    schema = case_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["$id"] == "urn:limbwright:case:2"


def test_every_object_refuses_unknown_keys_and_every_key_is_explained():
    schema = case_schema()
    for name, definition in {"Case": schema, **schema["$defs"]}.items():
        assert definition.get("description"), name
        if "properties" in definition:
            assert definition["additionalProperties"] is False, name
            for key, field in definition["properties"].items():
                assert field.get("description"), f"{name}.{key}"


@settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(data=st.data())
def test_what_the_code_writes_the_schema_accepts(random_cases, data):
    validator().validate(json.loads(case_to_json(data.draw(random_cases))))


@pytest.mark.parametrize(
    "change",
    [
        {"side": "middle"},
        {"schema_version": 1},
        {"unknown": 1},
        {"patient": {"id": "A", "sex": "female", "birth_date": "17.5.1990"}},
        {"films": [{"name": "a", "projection": "frontal", "width_px": 10.5, "height_px": 10}]},
        {"goal": {"targets_deg": {"mldfa": 88}}},
    ],
)
def test_the_schema_refuses_what_the_reader_refuses(change):
    document = {
        "schema_version": 2,
        "id": "a",
        "side": "left",
        "patient": {"id": "A", "sex": "female", "age_years": 3},
    }
    validator().validate(document)
    assert not validator().is_valid(document | change)


def test_a_field_is_described_by_its_docstring():
    assert description_of(Case, "side") == "Treated leg."
    assert description_of(Patient, "birth_date") == "Day of birth."
    assert description_of(Patient, "shoe_size") == ""
