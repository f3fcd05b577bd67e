"""Each refusal names path, value, what was expected and how to mend it."""

import copy
import json
from pathlib import Path

import pytest

from limbwright.case.document import case_from_json
from limbwright.case.problem import LISTED, UnreadableCase

DOCUMENT = {
    "schema_version": 1,
    "id": "demo",
    "side": "right",
    "patient": {"id": "A", "sex": "female", "birth_date": "1990-05-17"},
    "films": [
        {
            "name": "standing",
            "projection": "frontal",
            "taken_on": "2026-02-01",
            "width_px": 3000,
            "height_px": 8000,
            "right": {
                "femoral_head_centre": {"x_px": 900, "y_px": 500},
                "femur_knee_centre": {"x_px": 950, "y_px": 4000},
                "medial_plateau": {"x_px": 1100, "y_px": 4100},
                "lateral_plateau": {"x_px": 800, "y_px": 4100},
            },
        },
        {
            "name": "side",
            "projection": "sagittal",
            "anterior_at": "viewer left",
            "width_px": 2000,
            "height_px": 8000,
        },
    ],
    "goal": {"bones": [{"bone": "femur", "lengthening_mm": 40}], "targets_deg": {"mLDFA": 88}},
    "course": {
        "treatments": [
            {
                "operated_on": "2026-03-02",
                "prescription": {
                    "bone": "femur",
                    "latency_days": 5,
                    "phases": [{"kind": "steady", "step_mm": 0.25, "steps_per_day": 4}],
                    "target_mm": 40,
                    "film_interval_days": 14,
                },
            }
        ],
        "visits": [{"seen_on": "2026-03-16", "films": ["standing"]}],
    },
}
REMOVE = object()


def changed(path, value):
    """The document with the value at a dotted path replaced, added or removed."""
    document = copy.deepcopy(DOCUMENT)
    *steps, last = [int(step) if step.isdigit() else step for step in path.split(".")]
    place = document
    for step in steps:
        place = place.setdefault(step, {}) if isinstance(place, dict) else place[step]
    if value is REMOVE:
        del place[last]
    else:
        place[last] = value
    return document


def problems(document):
    with pytest.raises(UnreadableCase, match=r"\$") as caught:
        case_from_json(json.dumps(document))
    return caught.value.problems


def test_the_document_itself_is_sound():
    assert case_from_json(json.dumps(DOCUMENT)).id == "demo"


# What stands in each line: the dotted path that is changed, what is put there (or that it is removed), the
# path that is reported, the value that is quoted, and words of what was found and of the next step.
LINES = (Path(__file__).parent / "refusals.jsonl").read_text(encoding="utf-8").splitlines()


def dotted(path):
    return path.removeprefix("$.").replace("[", ".").replace("]", "")


@pytest.mark.parametrize("line", LINES)
def test_a_refusal_names_path_value_expectation_and_remedy(line):
    expected = json.loads(line)
    (problem,) = problems(changed(expected["at"], REMOVE if "remove" in expected else expected["put"]))
    assert dotted(problem.path) == expected["path"]
    assert problem.value == expected.get("quoted", problem.value)
    assert expected["found"] in problem.found
    assert expected["next_step"] in problem.next_step
    assert problem.found.endswith(".")


@pytest.mark.parametrize(
    ("path", "value", "found"),
    [
        ("diagnosis", "x" * 10_001, "10001 characters, expected at most 10000"),
        ("id", "x" * 65, "cannot serve as an identifier"),
        ("patient.id", "two\nlines", "cannot serve as an identifier"),
    ],
)
def test_texts_that_are_too_long_or_odd_are_refused(path, value, found):
    (problem,) = problems(changed(path, value))
    assert dotted(problem.path) == path
    assert found in problem.found
    assert len(problem.value) <= 60


def test_all_problems_of_a_file_are_reported_at_once():
    document = changed("side", "rigth")
    document["films"][0]["width_px"] = "wide"
    document["patient"]["skeletal_age_years"] = -1
    document["unknown"] = 1
    assert [problem.path for problem in problems(document)] == [
        "$.side",
        "$.patient.skeletal_age_years",
        "$.films[0].width_px",
        "$.unknown",
    ]


def test_several_landmarks_outside_the_image_are_counted():
    document = changed("films.0.width_px", 100)
    (problem,) = problems(document)
    assert "(and 3 more of this leg)" in problem.found


def test_of_a_file_full_of_mistakes_the_first_thousand_are_carried_and_all_are_counted():
    with pytest.raises(UnreadableCase, match=r"(?s)5003 problems.*and 4983 more") as caught:
        case_from_json(json.dumps({"schema_version": 1, "films": [0] * 5000}))
    assert (len(caught.value.problems), caught.value.total) == (1000, 5003)


def test_the_message_lists_what_a_reader_can_take_in_and_the_error_carries_all():
    document = copy.deepcopy(DOCUMENT)
    document["films"] = [{"name": str(i)} for i in range(50)]
    with pytest.raises(UnreadableCase, match=r"case file: 150 problems") as caught:
        case_from_json(json.dumps(document))
    assert len(caught.value.problems) == 150
    lines = str(caught.value).splitlines()
    assert len(lines) == 1 + LISTED + 1 + 1
    assert lines[-2] == "  and 130 more"
    assert lines[-1].startswith("Mend them in the file")
