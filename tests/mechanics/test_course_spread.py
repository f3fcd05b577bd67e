"""Spread of the drift along the course."""

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
    course_spread,
    forecast_course,
    tissue_pull,
)

PULL = tissue_pull(Region.PROXIMAL_TIBIA, Level.DEFAULT)
STAGES = tuple(
    Stage(day=d, lengthening_mm=d, load=PULL.load(d), angular_nm_per_deg=0.002 * d) for d in (0.0, 20.0, 40.0)
)


def test_no_spread_is_the_forecast(make, screw):
    built = make(150, 14, screw(140, clearance_mm=0.3))
    found = course_spread(built, Plane.FRONTAL, STAGES, (), count=4, seed=1)
    expected = forecast_course(built, STAGES).angulation_deg(Plane.FRONTAL)
    for quantile, value in zip(found.angulation_deg, expected, strict=True):
        assert quantile.value == pytest.approx((value,) * 5, abs=1e-6)
        assert quantile.sd == pytest.approx(0, abs=1e-9)


def test_wider_spreads_give_wider_bands_and_stay_reproducible(make, screw):
    built = make(150, 14, screw(140, clearance_mm=0.3), screw(160, clearance_mm=0.3))

    def band(scale):
        spreads = (
            Spread(name="moment_factor", centre=1.0, spread=0.3 * scale),
            Spread(name="extra_force_n", centre=0.0, spread=10 * scale),
            Spread(name="canal_widening_mm", centre=0.0, spread=0.5 * scale),
            Spread(name="stiffness_factor", centre=1.0, spread=0.05 * scale),
            Spread(name="blocking_clearance_error_mm", centre=0.3, spread=0.3 * scale, shape=Shape.UNIFORM),
            Spread(name="blocking_depth_error_mm", centre=0.0, spread=2.0 * scale),
        )
        return course_spread(built, Plane.FRONTAL, STAGES, spreads, count=256, seed=4)

    narrow, wide = band(0.3), band(1.0)
    assert all(w.sd > 2 * n.sd for n, w in zip(narrow.angulation_deg, wide.angulation_deg, strict=True))
    assert band(1.0) == wide
    assert all(np.diff(q.value).min() >= 0 for q in (*wide.angulation_deg, *wide.step_mm))


def test_an_unknown_input_is_refused(make):
    with pytest.raises(Missing, match="moment_factor"):
        course_spread(make(), Plane.FRONTAL, STAGES, (Spread(name="x", centre=0, spread=1),), count=4, seed=1)
