"""The outcome command: text, JSON, a case before its operation."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from limbwright.cli.demo_courses import SMOOTH
from limbwright.cli.main import cli
from limbwright.error import Missing
from limbwright.interop.case_file import write_case
from limbwright.practice.profile import Profile

CASE = SMOOTH.case(Profile(), None)  # type: ignore[arg-type]  # the outcome does not need the nail


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "course.json"
    write_case(path, CASE)
    return path


def test_planned_beside_achieved_and_the_caution(file: Path) -> None:
    done = CliRunner().invoke(cli, ["outcome", str(file)])
    assert done.exit_code == 0, done.output
    for words in ("35 mm", "34.9 ± 1.8 mm", "0.6° valgus", "not known", "not a medical device"):
        assert words in done.output


def test_json_has_every_number_with_its_unit(file: Path) -> None:
    plain = json.loads(CliRunner().invoke(cli, ["outcome", str(file), "--json"]).output)
    assert plain["caution"].startswith("Decision support")
    (bone,) = plain["bones"]
    assert bone["achieved"] == {"mm": 34.9, "sd_mm": 0.9}
    assert bone["frontal"] == {"deg": 0.6, "direction": "valgus"}
    assert bone["healing_index_days_per_cm"] is None
    assert [m["end_deg"] for m in bone["motion"]] == [130.0, 0.0, 11]


def test_before_the_operation_there_is_no_outcome(tmp_path: Path) -> None:
    path = tmp_path / "before.json"
    write_case(path, replace(CASE, course=None))
    done = CliRunner().invoke(cli, ["outcome", str(path)])
    assert isinstance(done.exception, Missing)
