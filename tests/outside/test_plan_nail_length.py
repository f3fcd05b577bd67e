"""Length and diameter of the nail against worked examples."""

import pytest

from limbwright.plan.nail_fit import (
    cortex_left_mm,
    deepest_osteotomy_mm,
    minimum_nail_length_mm,
    overlap_course_mm,
    reamer_mm,
)


def test_osteotomy_at_150_and_35_mm_need_265_so_275_or_305_is_offered() -> None:
    """Common practice, no source: depth + lengthening + 50 overlap + 30 exposed; 30 mm steps from 245 mm."""
    least = minimum_nail_length_mm(
        osteotomy_depth_mm=150, lengthening_mm=35, overlap_mm=50, exposed_thin_mm=30
    )
    assert least == 265
    stocked = range(245, 400, 30)
    assert [n for n in stocked if n >= least][:2] == [275, 305]


@pytest.mark.parametrize(
    ("depth", "gain", "length"), [(100, 50, 230), (150, 35, 265), (165, 60, 305), (120, 0, 200)]
)
def test_length_and_deepest_osteotomy_are_one_rule(depth: float, gain: float, length: float) -> None:
    """Common practice, no source: N = D + L + V + E, V 50, E 30; solved for D: N 305, L 60 gives 165 mm."""
    rule = {"lengthening_mm": gain, "overlap_mm": 50, "exposed_thin_mm": 30}
    assert minimum_nail_length_mm(osteotomy_depth_mm=depth, **rule) == length
    assert deepest_osteotomy_mm(nail_length_mm=length, **rule) == depth


def test_overlap_shrinks_millimetre_by_millimetre() -> None:
    """Arithmetic, V(x) = N - E - D - x: nail 275, exposed 30, cut 150: 95 mm at the start, 60 after 35."""
    left = overlap_course_mm(thick_length_mm=245, osteotomy_depth_mm=150, gained_mm=[0, 10, 35])
    assert left == pytest.approx([95, 85, 60])


def test_cortex_left_after_reaming() -> None:
    """Arithmetic: outer 27 mm, nail 10.7 mm, reamer 2 mm wider, leaves 7.15 mm on each side."""
    reamer = reamer_mm(thick_diameter_mm=10.7, over_reaming_mm=2.0)
    assert reamer == pytest.approx(12.7)
    assert cortex_left_mm(outer_width_mm=27, reamer_diameter_mm=reamer) == pytest.approx(7.15)
