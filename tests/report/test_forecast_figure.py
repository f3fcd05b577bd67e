"""Figures of a forecast, on the adult demo case."""

import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from limbwright.case.forecast import case_ahead
from limbwright.plan.forecast.forecast import Sampling
from limbwright.practice.profile import Profile
from limbwright.report.forecast_figure import angulation_figure, contact_figure

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def made(shown):  # type: ignore[no-untyped-def]
    ahead = case_ahead(shown.case, shown.planned, Profile(), sampling=Sampling(count=64))
    return ahead.bones[0].forecast


def texts(document: bytes) -> list[str]:
    return [e.text or "" for e in ET.fromstring(document).iter(f"{SVG}text")]


def test_the_curve_names_planes_directions_limit_and_line_styles(made) -> None:
    told = " | ".join(texts(angulation_figure(made, limit_deg=3)))
    for words in ("varus up, valgus down", "procurvatum up", "limit 3°", "dashed: without", "mm gained"):
        assert words in told


def test_without_planned_screws_there_is_one_line_and_no_dashes(made) -> None:
    both = angulation_figure(made, limit_deg=3).decode()
    alone = angulation_figure(replace(made, bare=None), limit_deg=3).decode()
    assert both.count('stroke-dasharray="5 3"') == 2
    assert 'stroke-dasharray="5 3"' not in alone
    assert "without blocking screws" not in alone


def test_everything_drawn_lies_inside_the_figure(made) -> None:
    root = ET.fromstring(angulation_figure(made, limit_deg=3, width=400, height=200))
    for element in root.iter(f"{SVG}polyline"):
        for pair in element.attrib["points"].split():
            x, y = map(float, pair.split(","))
            assert -0.1 <= x <= 200.1
            assert 0 <= y <= 200


def test_the_contact_picture_has_three_moments_in_two_planes_and_forces(made) -> None:
    told = texts(contact_figure(made))
    assert sum(t.startswith("frontal, ") for t in told) == 3
    assert sum(t.startswith("sagittal, ") for t in told) == 3
    assert sum(t.endswith(" N") for t in told) >= 24  # each with its halo
    assert any("times too large" in t for t in told)


def test_the_contact_picture_shows_the_answer_of_the_course(made) -> None:
    told = " | ".join(texts(contact_figure(made)))
    end = made.planned.end
    assert f"frontal, {end.lengthening_mm:.0f} mm | {-end.frontal.angulation_deg:.1f} deg valgus" in told
    assert "both planes solved together" in told


def test_without_an_answer_the_picture_says_so(made) -> None:
    nothing = tuple(replace(s, coupled=None) for s in made.solved)
    assert "no moment of the course has an answer" in " ".join(
        texts(contact_figure(replace(made, solved=nothing)))
    )
