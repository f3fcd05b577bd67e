"""`limbwright visit`: a follow-up film read from the command line, and written into the case file."""

import json
from dataclasses import replace

import pytest
from click.testing import CliRunner

from limbwright.cli.demo_course_films import filmed_course
from limbwright.cli.demo_courses import TIGHT
from limbwright.cli.main import cli
from limbwright.implant.shipped import shipped_catalogue
from limbwright.interop.case_file import read_case, write_case
from limbwright.practice.profile import Profile


@pytest.fixture(scope="module")
def filmed():
    nail = next(n for n in shipped_catalogue().nails if n.name == "T-10.7/305")
    return filmed_course(replace(TIGHT, visits=TIGHT.visits[1:2]), Profile(), nail)


@pytest.fixture
def case(filmed, tmp_path):
    """A case file with its films and the first visit only."""
    for taken in filmed.films:
        (tmp_path / taken.film.file).write_bytes(taken.content)
    path = tmp_path / "case.json"
    course = filmed.case.course
    write_case(path, replace(filmed.case, course=replace(course, visits=course.visits[:1])))
    (tmp_path / "clicks.json").write_text(json.dumps(filmed.films[2].clicks.places()), encoding="utf-8")
    return path


def run(case, *more, film="day 28 frontal"):
    clicks = str(case.parent / "clicks.json")
    return CliRunner().invoke(
        cli, ["visit", str(case), "--on", "2026-04-13", "--film", film, "--clicks", clicks, *more]
    )


def test_the_film_is_read_and_written_into_the_visit(case):
    answer = run(case, "--json")
    assert answer.exit_code == 0, answer.output
    said = json.loads(answer.output)
    assert said["gained"]["mm"] == pytest.approx(16.4, abs=0.8)
    assert [a["measure"] for a in said["joint_angles"]] == ["MPTA", "LDTA"]
    assert len(read_case(case, complete=False).course.visits) == 1
    assert run(case, "--write").exit_code == 0
    visit = read_case(case, complete=False).course.visits[-1]
    assert visit.films == ("day 28 frontal",)
    assert visit.gained[0].measured_mm == said["gained"]["mm"]


def test_people_read_a_table_with_the_caution(case):
    answer = run(case)
    assert "overlap" in answer.output
    assert "not a medical device" in answer.output


def test_wrong_clicks_and_films_are_refused(case):
    assert "no film 'x'" in str(run(case, film="x").exception)
    (case.parent / "clicks.json").write_text("[1, 2]", encoding="utf-8")
    assert "no JSON object of points" in str(run(case).exception)
