"""The draws through a plan against plain random numbers and against other packages."""

import numpy as np
import pytest
from scipy.stats import norm, qmc

from limbwright.mechanics import Shape, Spread, draws, unit_draws

COUNT = 1024


def test_the_points_are_a_digital_net() -> None:
    """Sobol, On the distribution of points in a cube, USSR Comput Math 7(4), 1967 (from memory): of 2^m
    points in each coordinate exactly one lies in every interval of length 2^-m, and of 1,024 in the first two
    coordinates one in each box of any shape with that volume, scrambled or not (Owen 1995, from memory).
    """
    points = unit_draws(dimensions=6, count=COUNT, seed=3)
    for column in points.T:
        assert sorted(np.floor(column * COUNT).astype(int)) == list(range(COUNT))
    for across in (1, 4, 32, 256):
        boxes = np.floor(points[:, 0] * across) * (COUNT // across) + np.floor(
            points[:, 1] * (COUNT // across)
        )
        assert len(set(boxes.tolist())) == COUNT


def test_they_fill_the_cube_more_evenly_than_random_numbers() -> None:
    """Centred discrepancy by scipy (Hickernell, A generalized discrepancy and quadrature error bound, Math
    Comput 67(221), 1998, from memory).
    """
    mine = qmc.discrepancy(unit_draws(dimensions=5, count=COUNT, seed=1))
    rng = np.random.Generator(np.random.PCG64(1))
    random = [qmc.discrepancy(rng.random((COUNT, 5))) for _ in range(5)]
    assert mine < 0.1 * min(random)


def test_the_shapes_are_those_of_a_statistics_package() -> None:
    """scipy.stats: mean, spread and quantiles of the normal, the uniform and the triangular distribution."""
    from scipy.stats import triang, uniform

    drawn = draws(
        (
            Spread(name="n", centre=2.0, spread=0.5),
            Spread(name="u", centre=1.0, spread=0.3, shape=Shape.UNIFORM),
            Spread(name="t", centre=-1.0, spread=2.0, shape=Shape.TRIANGULAR),
        ),
        count=4096,
        seed=5,
    )
    for name, theirs in (
        ("n", norm(2.0, 0.5)),
        ("u", uniform(0.7, 0.6)),
        ("t", triang(0.5, loc=-3.0, scale=4.0)),
    ):
        wanted = [0.025, 0.25, 0.5, 0.75, 0.975]
        assert np.quantile(drawn[name], wanted) == pytest.approx(theirs.ppf(wanted), abs=0.01)
        assert drawn[name].std() == pytest.approx(theirs.std(), rel=0.01)


def test_shares_and_spreads_are_nearer_than_by_as_many_random_draws() -> None:
    """A sum of six normal errors: its variance and the share inside a tolerance, against the closed forms."""
    sd = np.array([0.3, 0.5, 0.2, 0.8, 0.4, 0.6])
    spreads = tuple(Spread(name=str(i), centre=0, spread=float(s)) for i, s in enumerate(sd))
    whole = float(np.linalg.norm(sd))
    exact = np.array([1 - 2 * norm.cdf(-1.5, scale=whole), whole**2])

    def errors(totals: list[np.ndarray]) -> np.ndarray:
        found = np.array([(np.mean(np.abs(t) <= 1.5), np.mean(t**2)) for t in totals])
        return np.sqrt(np.mean((found - exact) ** 2, axis=0))

    mine = errors([np.sum([*draws(spreads, count=COUNT, seed=s).values()], axis=0) for s in range(12)])
    rng = np.random.Generator(np.random.PCG64(2))
    random = errors([(rng.standard_normal((COUNT, 6)) * sd).sum(axis=1) for _ in range(12)])
    # A step gains less from an even net than a smooth function does.
    assert mine[0] < 0.8 * random[0]
    assert mine[1] < 0.2 * random[1]
