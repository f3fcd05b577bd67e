"""Worked examples of the osteotomy rules (Paley, Principles of Deformity Correction, 2002, rules from memory
and from an open teaching page on osteotomy principles); numbers worked by hand from the geometry."""

import math

import pytest

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
from limbwright.limb.lines import Line, Point, offset_mm
from limbwright.quantity import Sense


def test_rule_two() -> None:
    """Cut 30 mm from the apex, 15 degrees: 7.76, 1.02 and 7.83 mm; 40 mm, 20 degrees: 13.68 and 2.41 mm."""
    assert cut_shift_mm(cut_from_apex_mm=30, correction_deg=15) == pytest.approx(7.76, abs=0.01)
    assert cut_axial_mm(cut_from_apex_mm=30, correction_deg=15) == pytest.approx(1.02, abs=0.01)
    assert cut_chord_mm(cut_from_apex_mm=30, correction_deg=15) == pytest.approx(7.83, abs=0.01)
    assert cut_shift_mm(cut_from_apex_mm=40, correction_deg=20) == pytest.approx(13.68, abs=0.01)
    assert cut_axial_mm(cut_from_apex_mm=40, correction_deg=20) == pytest.approx(2.41, abs=0.01)


def test_rule_three() -> None:
    """Hinge 50 mm from the apex, 10 degrees: axes 8.68 mm apart."""
    assert axis_offset_of_hinge_mm(hinge_from_apex_mm=50, correction_deg=10) == pytest.approx(8.68, abs=0.01)


def test_opening_wedge_on_the_bisector() -> None:
    """Hinge 20 mm to the convex side, 15 degrees: 5.22 mm longer."""
    assert length_gain_mm(hinge_to_convex_mm=20, correction_deg=15) == pytest.approx(5.22, abs=0.01)


def test_wedge_bases() -> None:
    """Bone 60 mm wide, 10 degrees: 10.46 mm (isosceles), 10.58 mm (one side square to the bone)."""
    assert wedge_base_mm(bone_width_mm=60, correction_deg=10) == pytest.approx(10.46, abs=0.01)
    assert wedge_base_mm(bone_width_mm=60, correction_deg=10, right_angled=True) == pytest.approx(
        10.58, abs=0.01
    )


def test_the_same_on_drawn_axes() -> None:
    """Varus of 15 degrees drawn as two lines: the three rules with the numbers above."""
    apex = Point(0.0, 0.0)
    up, low = Line(through=apex, lean_deg=0.0), Line(through=apex, lean_deg=-15.0)
    one = hinged(up, low, projection=Projection.FRONTAL, hinge=apex, cut_from_apex_mm=0)
    assert one.rule is OsteotomyRule.ANGULATION_ONLY
    assert (one.corrected.magnitude, one.corrected.direction) == (pytest.approx(15), Sense.VARUS)
    two = hinged(up, low, projection=Projection.FRONTAL, hinge=apex, cut_from_apex_mm=-30)
    assert two.rule is OsteotomyRule.ANGULATION_AND_SHIFT
    assert two.end_shift.magnitude == pytest.approx(7.76, abs=0.01)
    opening = hinged(
        up,
        low,
        projection=Projection.FRONTAL,
        hinge=bisector_point(up, low, to_convex_mm=20),
        cut_from_apex_mm=0,
    )
    assert opening.length_change.magnitude == pytest.approx(5.22, abs=0.01)
    assert opening.length_change.direction is Sense.LONGER


@pytest.mark.parametrize(("shift", "angle", "distance"), [(10, 20, 27.47), (8, 10, 45.37)])
def test_translation_moves_the_apex(shift: float, angle: float, distance: float) -> None:
    """Angle with translation t at one level puts the apex t / tan a away; 10 mm, 20 degrees: 27.47 mm."""
    low = Line(through=Point(shift, 0.0), lean_deg=angle)
    assert shift / math.tan(math.radians(angle)) == pytest.approx(distance, abs=0.01)
    assert offset_mm(Point(0.0, distance), low) == pytest.approx(0, abs=0.01)
