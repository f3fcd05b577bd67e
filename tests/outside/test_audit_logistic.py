"""Logistic regression of the audit against published fits."""

import numpy as np
import pytest
from statsmodels.api import GLM, Logit, add_constant, families
from statsmodels.datasets import spector

from limbwright.practice.audit.logistic import LogisticFit, logistic_fit

# Hosmer & Lemeshow, Applied Logistic Regression, table 1.1: age and coronary heart disease (CHD) of 100
# persons. Typed from memory; the published fit below would not come out of other numbers.
AGES = (
    "20 23 24 25 25 26 26 28 28 29 30 30 30 30 30 30 32 32 33 33 34 34 34 34 34 35 35 36 36 36 37 37 37 38 "
    "38 39 39 40 40 41 41 42 42 42 42 43 43 43 44 44 44 44 45 45 46 46 47 47 47 48 48 48 49 49 49 50 50 51 "
    "52 52 53 53 54 55 55 55 56 56 56 57 57 57 57 57 57 58 58 58 59 59 60 60 61 62 62 63 64 64 65 69"
)
CHD = (
    "0 0 0 0 1 0 0 0 0 0 0 0 0 0 0 1 0 0 0 0 0 0 1 0 0 0 0 0 1 0 0 1 0 0 0 "
    "0 1 0 1 0 0 0 0 0 1 0 0 1 0 0 1 1 0 1 0 1 0 0 1 0 1 1 0 0 1 0 1 0 0 1 "
    "1 1 1 0 1 1 1 1 1 0 0 1 1 1 1 0 1 1 1 1 0 1 1 1 1 1 0 1 1 1"
)


def numbers(text):
    return np.array([float(word) for word in text.split()])


def test_age_and_coronary_heart_disease() -> None:
    """Hosmer & Lemeshow, Applied Logistic Regression: coefficients -5.309 (1.134) and 0.111 (0.0241),
    log-likelihood -53.677; profile-likelihood interval of the slope 0.067 to 0.162. Values from memory.
    """
    fit = logistic_fit(numbers(AGES), numbers(CHD) == 1, confidence=0.95)
    assert isinstance(fit, LogisticFit)
    assert (round(fit.intercept, 3), round(fit.slope, 3)) == (-5.309, 0.111)
    assert (round(fit.intercept_se, 3), round(fit.slope_se, 4)) == (1.134, 0.0241)
    assert round(fit.log_likelihood, 3) == -53.677
    assert (round(fit.slope_interval.low, 3), round(fit.slope_interval.high, 3)) == (0.067, 0.162)


def test_the_library_prints_the_textbook_table_of_the_spector_data() -> None:
    """Spector & Mazzeo, Probit analysis and economic education, J Econ Educ 1980, as carried by statsmodels;
    Greene, Econometric Analysis, table of the logit model: constant -13.021, GPA 2.826, TUCE 0.095, PSI
    2.379; log-likelihood -12.890. Values from memory. Three numbers at once are not ours to fit: this
    holds the library that our fit of one number rests on to the book.
    """
    data = spector.load_pandas()
    result = Logit(data.endog, add_constant(data.exog, prepend=True)).fit(disp=0)
    found = dict(zip(result.params.index, result.params.round(3), strict=True))
    assert found == {"const": -13.021, "GPA": 2.826, "TUCE": 0.095, "PSI": 2.379}
    assert round(result.llf, 2) == -12.89


@pytest.mark.parametrize("number", ["GPA", "TUCE"])
def test_one_number_of_the_spector_data_by_another_algorithm(number) -> None:
    """The same data, one number: statsmodels' generalised linear model (iteratively reweighted least squares)
    gives coefficients and errors; held at our interval's ends its log-likelihood has dropped by 1.9207.
    """
    data = spector.load_pandas()
    x, y = data.exog[number].to_numpy(), data.endog.to_numpy()
    fit = logistic_fit(x, y == 1, confidence=0.95)
    assert isinstance(fit, LogisticFit)
    binomial = families.Binomial()
    reference = GLM(y, add_constant(x), family=binomial).fit()
    assert [fit.intercept, fit.slope] == pytest.approx(reference.params, rel=1e-6)
    assert [fit.intercept_se, fit.slope_se] == pytest.approx(reference.bse, rel=1e-4)
    for end in (fit.slope_interval.low, fit.slope_interval.high):
        held = GLM(y, np.ones_like(x), family=binomial, offset=end * x).fit()
        assert reference.llf - held.llf == pytest.approx(3.841459 / 2, abs=1e-5)
