from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.finding import Severity
from limbwright.implant.nail import Direction, Nail
from limbwright.limb.anatomy import Bone
from limbwright.plan.weight_bearing import WeightBearing, weight_bearing
from limbwright.practice.profile import Profile

NAIL = Nail(
    name="invented 245",
    bone=Bone.TIBIA,
    direction=Direction.ANTEGRADE,
    thick_diameter_mm=10.7,
    thin_diameter_mm=8.0,
    length_mm=245,
    stroke_mm=50,
    exposed_thin_mm=30,
    elastic_modulus_gpa=114,
)


def allowed(diameter_mm: float, **profile: float) -> WeightBearing:
    return weight_bearing(
        replace(NAIL, thick_diameter_mm=diameter_mm, thin_diameter_mm=diameter_mm - 2), Profile(**profile)
    )


@pytest.mark.parametrize(
    ("diameter", "lb"), [(8.5, 30), (10.7, 50), (12.5, 70), (9.9, 30), (11.5, 50), (14, 70)]
)
def test_limits_by_diameter_take_the_lower_step(diameter: float, lb: float) -> None:
    found = allowed(diameter)
    assert found.limit_lb == pytest.approx(lb, abs=0.01)
    assert not found.from_catalogue
    assert [f.id for f in found.findings] == ["weight-limit"]


@given(a=st.floats(8.5, 16), b=st.floats(8.5, 16))
def test_a_thicker_nail_never_carries_less(a: float, b: float) -> None:
    low, high = (allowed(d).limit_kg for d in sorted((a, b)))
    assert low is not None
    assert high is not None
    assert low <= high


def test_the_makers_limit_wins() -> None:
    found = weight_bearing(replace(NAIL, weight_limit_kg=15.0), Profile())
    assert (found.limit_kg, found.from_catalogue) == (15.0, True)
    assert "15.0 kg (33 lb)" in found.findings[0].words
    assert "catalogue" in found.findings[0].source.text


def test_a_changed_profile_is_quoted() -> None:
    found = allowed(10.7, weight_limit_10_7_mm_kg=20)
    assert found.limit_kg == 20
    assert "practice profile" in found.findings[0].source.text


def test_a_thinner_nail_than_any_listed_has_no_limit() -> None:
    found = allowed(8.0)
    assert (found.limit_kg, found.limit_lb) == (None, None)
    assert [f.id for f in found.findings] == ["weight-limit-unknown"]
    assert found.findings[0].severity is Severity.STOP
    assert "8 mm" in found.findings[0].words
