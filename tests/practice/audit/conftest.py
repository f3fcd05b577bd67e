"""Columns to test with: written out by hand, or generated from a seed."""

import numpy as np
import pytest

from limbwright.practice.audit.columns import LIMITS, AuditColumns


def blank(n, **given):
    """Columns of n tibiae with nothing recorded but what is given; one number is repeated."""
    values = {
        "case_id": [f"case {i}" for i in range(n)],
        "bone": "tibia",
        "entry": "",
        "level": "",
        "operated_on": np.datetime64("NaT"),
        "healed": False,
        **dict.fromkeys(LIMITS, np.nan),
    }
    values |= given
    return AuditColumns(
        **{k: np.broadcast_to(np.asarray(v), (n,)) if np.ndim(v) == 0 else v for k, v in values.items()}
    )


def practice(n, seed=3):
    """An invented practice with known rules behind it."""
    rng = np.random.Generator(np.random.PCG64(seed))
    tibia = rng.random(n) < 0.5
    gained = rng.uniform(20, 70, n)
    days = np.where(tibia, rng.normal(42, 8, n), rng.normal(28, 6, n)).clip(10) * gained / 10
    seen = rng.uniform(100, 700, n)
    return blank(
        n,
        bone=np.where(tibia, "tibia", "femur"),
        entry=np.where(tibia | (rng.random(n) < 0.6), "antegrade", "retrograde"),
        level=np.where(rng.random(n) < 0.5, "proximal shaft", "middle shaft"),
        operated_on=np.datetime64("2020-01-01") + rng.integers(0, 1800, n),
        healed=days <= seen,
        age_years=rng.uniform(8, 60, n),
        followed_days=np.minimum(days, seen),
        planned_mm=gained.round(),
        gained_mm=gained,
        frontal_error_deg=rng.normal(-0.5, 1.5, n),
        sagittal_error_deg=rng.normal(0.5, 2, n),
        mad_error_mm=rng.normal(0, 5, n),
        frontal_drift_deg=rng.normal(-1, 2, n),
        sagittal_drift_deg=rng.normal(1, 2, n),
        blocking_screws=rng.integers(0, 3, n).astype(float),
        calf_release=np.where(tibia, rng.random(n) < 1 / (1 + np.exp(-(gained - 45) / 5)), np.nan),
        problems=rng.poisson(0.5, n),
        obstacles=rng.poisson(0.2, n),
        minor_complications=rng.poisson(0.1, n),
        major_complications=rng.poisson(0.1, n),
    )


@pytest.fixture(name="blank")
def _blank():
    return blank


@pytest.fixture(name="practice")
def _practice():
    return practice
