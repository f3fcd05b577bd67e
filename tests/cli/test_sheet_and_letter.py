"""The commands that write what is handed out after the operation."""

from pathlib import Path

import pytest
from click.testing import CliRunner
from pypdf import PdfReader

from limbwright.cli.demo_courses import SMOOTH
from limbwright.cli.main import cli
from limbwright.implant.shipped import shipped_catalogue
from limbwright.interop.case_file import write_case
from limbwright.practice.profile import Profile


@pytest.fixture
def file(tmp_path: Path) -> Path:
    nail = next(n for n in shipped_catalogue().nails if n.name == "T-10.7/305")
    path = tmp_path / "course.json"
    write_case(path, SMOOTH.case(Profile(), nail))
    return path


def test_sheet_writes_page_and_diary(file: Path, tmp_path: Path) -> None:
    into = tmp_path / "out"
    done = CliRunner().invoke(
        cli, ["sheet", str(file), "--language", "de", "--on", "2026-03-20", "--into", str(into)]
    )
    assert done.exit_code == 0, done.output
    assert "not a medical device" in done.output
    assert "sofort" in PdfReader(into / "patient-sheet.pdf").pages[0].extract_text()
    assert "Tagebuch" in PdfReader(into / "diary.pdf").pages[0].extract_text()


def test_after_the_last_day_there_is_a_page_and_no_diary(file: Path, tmp_path: Path) -> None:
    done = CliRunner().invoke(cli, ["sheet", str(file), "--on", "2026-08-10", "--into", str(tmp_path / "o")])
    assert done.exit_code == 0, done.output
    assert "No diary: no day of a schedule lies between" in done.output
    assert "Do not turn the device" in PdfReader(tmp_path / "o" / "patient-sheet.pdf").pages[0].extract_text()


def test_letter_writes_the_letter(file: Path, tmp_path: Path) -> None:
    into = tmp_path / "out"
    done = CliRunner().invoke(cli, ["letter", str(file), "--into", str(into)])
    assert done.exit_code == 0, done.output
    assert "Dear colleague" in PdfReader(into / "closing-letter.pdf").pages[0].extract_text()


def test_an_unknown_language_is_named(file: Path) -> None:
    done = CliRunner().invoke(cli, ["sheet", str(file), "--language", "xx"])
    assert done.exit_code == 2
    assert "'en', 'de'" in done.output
