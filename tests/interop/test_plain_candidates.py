"""Candidates as plain JSON: what turns a case into one of them is laid over its plan as the page does it."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pydantic import TypeAdapter

from limbwright.case.candidates import candidate_planned, case_candidates, case_uncertainty
from limbwright.case.forecast import case_ahead
from limbwright.case.planned import planned_case
from limbwright.cli import load
from limbwright.cli.demo import written_case
from limbwright.cli.demo_patients import DEMO_PATIENTS
from limbwright.implant.shipped import shipped_catalogue
from limbwright.interop.plain_candidates import candidates_plain, uncertainty_plain
from limbwright.plan.forecast.forecast import Sampling
from limbwright.plan.goal import Goal
from limbwright.plan.path import distal_direction, vector
from limbwright.plan.uncertainty.uncertainty import Draws
from limbwright.practice.profile import Profile
from limbwright.web.work.altering import altered
from limbwright.web.work.change import Alteration

CATALOGUE, PROFILE = shipped_catalogue(), Profile()


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory):  # type: ignore[no-untyped-def]
    path: Path = written_case(DEMO_PATIENTS[0], tmp_path_factory.mktemp("candidates"), pixel_mm=0.9)
    case = load.case_at(path)
    planned = planned_case(case, PROFILE, CATALOGUE)
    found = case_candidates(case, planned, PROFILE, CATALOGUE, draws_of=Draws(count=128))
    assert found is not None
    return case, planned, found, candidates_plain(found, case, planned, PROFILE, CATALOGUE)


def test_every_list_says_that_the_model_is_not_validated_and_is_json(told) -> None:
    _case, _planned, found, plain = told
    assert "not been validated on patients" in plain["validation"]
    assert json.loads(json.dumps(plain)) == plain
    assert [c["title"] for c in plain["candidates"]][:2] == ["As planned", "Candidate 1"]
    assert [c["as_planned"] for c in plain["candidates"]] == [True] + [False] * len(found.candidates)
    for one in plain["candidates"]:
        assert 0 <= one["probability_inside_tolerance"] <= 1
        assert one["bones"][0]["drift_frontal"]["direction"] in ("varus", "valgus")


def test_the_changes_of_a_candidate_make_the_page_plan_it(told) -> None:
    """Goal into the case, planned anew, alterations laid over: what `candidate_planned` makes."""
    case, planned, found, plain = told
    for candidate, one in zip(found.candidates[:3], plain["candidates"][1:4], strict=True):
        goal = TypeAdapter(Goal).validate_python(one["changes"]["goal"])
        base = planned_case(replace(case, goal=goal), PROFILE, CATALOGUE)
        changes = tuple(TypeAdapter(list[Alteration]).validate_python(one["changes"]["alterations"]))
        done = altered(case, base, changes, PROFILE)
        assert done.refused == ()
        wanted = candidate_planned(case, planned, candidate, PROFILE)
        assert wanted.plan is not None
        assert done.planned.plan is not None
        mine, theirs = done.planned.plan.bones[0], wanted.plan.bones[0]
        assert mine.nail == theirs.nail
        assert mine.osteotomy.depth_mm == pytest.approx(theirs.osteotomy.depth_mm, abs=0.3)
        for one_line, other in (
            (mine.path.proximal, theirs.path.proximal),
            (mine.path.distal, theirs.path.distal),
        ):
            along = distal_direction(other)
            assert distal_direction(one_line) == pytest.approx(along, abs=2e-4)
            assert np.cross(vector(one_line.upper) - vector(other.upper), along) == pytest.approx(
                np.zeros(3), abs=0.02
            )
        assert [(s.fragment, s.side) for s in mine.blocking_screws] == [
            (s.fragment, s.side) for s in theirs.blocking_screws
        ]
        for screw, other_screw in zip(mine.blocking_screws, theirs.blocking_screws, strict=True):
            assert screw.from_osteotomy_mm == pytest.approx(other_screw.from_osteotomy_mm, abs=0.01)
            assert screw.offset_mm == pytest.approx(other_screw.offset_mm, abs=0.01)


def test_the_plan_in_force_needs_no_alteration(told) -> None:
    *_rest, plain = told
    assert plain["candidates"][0]["changes"]["alterations"] == []


def test_without_a_search_there_is_an_empty_list(told) -> None:
    case, planned, *_rest = told
    assert candidates_plain(None, case, planned, PROFILE, CATALOGUE)["candidates"] == []


def test_how_sure_is_told_in_words_and_magnitudes(told) -> None:
    case, planned, *_rest = told
    ahead = case_ahead(case, planned, PROFILE, sampling=Sampling(count=0))
    sure = case_uncertainty(case, planned, ahead, PROFILE, draws_of=Draws(count=256))
    assert sure is not None
    plain = uncertainty_plain(sure)
    assert json.loads(json.dumps(plain)) == plain
    assert "not been validated" in plain["validation"]
    mad = plain["results"]["MAD"]
    assert mad["median"]["direction"] == "medial"
    assert {"name", "target", "tolerance_mm", "probability"} == set(plain["criteria"][0])
    again = plain["worth_measuring_again"]
    assert again
    assert all(m["source"] in ("landmark", "scale", "traced wall") for m in again)
    assert min(m["total"] for m in again) >= 0.1
