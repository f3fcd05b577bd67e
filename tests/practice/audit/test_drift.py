"""Drift with and without blocking screws."""

import numpy as np
import pytest
from scipy import stats

from limbwright.practice.audit.drift import (
    DriftDifference,
    drift_comparisons,
    drift_difference,
    mean_difference,
)
from limbwright.practice.audit.sample import TooFew


def test_welch_by_its_formula() -> None:
    a, b = np.array([1.0, 2, 3, 4, 6]), np.array([2.0, 9, 4, 7, 8, 6, 1])
    found = mean_difference(a, b, confidence=0.95)
    va, vb = a.var(ddof=1) / 5, b.var(ddof=1) / 7
    df = (va + vb) ** 2 / (va**2 / 4 + vb**2 / 6)
    half = stats.t.ppf(0.975, df) * (va + vb) ** 0.5
    assert found.difference == pytest.approx(a.mean() - b.mean())
    assert found.interval.low == pytest.approx(found.difference - half)
    assert found.interval.high == pytest.approx(found.difference + half)


def test_exchanging_the_sides_turns_the_difference() -> None:
    a, b = np.linspace(-4, 1, 12), np.linspace(-6, 5, 15)
    one = drift_difference(a, b, limit_deg=3, confidence=0.95)
    other = drift_difference(b, a, limit_deg=3, confidence=0.95)
    assert other.signed_deg.difference == pytest.approx(-one.signed_deg.difference)
    assert other.beyond_limit_interval.low == pytest.approx(-one.beyond_limit_interval.high)
    assert one.beyond_limit_with.count == int(np.sum(np.abs(a) > 3))


def test_a_drift_equal_to_the_limit_is_not_beyond_it() -> None:
    found = drift_difference(
        np.array([3.0, -3.0, 3.1]), np.array([0.0, 0.1, 0.2]), limit_deg=3, confidence=0.95
    )
    assert found.beyond_limit_with.count == 1


def test_without_any_spread_the_interval_is_open() -> None:
    found = mean_difference(np.ones(5), np.zeros(5), confidence=0.95)
    assert found.difference == 1
    assert (found.interval.low, found.interval.high) == (None, None)


def test_compared_by_bone_and_plane_and_refused_when_one_side_is_short(blank) -> None:
    rng = np.random.Generator(np.random.PCG64(2))
    columns = blank(
        40,
        bone=["tibia"] * 30 + ["femur"] * 10,
        blocking_screws=[*[2] * 15, *[0] * 14, np.nan, *[1] * 4, *[0] * 6],
        frontal_drift_deg=np.concatenate(
            (rng.normal(-1, 1, 15), rng.normal(-4, 1, 15), rng.normal(0, 1, 10))
        ),
        sagittal_drift_deg=[1.0] * 5 + [np.nan] * 35,
    )
    found = {
        (f.group.bone, f.plane): f for f in drift_comparisons(columns, limit_deg=3, min_n=10, confidence=0.95)
    }
    tibia = found["tibia", "frontal"]
    assert (tibia.n_with, tibia.n_without, tibia.n) == (15, 14, 29)
    assert isinstance(tibia.drift, DriftDifference)
    # Valgus is negative: with screws the drift is less negative.
    assert 2 < tibia.drift.signed_deg.difference < 4
    assert tibia.drift.size_deg.difference < -2
    assert tibia.drift.beyond_limit_interval.high < 0
    assert "does not tell what the screws did" in tibia.method
    assert set(tibia.cases) == set(tibia.cases_with) | set(tibia.cases_without)
    assert "case 29" not in tibia.cases
    femur = found["femur", "frontal"]
    assert isinstance(femur.drift, TooFew)
    assert femur.drift.words == "4 of 10 needed (femur with blocking screws, frontal drift)"
    short = found["tibia", "sagittal"].drift
    assert isinstance(short, TooFew)
    assert short.of == "tibia without blocking screws, sagittal drift"
