"""The course command: text, JSON, another rate tried out, refusals, exit codes."""

import json
from dataclasses import replace
from datetime import date

import pytest
from click.testing import CliRunner

from limbwright.cli import exit_code
from limbwright.cli.demo_courses import SMOOTH, TIGHT, VALGUS
from limbwright.cli.main import cli
from limbwright.error import Missing, OutOfRange
from limbwright.implant.shipped import shipped_catalogue
from limbwright.interop.case_file import write_case
from limbwright.practice.profile import Profile


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("courses")
    nail = next(n for n in shipped_catalogue().nails if n.name == "T-10.7/305")
    for demo in (VALGUS, TIGHT):
        write_case(folder / f"{demo.id}.json", demo.case(Profile(), nail))
    return folder


def run(*arguments):
    return CliRunner().invoke(cli, ["course", *map(str, arguments)])


def test_where_it_is_where_it_heads_and_the_caution(files):
    done = run(files / "course-b.json", "--on", "2026-04-27")
    assert done.exit_code == 0, done.output
    for words in (
        "tibia, day 42 (27 Apr 2026): 27.2 ± 1.2 mm of 40 mm",
        "2.6° valgus",
        "target reached",
        "drift-will-cross",
        "△ caution  The tibia drifts into valgus",
        "not a medical device",
    ):
        assert words in done.output


def test_a_stop_has_its_exit_code(files):
    assert run(files / "course-c.json", "--on", "2026-05-25").exit_code == exit_code.STOP


def test_json_says_directions_in_words(files):
    done = run(files / "course-b.json", "--on", "2026-04-27", "--rate", "0.5", "--json")
    plain = json.loads(done.output)
    assert plain["caution"].startswith("Decision support")
    (bone,) = plain["bones"]
    assert (bone["bone"], bone["day"], bone["advice"]["pace"]) == ("tibia", 42, "keep")
    frontal = bone["drift"][0]
    assert frontal["now"]["direction"] == "valgus"
    assert frontal["crosses_limit"]["likely_50_percent"]["day"] == 47
    assert bone["length"]["measured"] == {"mm": 27.3, "sd_mm": 0.9, "on": "2026-04-27"}
    assert bone["weight"] == {"step": "limited", "limit_kg": 22.7, "limit_lb": 50.0}
    assert [v["findings"] for v in bone["history"]][1] == ["drift-not-told-from-noise", "advice-keep"]
    assert bone["forecast"][0]["on"] == "2026-04-27"
    (tried,) = plain["what_if"]
    assert (tried["rate_mm_per_day"], tried["target_later_days"]) == (0.5, 9)
    assert tried["findings"][0]["id"] == "prescription-slow"
    # what is only tried out is no finding of the course
    assert "prescription-slow" not in [f["id"] for f in plain["findings"]]


def test_another_rate_is_shown_beside_the_prescribed_one(files):
    done = run(files / "course-b.json", "--on", "2026-04-27", "--rate", "0.5")
    assert "tibia at 0.5 mm a day from day 43 on, tried out" in done.output
    assert "the bone may bridge early" in done.output
    assert "the bone may bridge early" not in run(files / "course-b.json", "--on", "2026-04-27").output


def test_what_cannot_be_answered_is_refused(files):
    early = run(files / "course-b.json", "--on", "2026-01-01")
    assert isinstance(early.exception, Missing)
    assert "no bone was operated on by 2026-01-01" in str(early.exception)
    bad = run(files / "course-b.json", "--rate", "9")
    assert bad.exit_code == 2
    assert not isinstance(bad.exception, OutOfRange)


def test_after_consolidation_it_says_so(files, tmp_path):
    nail = next(n for n in shipped_catalogue().nails if n.name == "T-10.7/305")
    case = SMOOTH.case(Profile(), nail)
    done = replace(case.course.treatments[0], consolidated_on=date(2026, 8, 3))
    write_case(tmp_path / "done.json", replace(case, course=replace(case.course, treatments=(done,))))
    text = run(tmp_path / "done.json", "--on", "2026-09-01").output
    assert "consolidated on 03 Aug 2026" in text
    assert "the nail may be removed from 2027-03-16" in " ".join(text.split())
    plain = json.loads(run(tmp_path / "done.json", "--on", "2026-09-01", "--json").output)
    assert plain["bones"][0]["consolidated_on"] == "2026-08-03"
