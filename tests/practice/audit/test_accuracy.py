"""Accuracy of length and alignment."""

import numpy as np
import pytest

from limbwright.practice.audit.accuracy import Agreement, Outcome, accuracy, agreement, differences
from limbwright.practice.audit.sample import TooFew
from limbwright.practice.profile import Profile
from limbwright.quantity import Sense


def test_length_is_gained_less_planned(blank) -> None:
    columns = blank(3, planned_mm=[50, 40, 30], gained_mm=[48, 42, np.nan])
    found = differences(columns, Outcome.LENGTH)
    assert found[:2].tolist() == [-2, 2]
    assert np.isnan(found[2])


def test_bias_precision_and_limits_of_a_sample_with_known_moments() -> None:
    # Twenty differences of -1 and +3 in equal parts: mean 1, sum of squares about it 20 * 4
    sample = np.array([-1.0, 3.0] * 10)
    found = agreement(sample, tolerance=1, confidence=0.95)
    sd = (80 / 19) ** 0.5
    assert found.bias == 1
    assert found.precision_sd == pytest.approx(sd)
    assert found.upper_limit - 1 == pytest.approx(1.959964 * sd)
    assert found.lower_limit + found.upper_limit == pytest.approx(2)
    half = found.bias_interval.high - 1
    assert half == pytest.approx(2.093024 * sd / 20**0.5, rel=1e-5)
    limit_half = found.upper_limit_interval.high - found.upper_limit
    assert limit_half == pytest.approx(2.093024 * sd * (1 / 20 + 1.959964**2 / 38) ** 0.5, rel=1e-5)
    assert (found.within_tolerance.count, found.within_tolerance.n) == (10, 20)


def test_turning_the_sign_turns_the_answer() -> None:
    sample = np.linspace(-2, 5, 25)
    one, other = (agreement(s, tolerance=2, confidence=0.95) for s in (sample, -sample))
    assert other.bias == pytest.approx(-one.bias)
    assert other.lower_limit_interval.low == pytest.approx(-one.upper_limit_interval.high)
    assert other.within_tolerance == one.within_tolerance


def test_limits_hold_about_their_share_of_normal_differences() -> None:
    sample = np.random.Generator(np.random.PCG64(5)).normal(1, 2, 4000)
    found = agreement(sample, tolerance=1, confidence=0.95)
    inside = np.mean((sample > found.lower_limit) & (sample < found.upper_limit))
    assert inside == pytest.approx(0.95, abs=0.01)


def test_each_outcome_for_all_bones_and_each_bone(blank) -> None:
    columns = blank(
        30,
        bone=["femur"] * 21 + ["tibia"] * 9,
        planned_mm=50,
        gained_mm=np.linspace(45, 55, 30),
        frontal_error_deg=[*[0.5] * 10, *[np.nan] * 20],
    )
    found = accuracy(columns, profile=Profile(), min_n=20, confidence=0.95)
    assert len(found) == 4 * 3
    answers = {(f.outcome, f.group.words): f for f in found}
    assert isinstance(answers[Outcome.LENGTH, "all bones"].agreement, Agreement)
    assert isinstance(answers[Outcome.LENGTH, "femur"].agreement, Agreement)
    tibia = answers[Outcome.LENGTH, "tibia"]
    assert isinstance(tibia.agreement, TooFew)
    assert tibia.agreement.words == "9 of 20 needed (length, tibia)"
    assert len(tibia.cases) == tibia.n == 9
    assert answers[Outcome.FRONTAL, "femur"].n == 10
    assert answers[Outcome.AXIS, "all bones"].n == 0
    assert answers[Outcome.LENGTH, "all bones"].tolerance == Profile().length_tolerance_mm


def test_each_outcome_has_its_unit_and_its_words() -> None:
    assert [(o.unit, o.senses[0]) for o in Outcome] == [
        ("mm", Sense.LONGER),
        ("deg", Sense.VARUS),
        ("deg", Sense.PROCURVATUM),
        ("mm", Sense.MEDIAL),
    ]
