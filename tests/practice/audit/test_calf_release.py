"""Calf release against length gained."""

import numpy as np
import pytest

from limbwright.practice.audit.calf_release import calf_release
from limbwright.practice.audit.logistic import LogisticFit, Separated
from limbwright.practice.audit.sample import TooFew


def test_the_rule_behind_generated_tibiae_is_found_again(practice) -> None:
    columns = practice(2000)
    found = calf_release(columns, min_events=10, confidence=0.95)
    assert isinstance(found.fit, LogisticFit)
    assert found.fit.even_interval.holds(45)
    assert found.fit.slope_interval.holds(1 / 5)
    assert found.n == int(np.sum(columns.bone == "tibia"))
    assert found.released == len(found.cases_released) < found.n


def test_femora_and_unknown_lengths_do_not_count(blank) -> None:
    columns = blank(
        4,
        bone=["femur", "tibia", "tibia", "tibia"],
        gained_mm=[50, 50, np.nan, 40],
        calf_release=[np.nan, 1, 1, np.nan],
    )
    found = calf_release(columns, min_events=1, confidence=0.95)
    assert (found.n, found.released, found.cases) == (1, 1, ("case 1",))


@pytest.mark.parametrize(("released", "side"), [(9, "with"), (21, "without")])
def test_too_few_on_either_side_is_refused(blank, released, side) -> None:
    columns = blank(
        30, gained_mm=np.arange(30.0, 60), calf_release=[1.0] * released + [0.0] * (30 - released)
    )
    found = calf_release(columns, min_events=10, confidence=0.95)
    assert isinstance(found.fit, TooFew)
    assert found.fit.words == f"9 of 10 needed (tibiae {side} calf release)"


def test_separation_is_refused_by_name(blank) -> None:
    columns = blank(30, gained_mm=np.arange(30.0, 60), calf_release=[0.0] * 15 + [1.0] * 15)
    found = calf_release(columns, min_events=10, confidence=0.95)
    assert isinstance(found.fit, Separated)
    assert found.fit.words == (
        "separation: every case with the outcome lies above 44.5, every one without it below"
    )
