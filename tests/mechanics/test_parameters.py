"""Parameter tables: ranges in order, sources present, judgement marked; tissue pull and new bone."""

import numpy as np
import pytest

from limbwright.error import Missing, OutOfRange
from limbwright.mechanics import (
    Level,
    Plane,
    Region,
    lever_arm_mm,
    parameter,
    parameters,
    regenerate_stiffness_nm_per_deg,
    tissue_pull,
)
from limbwright.published import Status, table


def test_every_parameter_is_in_order_and_sourced():
    names = [p.name for p in parameters()]
    assert len(names) == len(set(names)) >= 20
    for p in parameters():
        assert p.low <= p.default <= p.high, p.name
        assert p.meaning
        assert p.unit
        judged = p.source.text.startswith("engineering judgement")
        assert judged == (p.source.status is Status.JUDGEMENT), p.name


def test_unknown_parameter_is_refused_with_the_list():
    with pytest.raises(Missing, match="titanium_modulus"):
        parameter("colour")


def test_every_region_and_plane_has_a_pull():
    for region in Region:
        for plane in Plane:
            low, mid, high = (abs(lever_arm_mm(region, plane, level)) for level in Level)
            assert low < mid < high
    assert all(float(r.text("low")) > 0 for r in table("mechanics", "tissue_pull"))


def test_directions_of_published_drift():
    assert lever_arm_mm(Region.PROXIMAL_TIBIA, Plane.FRONTAL) < 0  # valgus
    assert lever_arm_mm(Region.DISTAL_TIBIA, Plane.FRONTAL) > 0  # varus
    assert all(lever_arm_mm(r, Plane.SAGITTAL) > 0 for r in Region)  # procurvatum, never recurvatum


def test_lever_arm_of_an_unknown_region_is_refused():
    with pytest.raises(OutOfRange, match="no soft-tissue pull"):
        lever_arm_mm("humerus", Plane.FRONTAL)


def test_tension_grows_and_makes_the_moments():
    pull = tissue_pull(Region.PROXIMAL_TIBIA)
    assert pull.tension_n(50) == pytest.approx(50 + 6 * 50)
    assert (np.diff(pull.tension_n([0, 10, 20, 40])) > 0).all()
    load = pull.load(50, weight_bearing_n=100, frontal_moment_nm=0.5)
    assert load.frontal.moment_nm == pytest.approx(-0.350 * 15 + 0.5)
    assert load.sagittal.moment_nm == pytest.approx(0.350 * 20)
    assert load.frontal.axial_n == 450
    high = tissue_pull(Region.DISTAL_FEMUR, Level.HIGH)
    assert high.rate_n_per_mm == 10


def test_new_bone_doubles_and_levels_off():
    k = regenerate_stiffness_nm_per_deg([-1, 0, 16, 32, 5000])
    assert k[0] == 0
    assert k[2] / k[1] == pytest.approx(2, rel=1e-3)
    assert k[3] / k[2] == pytest.approx(2, rel=2e-3)
    assert k[4] == pytest.approx(30)
    own = regenerate_stiffness_nm_per_deg(10, start_nm_per_deg=0.1, doubling_days=10, healed_nm_per_deg=1e9)
    assert own == pytest.approx(0.2)
