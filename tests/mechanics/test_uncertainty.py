"""Draws, quantiles and sensitivity indices."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.error import OutOfRange
from limbwright.mechanics import (
    Plane,
    Shape,
    Spread,
    draws,
    quantiles,
    sobol_indices,
    solve_batch,
    unit_draws,
)


def test_draws_are_the_same_for_the_same_seed_and_even():
    a, b = unit_draws(dimensions=3, count=256, seed=7), unit_draws(dimensions=3, count=256, seed=7)
    assert (a == b).all()
    assert not (a == unit_draws(dimensions=3, count=256, seed=8)).all()
    for column in a.T:  # exactly one point in each of 256 equal cells
        assert sorted(np.floor(column * 256).astype(int)) == list(range(256))


@given(st.sampled_from(list(Shape)), st.floats(-10, 10), st.floats(0.1, 5))
def test_spreads_have_their_mean_and_deviation(shape, centre, spread):
    values = Spread(name="x", centre=centre, spread=spread, shape=shape).value_at(
        (np.arange(20000) + 0.5) / 20000
    )
    sd = {Shape.NORMAL: 1, Shape.UNIFORM: 1 / np.sqrt(3), Shape.TRIANGULAR: 1 / np.sqrt(6)}[shape] * spread
    assert values.mean() == pytest.approx(centre, abs=1e-3)
    assert values.std() == pytest.approx(sd, rel=2e-3)
    assert (np.diff(values) > 0).all()


def test_a_spread_that_is_none_is_refused():
    with pytest.raises(OutOfRange, match="not a distribution"):
        Spread(name="x", centre=0, spread=-1)


def test_quantiles_count_what_has_no_number():
    found = quantiles([1.0, 2.0, 3.0, np.nan], (0.0, 0.5, 1.0))
    assert found.value == (1.0, 2.0, 3.0)
    assert found.mean == 2.0
    assert found.without_number == 0.25
    with pytest.raises(OutOfRange, match="none of 2 draws"):
        quantiles([np.nan, np.nan])


def test_indices_of_a_linear_model_are_its_variance_shares():
    spreads = (
        Spread(name="a", centre=0, spread=2),
        Spread(name="b", centre=5, spread=1),
        Spread(name="c", centre=0, spread=1),
    )
    found = sobol_indices(lambda x: x[:, 0] + x[:, 1], spreads, count=2048, seed=1)
    assert found.first_order == pytest.approx((0.8, 0.2, 0.0), abs=0.01)
    assert found.total == pytest.approx((0.8, 0.2, 0.0), abs=0.01)
    assert found.evaluations == 2048 * 5


def test_indices_need_numbers_and_variance():
    spreads = (Spread(name="a", centre=0, spread=1),)
    with pytest.raises(OutOfRange, match="variance 0"):
        sobol_indices(lambda x: 0 * x[:, 0], spreads, count=64, seed=1)
    with pytest.raises(OutOfRange, match="carry no number"):
        sobol_indices(lambda x: x[:, 0] * np.nan, spreads, count=64, seed=1)


def test_drift_over_uncertain_inputs(make, screw):
    """Both screws, 40 mm gained: the moment matters most, then the gap the screws were placed with."""
    built = make(150, 14, screw(140), screw(160))
    spreads = (
        Spread(name="moment", centre=-6, spread=2.5),
        Spread(name="clearance above", centre=0.5, spread=0.5, shape=Shape.UNIFORM),
        Spread(name="clearance below", centre=0.5, spread=0.5, shape=Shape.UNIFORM),
        Spread(name="stiffness", centre=1.0, spread=0.05),
    )

    def model(x):
        return solve_batch(
            built,
            Plane.FRONTAL,
            moment_nm=-np.abs(x[:, 0]),
            lengthening_mm=40,
            blocking_clearance_mm=x[:, 1:3],
            stiffness_factor=x[:, 3],
        ).angulation_deg

    drawn = draws(spreads, count=1024, seed=2)
    found = quantiles(model(np.column_stack(list(drawn.values()))))
    assert -2.3 < found.value[0] < found.value[-1] < -0.3
    assert found.without_number == 0
    indices = sobol_indices(model, spreads, count=512, seed=3)
    assert indices.total[0] > indices.total[3]
    assert indices.total[1] > indices.total[3]
    assert sum(indices.first_order) == pytest.approx(1.0, abs=0.1)
