"""Plan, schedule, report, validate and demo, as a user would run them."""

import json
import subprocess
import sys
from datetime import date
from pathlib import Path
from typing import Any

import icalendar
import pytest
from click.testing import CliRunner, Result
from pypdf import PdfReader

from limbwright.cli import exit_code
from limbwright.cli.main import COMMANDS, cli

CAUTION = "not a medical device"


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(cli, [str(a) for a in arguments])


def as_json(*arguments: str | Path) -> dict[str, Any]:
    shown = run(*arguments, "--json")
    assert shown.exit_code == 0, shown.output
    found: dict[str, Any] = json.loads(shown.output)
    return found


def edited(case: Path, into: Path, **changes: Any) -> Path:
    """A copy of a case file with top-level changes; films stay where they are."""
    document = json.loads(case.read_text())
    for film in document["films"]:
        film.pop("file"), film.pop("sha256")
    document |= changes
    path = into / "case.json"
    path.write_text(json.dumps(document))
    return path


@pytest.mark.parametrize("name", ["demo-a", "demo-b", "demo-c"])
def test_a_demo_case_is_planned_to_equal_legs_in_normal_alignment(
    demo_cases: dict[str, Path], name: str
) -> None:
    planned = as_json("plan", demo_cases[name])
    assert CAUTION in planned["caution"]
    end = planned["outlook"]["stages"][-1]
    assert end["name"] == "at full length"
    assert end["length_against_other_leg"]["mm"] < 1.0
    readings = {r["measure"]: r for r in end["readings"]}
    for measure in ("MAD", "mLDFA", "MPTA", "LDTA"):
        outside = readings[measure]["out_of_range"]
        assert outside["deg" if measure != "MAD" else "mm"] == 0, (measure, readings[measure])


def test_the_plan_names_bone_nail_cut_and_steps(demo_cases: dict[str, Path]) -> None:
    planned = as_json("plan", demo_cases["demo-a"])
    (bone,) = planned["bones"]
    assert bone["bone"] == "tibia"
    least = bone["osteotomy"]["depth_mm"] + bone["lengthening_mm"] + 50 + 30
    assert bone["nail"]["length_mm"] >= least
    assert bone["fibula"]["proximal_screw_below_plateau_mm"] > 0
    assert any("osteotomy" in step for step in planned["steps"])
    assert [p["bone"] for p in planned["prescriptions"]] == ["tibia"]


def test_the_plan_as_text_says_the_same(demo_cases: dict[str, Path]) -> None:
    shown = run("plan", demo_cases["demo-a"])
    assert shown.exit_code == 0, shown.output
    for words in ("Left leg: tibia lengthen", "Which bone", "What comes of it", "Steps", CAUTION):
        assert words in shown.output


def test_femur_and_tibia_are_planned_together(demo_cases: dict[str, Path]) -> None:
    planned = as_json("plan", demo_cases["demo-b"])
    assert {b["bone"] for b in planned["bones"]} == {"femur", "tibia"}
    assert len(planned["prescriptions"]) == 2


def test_what_the_surgeon_fixes_is_kept(demo_cases: dict[str, Path], tmp_path: Path) -> None:
    goal = {
        "bones": [{"bone": "tibia", "lengthening_mm": 25.0, "nail": "T-10.7/305"}],
        "leave_short_mm": 10.0,
    }
    (bone,) = as_json("plan", edited(demo_cases["demo-a"], tmp_path, goal=goal))["bones"]
    assert (bone["lengthening_mm"], bone["nail"]["name"]) == (25.0, "T-10.7/305")


def test_an_open_physis_stops_the_plan_with_its_own_exit_code(
    demo_cases: dict[str, Path], tmp_path: Path
) -> None:
    patient = {"id": "P", "sex": "female", "age_years": 11.0, "skeletal_age_years": 11.0}
    examination = {"open_physes": ["proximal tibia", "distal femur"], "discrepancy_kind": "congenital"}
    goal = {"bones": [{"bone": "tibia"}]}
    case = edited(demo_cases["demo-a"], tmp_path, patient=patient, examination=examination, goal=goal)
    shown = run("plan", case, "--json")
    assert shown.exit_code == exit_code.STOP, shown.output
    findings = json.loads(shown.output)["findings"]
    assert "physis-open" in {f["id"] for f in findings if f["severity"] == "stop"}


def test_a_schedule_is_printed_and_written_as_a_calendar(demo_cases: dict[str, Path], tmp_path: Path) -> None:
    calendar = tmp_path / "steps.ics"
    shown = run("schedule", demo_cases["demo-a"], "--operation-date", "2026-03-16", "--calendar", calendar)
    assert shown.exit_code == 0, shown.output
    assert "last lengthening on day" in shown.output
    assert CAUTION in shown.output.replace("\n", " ")
    events = list(icalendar.Calendar.from_ical(calendar.read_bytes()).walk("VEVENT"))
    assert min(e.decoded("dtstart") for e in events) >= date(2026, 3, 16)
    days = as_json("schedule", demo_cases["demo-a"], "--operation-date", "2026-03-16")["bones"][0]["days"]
    planned = as_json("plan", demo_cases["demo-a"])["bones"][0]["lengthening_mm"]
    assert days[-1]["gained_mm"] == pytest.approx(planned)


def test_the_report_is_a_pdf_that_says_what_the_plan_says(
    demo_cases: dict[str, Path], tmp_path: Path
) -> None:
    shown = run("report", demo_cases["demo-a"], "--into", tmp_path, "--operation-date", "2026-03-16")
    assert shown.exit_code == 0, shown.output
    pdf = tmp_path / "operation-plan.pdf"
    assert pdf.read_bytes().startswith(b"%PDF")
    pages = [page.extract_text() for page in PdfReader(pdf).pages]
    assert all(CAUTION in page.replace("\n", " ") for page in pages)
    planned = json.loads((tmp_path / "operation-plan.json").read_text())
    (bone,) = planned["bones"]
    first = pages[0].replace("\n", " ")
    assert f"lengthen {bone['lengthening_mm']:.0f} mm" in first
    assert bone["nail"]["name"].upper() in first.upper()
    assert "invented demo patient" in first
    assert any("Forecast of drift".upper() in page.upper() for page in pages)
    assert planned["forecast"]["bones"]


def test_equal_input_gives_an_equal_report(demo_cases: dict[str, Path], tmp_path: Path) -> None:
    for name in ("one", "two"):
        run("report", demo_cases["demo-c"], "--into", tmp_path / name, "--operation-date", "2026-03-16")
    for file in ("operation-plan.pdf", "operation-plan.json", "schedule.ics"):
        assert (tmp_path / "one" / file).read_bytes() == (tmp_path / "two" / file).read_bytes()


def test_validate_lists_every_problem_with_its_place(demo_cases: dict[str, Path], tmp_path: Path) -> None:
    assert run("validate", demo_cases["demo-a"]).exit_code == 0
    broken = edited(demo_cases["demo-a"], tmp_path, side="middle", diagnosis_text="x")
    shown = run("validate", broken, "--json")
    assert shown.exit_code == exit_code.REFUSED
    paths = {p["path"] for p in json.loads(shown.output)["problems"]}
    assert {"$.side", "$.diagnosis_text"} <= paths
    assert run("validate", broken).exit_code == exit_code.REFUSED


def test_a_refused_input_is_told_in_three_lines_and_exit_code_3(tmp_path: Path) -> None:
    command = Path(sys.executable).with_name("limbwright")
    ended = subprocess.run(
        [command, "plan", tmp_path / "absent.json"], capture_output=True, text=True, check=False
    )
    assert ended.returncode == exit_code.REFUSED
    assert ended.stdout == ""
    for word in ("Refused", "Found:", "Next:"):
        assert word in ended.stderr


def test_help_lists_every_command_and_the_caution() -> None:
    shown = run("--help")
    assert shown.exit_code == 0
    assert all(name in shown.output for name in COMMANDS)
    assert CAUTION in shown.output.replace("\n  ", " ")


def test_an_unknown_command_is_a_usage_error() -> None:
    assert run("operate").exit_code == 2
