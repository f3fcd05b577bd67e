"""Drift along the course by draw."""

import numpy as np
import pytest

from limbwright.error import Missing
from limbwright.mechanics import (
    Level,
    Plane,
    Region,
    Shape,
    Spread,
    Stage,
    drawn_course,
    draws,
    expanded_spreads,
    forecast_course,
    tissue_pull,
)

PULL = tissue_pull(Region.PROXIMAL_TIBIA, Level.DEFAULT)
STAGES = tuple(
    Stage(day=d, lengthening_mm=d, load=PULL.load(d), angular_nm_per_deg=0.002 * d) for d in (0.0, 20.0, 40.0)
)


def test_no_spread_is_the_forecast(make, screw):
    built = make(150, 14, screw(140, clearance_mm=0.3))
    angle, _step = drawn_course(built, Plane.FRONTAL, STAGES, (), np.zeros((4, 0)))
    expected = forecast_course(built, STAGES).angulation_deg(Plane.FRONTAL)
    assert angle == pytest.approx(np.tile(expected, (4, 1)), abs=1e-6)


def test_wider_spreads_scatter_more_and_stay_reproducible(make, screw):
    built = make(150, 14, screw(140, clearance_mm=0.3), screw(160, clearance_mm=0.3))

    def drawn(scale):
        spreads = expanded_spreads(
            built,
            Plane.FRONTAL,
            (
                Spread(name="moment_factor", centre=1.0, spread=0.3 * scale),
                Spread(name="extra_force_n", centre=0.0, spread=10 * scale),
                Spread(name="canal_widening_mm", centre=0.0, spread=0.5 * scale),
                Spread(name="stiffness_factor", centre=1.0, spread=0.05 * scale),
                Spread(
                    name="blocking_clearance_error_mm", centre=0.3, spread=0.3 * scale, shape=Shape.UNIFORM
                ),
                Spread(name="blocking_depth_error_mm", centre=0.0, spread=2.0 * scale),
            ),
        )
        values = draws(spreads, count=256, seed=4)
        columns = np.column_stack([values[s.name] for s in spreads])
        return drawn_course(built, Plane.FRONTAL, STAGES, spreads, columns)

    narrow, wide = drawn(0.3), drawn(1.0)
    assert np.all(wide[0].std(axis=0) > 2 * narrow[0].std(axis=0))
    assert all(np.array_equal(a, b) for a, b in zip(drawn(1.0), wide, strict=True))


def test_an_unknown_input_is_refused(make):
    with pytest.raises(Missing, match="moment_factor"):
        expanded_spreads(make(), Plane.FRONTAL, (Spread(name="x", centre=0, spread=1),))
