"""Sensitivity indices against functions whose indices are known, and against another package."""

import numpy as np
import pytest

from limbwright.mechanics import Shape, Spread, sobol_indices

PI = np.pi


def ishigami(x: np.ndarray) -> np.ndarray:
    return np.sin(x[:, 0]) + 7.0 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])


SPREADS = tuple(Spread(name=n, centre=0.0, spread=PI, shape=Shape.UNIFORM) for n in "abc")


def test_ishigami_function():
    """Ishigami & Homma 1990, An importance quantification technique in uncertainty analysis.

    Analytic: V = a^2/8 + b pi^4/5 + b^2 pi^8/18 + 1/2, V1 = (1 + b pi^4/5)^2 / 2, V2 = a^2/8,
    V13 = 8 b^2 pi^8 / 225, a = 7, b = 0.1 (as in Saltelli et al. 2008, Global Sensitivity Analysis; memory).
    """
    a, b = 7.0, 0.1
    total = a**2 / 8 + b * PI**4 / 5 + b**2 * PI**8 / 18 + 0.5
    v1, v2, v13 = 0.5 * (1 + b * PI**4 / 5) ** 2, a**2 / 8, 8 * b**2 * PI**8 / 225
    found = sobol_indices(ishigami, SPREADS, count=32768, seed=1)
    assert found.variance == pytest.approx(total, rel=0.01)
    assert found.first_order == pytest.approx((v1 / total, v2 / total, 0.0), abs=0.01)
    assert found.total == pytest.approx(((v1 + v13) / total, v2 / total, v13 / total), abs=0.01)
    # the figures usually printed
    assert found.first_order == pytest.approx((0.3139, 0.4424, 0.0), abs=0.01)
    assert found.total == pytest.approx((0.5576, 0.4424, 0.2437), abs=0.01)


def test_g_function():
    """Saltelli & Sobol 1995: g = prod (|4x - 2| + a_i) / (1 + a_i), V_i = 1 / (3 (1 + a_i)^2) (memory)."""
    a = np.array([0.0, 1.0, 4.5, 9.0])
    spreads = tuple(Spread(name=str(i), centre=0.5, spread=0.5, shape=Shape.UNIFORM) for i in range(4))
    found = sobol_indices(
        lambda x: np.prod((np.abs(4 * x - 2) + a) / (1 + a), axis=1), spreads, count=8192, seed=2
    )
    part = 1 / (3 * (1 + a) ** 2)
    total = np.prod(1 + part) - 1
    assert found.first_order == pytest.approx(part / total, abs=0.01)
    alone = part * np.array([np.prod(1 + np.delete(part, i)) for i in range(4)])
    assert found.total == pytest.approx(alone / total, abs=0.01)


def test_same_indices_as_another_package():
    """SALib (Herman & Usher 2017, SALib: An open-source Python library for sensitivity analysis)."""
    from SALib.analyze import sobol as analyse
    from SALib.sample import sobol as sample

    problem = {"num_vars": 3, "names": list("abc"), "bounds": [[-PI, PI]] * 3}
    x = sample.sample(problem, 4096, calc_second_order=False, seed=5)
    theirs = analyse.analyze(problem, ishigami(x), calc_second_order=False, seed=5)
    ours = sobol_indices(ishigami, SPREADS, count=4096, seed=5)
    assert ours.first_order == pytest.approx(tuple(theirs["S1"]), abs=0.02)
    assert ours.total == pytest.approx(tuple(theirs["ST"]), abs=0.02)
