"""Healing curves (Kaplan-Meier) against published tables and a second library, on data sets they print."""

from importlib.resources import files

import numpy as np
import pandas as pd
import pytest
from statsmodels.datasets import heart
from statsmodels.duration.survfunc import SurvfuncRight

from limbwright.practice.audit.healing_curve import curve

SIX_MP, PLACEBO = 2, 1


def remissions(group):
    """Freireich et al., The effect of 6-mercaptopurine on the duration of steroid-induced remissions in acute
    leukemia, Blood 1963: weeks in remission, as carried by lifelines.
    """
    path = files("lifelines.datasets").joinpath("gehan.dat")
    frame = pd.read_csv(str(path), sep=r"\s+", names=["group", "weeks", "relapsed"])
    rows = frame[frame.group == group]
    return rows.weeks.to_numpy(dtype=float), rows.relapsed.to_numpy(dtype=bool)


def shipped(name, time, event):
    frame = pd.read_csv(str(files("lifelines.datasets").joinpath(name)))
    return frame[time].to_numpy(dtype=float), frame[event].to_numpy(dtype=bool)


def test_six_mercaptopurine_group() -> None:
    """Kalbfleisch & Prentice, The Statistical Analysis of Failure Time Data, 2002, and many textbooks after
    it: weeks, at risk, share still in remission; ends of the 95 % log(-log) interval as general statistics
    packages print them for this group. Values from memory, all to the printed digits.
    """
    printed = [
        (6, 21, 0.8571, 0.6197, 0.9516),
        (7, 17, 0.8067, 0.5631, 0.9228),
        (10, 15, 0.7529, 0.5032, 0.8894),
        (13, 12, 0.6902, 0.4316, 0.8491),
        (16, 11, 0.6275, 0.3675, 0.8049),
        (22, 7, 0.5378, 0.2678, 0.7468),
        (23, 6, 0.4482, 0.1881, 0.6801),
    ]
    found = curve(*remissions(SIX_MP), confidence=0.95)
    ours = [
        (day, at_risk, round(1 - share, 4), round(1 - high, 4), round(1 - low, 4))
        for day, at_risk, share, low, high in zip(
            found.days, found.at_risk, found.healed_share, found.low_share, found.high_share, strict=True
        )
    ]
    assert ours == printed
    assert found.median_days == 23


def test_placebo_group_without_censoring() -> None:
    """The same source: median remission 8 weeks; without censoring the curve is the plain share, 21 patients.
    Value from memory.
    """
    weeks, relapsed = remissions(PLACEBO)
    found = curve(weeks, relapsed, confidence=0.95)
    assert found.median_days == 8
    plain = [np.mean(weeks <= day) for day in found.days]
    assert found.healed_share == pytest.approx(plain)


@pytest.mark.parametrize(
    ("days", "events"),
    [
        pytest.param(*shipped("larynx.csv", "time", "death"), id="Kardaun 1983, cancer of the larynx"),
        pytest.param(*shipped("lymphoma.csv", "Time", "Censor"), id="lymphoma by stage"),
        pytest.param(*shipped("kidney_transplant.csv", "time", "death"), id="kidney transplants"),
        pytest.param(
            heart.load_pandas().endog.to_numpy(dtype=float),
            heart.load_pandas().censors.to_numpy(dtype=bool),
            id="Miller 1976, heart transplants",
        ),
    ],
)
def test_same_curve_and_greenwood_band_as_another_library(days, events) -> None:
    """statsmodels prints the same estimate and standard error:

        s = SurvfuncRight(days, events); s.surv_times, s.surv_prob, s.surv_prob_se

    Our band is log(-log); with its standard error s, exp(-exp(log(-log S) +- z s / (S log S))).
    """
    found = curve(days, events, confidence=0.95)
    theirs = SurvfuncRight(days, events.astype(int))
    assert found.days == pytest.approx(theirs.surv_times)
    assert found.at_risk == pytest.approx(theirs.n_risk)
    left, se = np.asarray(theirs.surv_prob), np.asarray(theirs.surv_prob_se)
    assert 1 - np.array(found.healed_share) == pytest.approx(left)
    inner = (left > 0) & (left < 1)
    left, se = left[inner], se[inner]
    width = 1.959964 * se / (left * np.log(left))
    ends = [np.exp(-np.exp(np.log(-np.log(left)) + sign * width)) for sign in (1, -1)]
    assert 1 - np.array(found.low_share)[inner] == pytest.approx(ends[0], abs=1e-6)
    assert 1 - np.array(found.high_share)[inner] == pytest.approx(ends[1], abs=1e-6)
    half = theirs.quantile(0.5)
    assert found.median_days == (None if np.isnan(half) else pytest.approx(half))
