"""Logistic regression of a yes-or-no outcome on one number, with profile-likelihood intervals."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from limbwright.error import Missing
from limbwright.practice.audit.columns import Floats, Truths
from limbwright.practice.audit.sample import Interval
from limbwright.quantity import Value

NO_FIT = "Without overlap between the two outcomes the likelihood has no maximum, and nothing is fitted."
CURVE_POINTS = 61
# An interval end further than this many standard errors away is open: the likelihood has become flat.
FARTHEST_SE = 40.0
FLAT = 1e-9  # slope over one standard deviation of the number, log-odds


@dataclass(frozen=True, slots=True, kw_only=True)
class Separated(Value):
    """The number alone tells the outcomes apart, so that no slope fits better than a steeper one."""

    at: float
    """No case on one side of this value shares its outcome with a case on the other side."""
    yes_above: bool
    """Whether the outcome is `yes` above it."""
    complete: bool
    """False when cases of both outcomes lie exactly at the value (quasi-complete separation)."""

    @property
    def words(self) -> str:
        """What was found, in plain words."""
        name = "separation" if self.complete else "quasi-complete separation"
        yes, no = ("above", "below") if self.yes_above else ("below", "above")
        at = "" if self.complete else f", both only at {self.at:g} itself"
        return f"{name}: every case with the outcome lies {yes} {self.at:g}, every one without it {no}{at}"


@dataclass(frozen=True, slots=True, kw_only=True)
class LogisticCurve(Value):
    """Fitted chance over the range of the data."""

    x: tuple[float, ...]
    """Values, rising, from the lowest to the highest in the data."""
    chance: tuple[float, ...]
    """Fitted chance at each, from 0 to 1."""
    low: tuple[float, ...]
    """Lower end of its pointwise band."""
    high: tuple[float, ...]
    """Upper end of its pointwise band."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogisticFit(Value):
    """log(p / (1 - p)) = intercept + slope x."""

    intercept: float
    """Log-odds at x = 0."""
    intercept_se: float
    """Its standard error (Wald)."""
    slope: float
    """Change of the log-odds for each unit of x."""
    slope_se: float
    """Its standard error (Wald)."""
    slope_interval: Interval
    """Its interval by profile likelihood."""
    log_likelihood: float
    """Log-likelihood at the fit."""
    even_at: float | None
    """Value at which the chance is one half; None when that lies outside the data."""
    even_interval: Interval | None
    """Its interval by profile likelihood; open where the data do not bound it; None without a value."""
    curve: LogisticCurve
    """Fitted chance over the range of the data."""

    def odds_ratio(self, step: float) -> tuple[float, Interval]:
        """Factor by which the odds change for each `step` units of x, with its interval."""
        ends = [
            None if end is None else math.exp(step * end)
            for end in (self.slope_interval.low, self.slope_interval.high)
        ]
        return math.exp(step * self.slope), Interval(low=ends[0], high=ends[1])


def logistic_fit(x: Floats, yes: Truths, *, confidence: float) -> LogisticFit | Separated:
    """Fit by maximum likelihood, unless x alone separates the outcomes.

    Parameters
    ----------
    x : (n,) float64
        The number, finite.
    yes : (n,) bool
        The outcome; both outcomes must occur.
    confidence : float
        Confidence of the intervals.

    Returns
    -------
    LogisticFit, or Separated when the likelihood has no maximum.

    Raises
    ------
    Missing
        If all outcomes or all values of x are alike.

    Notes
    -----
    With one number the maximum exists exactly when the two outcomes' ranges overlap by more than one value.

    References
    ----------
    Albert & Anderson, On the existence of maximum likelihood estimates in logistic regression models,
    Biometrika 1984; Venzon & Moolgavkar, A method for computing profile-likelihood-based confidence
    intervals, J R Stat Soc C 1988.
    """
    if yes.all() or not yes.any() or np.ptp(x) == 0:
        raise Missing(
            f"{int(np.count_nonzero(yes))} of {len(yes)} have the outcome, values from {np.min(x):g} to "
            f"{np.max(x):g}.",
            where="logistic regression",
            next_step="Both outcomes and at least two values are needed.",
        )
    apart = separation(x, yes)
    return _fitted(x, yes, confidence) if apart is None else apart


def separation(x: Floats, yes: Truths) -> Separated | None:
    """How x alone tells the outcomes apart; None when both occur on both sides of every value."""
    with_low, with_high = float(np.min(x[yes])), float(np.max(x[yes]))
    without_low, without_high = float(np.min(x[~yes])), float(np.max(x[~yes]))
    if with_low >= without_high:
        complete = with_low > without_high
        return Separated(at=(with_low + without_high) / 2, yes_above=True, complete=complete)
    if without_low >= with_high:
        complete = without_low > with_high
        return Separated(at=(without_low + with_high) / 2, yes_above=False, complete=complete)
    return None


def _fitted(x: Floats, yes: Truths, confidence: float) -> LogisticFit:
    from scipy import stats
    from statsmodels.discrete.discrete_model import (  # type: ignore[import-untyped]  # no type hints
        Logit,
    )

    y = yes.astype(np.float64)
    # Centred and scaled, the two parameters hardly disturb each other and Newton's method is at ease.
    centre, scale = float(np.mean(x)), float(np.std(x))
    z = (x - centre) / scale
    design = np.column_stack((np.ones_like(z), z))
    result = Logit(y, design).fit(disp=0)
    a, b = (float(value) for value in result.params)
    covariance = np.asarray(result.cov_params(), dtype=np.float64)
    best = float(result.llf)
    drop = float(stats.chi2.ppf(confidence, 1)) / 2

    b_se = math.sqrt(covariance[1, 1])
    b_interval = _profile_interval(b, b_se, best - drop, lambda at: _best_intercept(z, y, at, start=a))
    to_original = np.array([[1.0, -centre / scale], [0.0, 1 / scale]])
    original = to_original @ covariance @ to_original.T
    low, high = float(np.min(x)), float(np.max(x))
    grid = np.linspace(low, high, CURVE_POINTS)
    # A slope of nothing never crosses one half; a crossing outside the data would be a guess.
    even = None if abs(b) < FLAT or not low <= centre - scale * a / b <= high else -a / b
    even_interval = None
    if even is not None:
        gradient = np.array([-1 / b, a / b**2])
        even_se = math.sqrt(float(gradient @ covariance @ gradient))
        ends = _profile_interval(even, even_se, best - drop, lambda at: _best_slope(z - at, y, start=b))
        even_interval = _moved(ends, centre, scale)
    return LogisticFit(
        intercept=a - b * centre / scale,
        intercept_se=math.sqrt(original[0, 0]),
        slope=b / scale,
        slope_se=b_se / scale,
        slope_interval=_moved(b_interval, 0.0, 1 / scale),
        log_likelihood=best,
        even_at=None if even is None else centre + scale * even,
        even_interval=even_interval,
        curve=_curve(grid, (grid - centre) / scale, (a, b), covariance=covariance, confidence=confidence),
    )


def _curve(
    x: Floats, z: Floats, parameters: tuple[float, float], *, covariance: Floats, confidence: float
) -> LogisticCurve:
    from scipy.special import expit
    from scipy.stats import norm

    design = np.column_stack((np.ones_like(z), z))
    odds = design @ np.array(parameters)
    half = norm.ppf((1 + confidence) / 2) * np.sqrt(np.einsum("ij,jk,ik->i", design, covariance, design))
    return LogisticCurve(
        x=tuple(x.tolist()),
        chance=tuple(expit(odds).tolist()),
        low=tuple(expit(odds - half).tolist()),
        high=tuple(expit(odds + half).tolist()),
    )


def _moved(interval: Interval, origin: float, scale: float) -> Interval:
    """The interval of `origin + scale * value`, scale positive."""
    low, high = (None if end is None else origin + scale * end for end in (interval.low, interval.high))
    return Interval(low=low, high=high)


def _profile_interval(
    best_at: float, se: float, threshold: float, profile: Callable[[float], float]
) -> Interval:
    """Values whose best attainable log-likelihood stays above the threshold."""
    from scipy.optimize import brentq

    def above(value: float) -> float:
        return profile(value) - threshold

    ends: list[float | None] = []
    for sign in (-1.0, 1.0):
        steps = 1.0
        while above(best_at + sign * steps * se) > 0 and steps < FARTHEST_SE:
            steps *= 2
        far = best_at + sign * steps * se
        ends.append(None if above(far) > 0 else float(brentq(above, best_at, far, xtol=1e-7 * se)))
    return Interval(low=ends[0], high=ends[1])


def _best_intercept(z: Floats, y: Floats, slope: float, *, start: float) -> float:
    """Greatest log-likelihood with the slope held."""
    shift = slope * z
    return _best_of_one(lambda a: shift + a, np.ones_like(z), y, start=start)


def _best_slope(z: Floats, y: Floats, *, start: float) -> float:
    """Greatest log-likelihood of a line of log-odds that passes 0 at z = 0."""
    return _best_of_one(lambda b: b * z, z, y, start=start)


def _best_of_one(log_odds: Callable[[float], Floats], direction: Floats, y: Floats, *, start: float) -> float:
    """Greatest log-likelihood over one parameter that enters the log-odds along `direction`."""
    from scipy.special import expit

    value = start
    eta = log_odds(value)
    likelihood = _log_likelihood(eta, y)
    for _ in range(60):
        chance = expit(eta)
        score = float(direction @ (y - chance))
        step = score / max(float((direction**2) @ (chance * (1 - chance))), 1e-12)
        # Newton, halved until it climbs: the log-likelihood is concave, so this ends at its top.
        while True:
            tried = log_odds(value + step)
            new = _log_likelihood(tried, y)
            if new >= likelihood - 1e-12 or abs(step) < 1e-12:
                break
            step /= 2
        value, eta, gain, likelihood = value + step, tried, new - likelihood, new
        if gain < 1e-10:
            break
    return likelihood


def _log_likelihood(eta: Floats, y: Floats) -> float:
    # log(1 + e^eta) without overflow
    return float(y @ eta - np.sum(np.maximum(eta, 0) + np.log1p(np.exp(-np.abs(eta)))))
