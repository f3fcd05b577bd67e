import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.error import OutOfRange, Refused
from limbwright.limb.anatomy import Projection
from limbwright.limb.hinge import (
    OsteotomyRule,
    axis_offset_of_hinge_mm,
    bisector_point,
    cut_axial_mm,
    cut_chord_mm,
    cut_shift_mm,
    hinged,
    length_gain_mm,
    wedge_base_mm,
)
from limbwright.limb.lines import Line, Point, angulation_deg, offset_mm
from limbwright.quantity import Sense

APEX = Point(12.0, 300.0)
corrections = st.one_of(st.floats(-40, -3), st.floats(3, 40))


def two(angle: float, lean: float = 4.0) -> tuple[Line, Line]:
    up = Line(through=APEX, lean_deg=lean)
    low = Line(through=APEX, lean_deg=lean - angle)
    return Line(through=up.at(-120), lean_deg=lean), Line(through=low.at(90), lean_deg=lean - angle)


@given(angle=corrections, b=st.floats(-40, 40), lean=st.floats(-15, 15))
def test_a_hinge_on_the_bisector_makes_one_line_and_changes_length(angle, b, lean):
    up, low = two(angle, lean)
    result = hinged(
        up,
        low,
        projection=Projection.FRONTAL,
        hinge=bisector_point(up, low, to_convex_mm=b),
        cut_from_apex_mm=0.0,
    )
    assert result.axis_offset.magnitude == pytest.approx(0, abs=1e-6)
    assert angulation_deg(up, result.distal) == pytest.approx(0, abs=1e-9)
    gain = 2 * b * math.sin(math.radians(abs(angle)) / 2)
    assert result.length_change.magnitude == pytest.approx(abs(gain), abs=1e-6)
    if abs(gain) > 0.1:
        assert result.length_change.direction is (Sense.LONGER if b > 0 else Sense.SHORTER)
    assert gain == pytest.approx(length_gain_mm(hinge_to_convex_mm=b, correction_deg=angle))
    assert result.corrected.direction is (Sense.VARUS if angle > 0 else Sense.VALGUS)


def test_the_convex_side_of_varus_is_lateral():
    up, low = two(15, lean=0)
    assert bisector_point(up, low, to_convex_mm=20).across_mm > APEX.across_mm
    up, low = two(-15, lean=0)
    assert bisector_point(up, low, to_convex_mm=20).across_mm < APEX.across_mm


@pytest.mark.parametrize(("cut", "direction"), [(-30.0, Sense.MEDIAL), (30.0, Sense.LATERAL)])
def test_rule_two_shifts_the_ends(cut, direction):
    up, low = two(15)
    result = hinged(up, low, projection=Projection.FRONTAL, hinge=APEX, cut_from_apex_mm=cut)
    assert result.rule is OsteotomyRule.ANGULATION_AND_SHIFT
    assert result.end_shift.magnitude == pytest.approx(
        cut_shift_mm(cut_from_apex_mm=cut, correction_deg=15), abs=1e-9
    )
    assert result.end_travel.magnitude == pytest.approx(cut_axial_mm(cut_from_apex_mm=cut, correction_deg=15))
    assert math.hypot(result.end_shift.magnitude, result.end_travel.magnitude) == pytest.approx(
        cut_chord_mm(cut_from_apex_mm=cut, correction_deg=15)
    )
    # Varus is corrected by swinging the foot laterally: ends below the apex go along, ends above it go back.
    assert result.end_shift.direction is direction
    assert result.end_travel.direction is Sense.DISTAL
    assert result.length_change.magnitude == pytest.approx(0, abs=1e-9)


def test_rule_one_and_rule_three():
    up, low = two(10)
    one = hinged(up, low, projection=Projection.SAGITTAL, hinge=APEX, cut_from_apex_mm=0.5)
    assert one.rule is OsteotomyRule.ANGULATION_ONLY
    assert one.corrected.direction is Sense.PROCURVATUM
    on_axis = up.at(120 + 50)
    three = hinged(up, low, projection=Projection.SAGITTAL, hinge=on_axis, cut_from_apex_mm=50)
    assert three.rule is OsteotomyRule.PARALLEL_OFFSET
    assert three.axis_offset.magnitude == pytest.approx(8.68, abs=0.005)
    assert three.axis_offset.magnitude == pytest.approx(
        axis_offset_of_hinge_mm(hinge_from_apex_mm=50, correction_deg=10)
    )
    assert three.axis_offset.direction in (Sense.ANTERIOR, Sense.POSTERIOR)
    assert offset_mm(three.distal.through, up) == pytest.approx(
        three.axis_offset.magnitude * (1 if three.axis_offset.direction is Sense.ANTERIOR else -1)
    )


def test_parallel_axes_have_no_hinge():
    up, low = two(1.0)
    with pytest.raises(Refused, match=r"the axes differ by 1\.0 degrees only and have no apex"):
        bisector_point(up, low, to_convex_mm=10)


def test_wedges():
    assert wedge_base_mm(bone_width_mm=60, correction_deg=0) == 0
    with pytest.raises(OutOfRange, match="width of the bone is 0 mm"):
        wedge_base_mm(bone_width_mm=0, correction_deg=10)
    with pytest.raises(OutOfRange, match="correction is 90 deg"):
        wedge_base_mm(bone_width_mm=60, correction_deg=90)
