"""Habits that a linter does not see."""

import ast
import csv
import subprocess
from pathlib import Path

import pytest

from limbwright.published import Status

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "src" / "limbwright"
PURE = ("case", "course", "plan", "mechanics", "film", "growth", "implant", "practice", "limb")
# A file over this many lines hides a room. Raising it needs a reason in the commit.
LONGEST_FILE_LINES = 420
# One line or two per setting, written from a table: it grows with the practice, not in difficulty.
WRITTEN_FROM_TABLES = {"src/limbwright/practice/profile.py"}


def tracked(*patterns: str) -> list[Path]:
    listed = subprocess.run(
        ["git", "ls-files", "-z", *patterns], cwd=ROOT, check=True, capture_output=True, text=True
    ).stdout
    return [ROOT / name for name in listed.split("\0") if name and (ROOT / name).is_file()]


def test_no_source_file_is_longer_than_the_budget() -> None:
    lengths = {p.relative_to(ROOT).as_posix(): len(p.read_text().splitlines()) for p in SOURCE.rglob("*.py")}
    assert {name: n for name, n in lengths.items() if n > LONGEST_FILE_LINES}.keys() <= WRITTEN_FROM_TABLES


def test_the_pure_rooms_open_no_file() -> None:
    for room in PURE:
        for path in (SOURCE / room).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text())):
                called = node.func if isinstance(node, ast.Call) else None
                assert not (isinstance(called, ast.Name) and called.id == "open"), f"{path} calls open"


def test_every_published_figure_has_a_source_and_a_status() -> None:
    tables = sorted(SOURCE.rglob("tables/*.csv"))
    assert tables
    for path in tables:
        with path.open(encoding="utf-8", newline="") as lines:
            for number, row in enumerate(csv.DictReader(lines), start=2):
                assert None not in row, f"{path.name} row {number} has more cells than the header"
                assert row["source"], f"{path.name} row {number} has no source"
                assert row["status"] in set(Status), f"{path.name} row {number}: {row['status']}"


def test_no_file_name_or_text_tells_of_a_place_or_of_working_papers() -> None:
    places = ("/work/" + "main", "/work/" + "shared", "/work/" + ".library", "/" + "tmp/")
    papers = ("seed " + "video", "trans" + "cript", "trade" + ".md", "imaging" + ".md")
    suffixes = {".py", ".md", ".toml", ".csv", ".typ", ".txt", ".json", ".yml", ""}
    for path in tracked():
        if path.suffix in suffixes and path.name != Path(__file__).name:
            text = path.read_text(encoding="utf-8", errors="ignore")
            found = [word for word in places + papers if word in text]
            assert found == [], f"{path.relative_to(ROOT)}: {found}"


@pytest.mark.parametrize("folder", ["src", "tests", "docs", "benchmarks"])
def test_nothing_is_left_open(folder: str) -> None:
    marks = ("TO" + "DO", "FIX" + "ME", "X" + "XX", "raise NotImplemented" + "Error")
    for path in (ROOT / folder).rglob("*"):
        if path.suffix in {".py", ".md"} and path != Path(__file__):
            text = path.read_text()
            assert [m for m in marks if m in text] == [], path
