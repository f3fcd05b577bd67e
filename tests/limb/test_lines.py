import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.error import OutOfRange
from limbwright.limb.lines import (
    Line,
    Point,
    along_mm,
    angle_between_deg,
    angulation_deg,
    between,
    crossing,
    lean_deg,
    line_through,
    midpoint,
    offset_mm,
    tilt_deg,
    wrapped_deg,
)

coordinates = st.floats(-500, 500)
points = st.builds(Point, coordinates, coordinates)
leans = st.floats(-80, 80)


def test_a_shaft_running_toward_lateral_leans_positive():
    assert lean_deg(Point(0, 100), Point(10, 0)) == pytest.approx(math.degrees(math.atan(0.1)))
    assert lean_deg(Point(0, 100), Point(0, 0)) == 0


def test_a_joint_line_higher_laterally_is_tilted_up():
    assert tilt_deg(Point(-20, 0), Point(20, 4)) == pytest.approx(math.degrees(math.atan(0.1)))


def test_angle_between_two_directions():
    assert angle_between_deg(Point(0, 0), Point(1, 0), Point(5, 5), Point(5, 9)) == pytest.approx(90)
    assert angle_between_deg(Point(0, 0), Point(1, 0), Point(0, 0), Point(-1, 1)) == pytest.approx(135)


def test_two_points_on_one_spot_give_no_line():
    with pytest.raises(OutOfRange, match=r"two landmarks lie on the same spot \(3\.0 mm, 4\.0 mm\)"):
        line_through(Point(3, 4), Point(3, 4))


def test_midpoint_and_share():
    assert midpoint(Point(0, 0), Point(4, 2)) == (2, 1)
    assert between(Point(0, 0), Point(10, 20), 0.2) == (2, 4)


@given(angle=st.floats(-3000, 3000))
def test_wrapping_keeps_the_direction(angle: float):
    wrapped = wrapped_deg(angle)
    assert -180 < wrapped <= 180
    assert math.cos(math.radians(wrapped)) == pytest.approx(math.cos(math.radians(angle)), abs=1e-9)


@given(through=points, lean=leans, s=st.floats(-300, 300), t=st.floats(-50, 50))
def test_along_and_offset_are_the_coordinates_of_a_point_beside_a_line(
    through: Point, lean: float, s: float, t: float
):
    line = Line(through=through, lean_deg=lean)
    foot = line.at(s)
    across = Line(through=foot, lean_deg=lean + 90).at(t)
    assert offset_mm(across, line) == pytest.approx(t, abs=1e-9)
    assert along_mm(across, line) == pytest.approx(s, abs=1e-9)


@given(a=leans, b=leans, p=points, q=points)
def test_the_crossing_lies_on_both_lines(a: float, b: float, p: Point, q: Point):
    first, second = Line(through=p, lean_deg=a), Line(through=q, lean_deg=b)
    cross = crossing(first, second, parallel_below_deg=0.5)
    if abs(angulation_deg(first, second)) < 0.5:
        assert cross is None
    elif cross is not None:
        assert offset_mm(cross, first) == pytest.approx(0, abs=1e-6)
        assert offset_mm(cross, second) == pytest.approx(0, abs=1e-6)
