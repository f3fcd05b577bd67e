import math
from dataclasses import replace

import pytest

from limbwright.error import Contradiction
from limbwright.finding import Severity
from limbwright.limb.anatomy import Side
from limbwright.limb.discrepancy import discrepancy
from limbwright.limb.landmark import Landmark
from limbwright.quantity import Sense


def legs(frontal, *, sd_mm=1.0, **short):
    straight = {"mldfa": 87.0, "mpta": 87.0, "jlca": 0.0, "femur_lean": 0.0, "sd_mm": sd_mm}
    return frontal(**straight, **short), frontal(side=Side.LEFT, **straight)


def test_total_and_parts(frontal):
    result = discrepancy(*legs(frontal, femur_mm=410.0, tibia_mm=345.0), foot_difference_mm=-4.0)
    assert result.femur.value == pytest.approx(-20)
    assert result.tibia.value == pytest.approx(-15)
    assert result.foot.value == -4
    assert result.rest.value == pytest.approx(0, abs=1e-9)
    assert result.total.value == pytest.approx(-39)
    assert result.knee_height.value == pytest.approx(-19)
    assert result.shown().direction is Sense.SHORTER
    assert result.shown().magnitude == pytest.approx(39)
    assert result.not_measured == ()
    assert result.findings == ()


def test_without_foot_height_the_foot_is_left_out(frontal):
    result = discrepancy(*legs(frontal, femur_mm=410.0))
    assert result.foot is None
    assert result.total.value == pytest.approx(-20)


def test_bending_at_the_knee_is_the_rest(frontal):
    bent = frontal(mldfa=97.0, mpta=87.0, jlca=0.0)
    _, straight = legs(frontal)
    result = discrepancy(bent, straight)
    leg = math.sqrt(430**2 + 360**2 + 2 * 430 * 360 * math.cos(math.radians(10)))
    assert result.rest.value == pytest.approx(leg - 790)
    assert result.total.value == pytest.approx(leg - 790)
    assert result.femur.value == pytest.approx(0, abs=1e-9)


def test_a_common_scale_falls_out_of_the_difference(frontal):
    short, long = legs(frontal, sd_mm=0.0, femur_mm=400.0)
    same = discrepancy(short, long)
    assert same.same_film
    assert same.femur.sd == pytest.approx(0.3)  # 1 % of 30 mm
    other_film = replace(long, spots={k: replace(s, patch="second film") for k, s in long.spots.items()})
    two = discrepancy(short, other_film)
    assert not two.same_film
    assert two.femur.sd == pytest.approx(math.hypot(4.0, 4.3))


def test_marking_errors_of_both_legs_add_up(frontal):
    result = discrepancy(*legs(frontal))
    assert result.femur.sd == pytest.approx(2.0)  # four ends of 1 mm


def test_what_is_not_marked_is_named(frontal):
    short, long = legs(frontal)
    spots = {k: s for k, s in short.spots.items() if k is not Landmark.ANKLE_CENTRE}
    result = discrepancy(replace(short, spots=spots), long)
    assert result.total is None
    assert result.shown() is None
    assert result.rest is None
    assert result.tibia is None
    assert result.femur.value == pytest.approx(0)
    assert {str(n.measure) for n in result.not_measured} == {"leg length", "tibia length", "knee height"}


def test_a_block_test_that_agrees_is_silent_and_one_that_does_not_is_reported(frontal):
    short, long = legs(frontal, femur_mm=400.0)
    assert discrepancy(short, long, block_test_mm=-25.0).findings == ()
    (finding,) = discrepancy(short, long, block_test_mm=-10.0).findings
    assert finding.id == "block-test-disagrees"
    assert finding.severity is Severity.CAUTION
    assert "The block test says 10 mm shorter, the film 30 mm shorter: 20 mm apart" in finding.words


def test_two_views_of_one_leg_are_refused(frontal):
    with pytest.raises(Contradiction, match="both views are of the right leg"):
        discrepancy(frontal(), frontal())
