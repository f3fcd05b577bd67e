"""The audit command on a folder of cases."""

import csv
import json
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from limbwright.case.case import Case
from limbwright.case.caution import CAUTION
from limbwright.case.document import case_to_json
from limbwright.case.patient import Patient
from limbwright.cli.main import cli
from limbwright.course.alignment import Alignment
from limbwright.course.course import Course, Treatment
from limbwright.course.prescription import Phase, PhaseKind, Prescription
from limbwright.course.visit import GainedLength, Visit
from limbwright.growth.growth import Sex
from limbwright.limb.anatomy import Bone, Side
from limbwright.quantity import Directed, Sense

OPERATED = date(2025, 2, 3)


def tibia(number: int, *, invented: bool = False) -> Case:
    """Forty millimetres asked for, one short, 2.5 degrees of valgus, healed after 160 days or more."""
    phase = Phase(kind=PhaseKind.STEADY, step_mm=0.25, steps_per_day=4)
    prescription = Prescription(
        bone=Bone.TIBIA, latency_days=7, phases=(phase,), target_mm=40.0, film_interval_days=14
    )
    healed = OPERATED + timedelta(days=160 + number)
    visit = Visit(
        seen_on=OPERATED + timedelta(days=50),
        gained=(GainedLength(bone=Bone.TIBIA, measured_mm=39.0),),
        alignment=(
            Alignment(bone=Bone.TIBIA, frontal=Directed(magnitude=2.5, direction=Sense.VALGUS, unit="deg")),
        ),
    )
    return Case(
        id=f"made-{number:02d}",
        invented=invented,
        side=Side.LEFT,
        patient=Patient(id=f"P{number}", sex=Sex.MALE, birth_date=date(1990, 1, 1)),
        course=Course(
            treatments=(Treatment(operated_on=OPERATED, prescription=prescription, consolidated_on=healed),),
            visits=(visit,),
            ended_on=healed,
        ),
    )


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "deeper").mkdir()
    for number in range(24):
        place = tmp_path / "deeper" if number % 2 else tmp_path
        (place / f"{number}.json").write_text(case_to_json(tibia(number)))
    (tmp_path / "demo.json").write_text(case_to_json(tibia(90, invented=True)))
    return tmp_path


def run(*words: object) -> Result:
    return CliRunner().invoke(cli, ["audit", *map(str, words)])


def as_json(*words: object) -> dict[str, Any]:
    shown = run(*words, "--json")
    assert shown.exit_code == 0, shown.output
    found: dict[str, Any] = json.loads(shown.output)
    return found


def test_json_has_numbers_cases_methods_and_directions_in_words(folder: Path) -> None:
    found = as_json(folder)
    assert found["caution"] == CAUTION
    assert (found["treated_bones"], found["case_files"], found["invented_left_out"]) == (24, 25, 1)
    index = found["healing_index"][0]
    assert index["group"] == {"words": "tibia", "bone": "tibia"}
    assert index["days_per_cm"]["median"] == pytest.approx(171.5 / 3.9)
    assert len(index["cases"]) == index["n"] == 24
    length = found["accuracy"][0]
    assert length["agreement"]["bias"] == {"mm": 1.0, "direction": "shorter"}
    assert length["agreement"]["within_tolerance"]["count"] == 24
    curve = found["healing_curves"][0]["curve"]
    assert (curve["days"][0], curve["median_days"]) == (160, 171)
    drift = found["drift_and_blocking_screws"][2]
    assert (drift["group"]["bone"], drift["plane"]) == ("tibia", "frontal")
    assert drift["drift"] == {
        "refused": "0 of 10 needed (tibia with blocking screws, frontal drift)",
        "n": 0,
        "needed": 10,
    }
    (year,) = found["periods"][0]["periods"]
    assert (year["period"], year["n"], year["point"]["count"]) == ("2025", 24, 0)
    assert found["offers"] == []


def test_invented_cases_count_only_when_asked(folder: Path) -> None:
    assert as_json(folder, "--invented")["treated_bones"] == 25


def test_what_cannot_be_read_is_told_and_the_rest_is_audited(folder: Path) -> None:
    (folder / "broken.json").write_text("{")
    found = as_json(folder)
    assert found["treated_bones"] == 24
    (unread,) = found["not_read"]
    assert unread["file"].endswith("broken.json")
    shown = run(folder)
    assert shown.exit_code == 0
    assert "Not read, 1 files" in shown.output


def test_tables_show_words_where_numbers_would_be_and_the_caution(folder: Path) -> None:
    shown = run(folder, "--period", "quarter")
    assert shown.exit_code == 0, shown.output
    for words in (
        "24 treated bones; 1 invented cases left out",
        "Healing index in days/cm, 95 % intervals",
        "1.0 mm shorter",
        "0 of 10 needed",
        "2025-Q1",
        "not a medical device",
    ):
        assert words in shown.output, words


def test_every_result_leaves_as_csv_with_the_caution_first(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out" / "csv"
    assert run(folder, "--csv", out).exit_code == 0
    written = {path.stem: path.read_text() for path in out.iterdir()}
    assert len(written) == 10
    for text in written.values():
        assert text.startswith(f"# {CAUTION}\n")
    rows = list(csv.DictReader(written["treated_bones"].splitlines()[1:]))
    assert len(rows) == 24
    assert rows[0]["frontal_drift_deg_varus_positive"] == "-2.5"
    assert "P1" not in {cell for row in rows for cell in row.values()}
    assert not any("1990" in text for text in written.values())


def test_the_profile_sets_the_least_numbers(folder: Path, tmp_path: Path) -> None:
    profile = tmp_path / "mine.toml"
    profile.write_text("audit_min_bones_median = 30\n")
    found = as_json(folder, "--profile", profile)
    assert found["healing_index"][0]["days_per_cm"]["refused"] == "24 of 30 needed (tibia, healed)"


@pytest.mark.parametrize("kind", ["nothing", "file", "empty"])
def test_a_folder_without_cases_is_refused(tmp_path: Path, kind: str) -> None:
    place = tmp_path / "place"
    if kind == "file":
        place.write_text("x")
    if kind == "empty":
        place.mkdir()
    words = r"no case file \(\*\.json\)" if kind == "empty" else "this is no folder"
    error = run(place).exception
    assert error is not None
    with pytest.raises(ValueError, match=words):
        raise error


def test_the_same_case_twice_is_refused(folder: Path) -> None:
    (folder / "copy.json").write_text(case_to_json(tibia(3)))
    error = run(folder).exception
    assert error is not None
    with pytest.raises(ValueError, match="the case 'made-03' is there twice"):
        raise error


def test_a_place_that_cannot_be_written_to_is_told(folder: Path) -> None:
    error = run(folder, "--csv", folder / "0.json" / "out").exception
    assert error is not None
    with pytest.raises(ValueError, match="the results cannot be written"):
        raise error
