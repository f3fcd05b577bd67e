"""A nail as a value."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.error import OutOfRange
from limbwright.implant.nail import Direction, Hole, HoleDirection, Nail, NailEnd
from limbwright.limb.anatomy import Bone

NAIL = Nail(
    name="T-10.7/305",
    bone=Bone.TIBIA,
    direction=Direction.ANTEGRADE,
    thick_diameter_mm=10.7,
    thin_diameter_mm=8.0,
    length_mm=305,
    stroke_mm=50,
    exposed_thin_mm=30,
    holes=(
        Hole(end=NailEnd.THICK, distance_mm=20, direction=HoleDirection.MEDIOLATERAL, screw_diameter_mm=5),
        Hole(end=NailEnd.THIN, distance_mm=8, direction=HoleDirection.ANTEROPOSTERIOR, screw_diameter_mm=5),
    ),
    elastic_modulus_gpa=114,
)


def test_thick_part_ends_where_the_exposed_thin_part_begins() -> None:
    assert NAIL.thick_length_mm == 275
    assert NAIL.diameter_at_mm(275) == 10.7
    assert NAIL.diameter_at_mm(275.1) == 8.0


def test_overlap_shrinks_by_what_is_gained() -> None:
    assert NAIL.overlap_at_mm(osteotomy_depth_mm=165, lengthening_mm=0) == 110
    assert NAIL.overlap_at_mm(osteotomy_depth_mm=165, lengthening_mm=50) == 60
    assert NAIL.overlap_at_mm(osteotomy_depth_mm=250, lengthening_mm=50) == -25


@given(depth_mm=st.floats(20, 250), gained_mm=st.floats(0, 50))
def test_overlap_thick_part_above_and_gap_make_up_the_housing(depth_mm: float, gained_mm: float) -> None:
    overlap_mm = NAIL.overlap_at_mm(osteotomy_depth_mm=depth_mm, lengthening_mm=gained_mm)
    assert depth_mm + gained_mm + overlap_mm == pytest.approx(NAIL.thick_length_mm)


def test_a_hole_of_the_thin_end_moves_out() -> None:
    thick, thin = NAIL.holes
    assert NAIL.hole_depth_mm(thick, lengthening_mm=40) == 20
    assert NAIL.hole_depth_mm(thin) == 297
    assert NAIL.hole_depth_mm(thin, lengthening_mm=40) == 337
    assert NAIL.length_at_mm(40) == 345


@pytest.mark.parametrize("gained_mm", [-1, 50.1, float("nan")])
def test_lengthening_beyond_the_stroke_is_refused(gained_mm: float) -> None:
    with pytest.raises(OutOfRange, match=r"lengthening of nail 'T-10\.7/305' is .*expected 0 to 50 mm"):
        NAIL.overlap_at_mm(osteotomy_depth_mm=150, lengthening_mm=gained_mm)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"name": " "}, "the nail has no name"),
        ({"name": "T-{length}"}, "the name has a brace in it"),
        ({"bone": Bone.FIBULA}, "bone is fibula, expected femur or tibia"),
        ({"direction": Direction.RETROGRADE}, "retrograde nail is given for the tibia"),
        ({"thin_diameter_mm": 10.7}, r"thin part 10\.7 mm is not thinner than the thick part 10\.7 mm"),
        ({"thick_bore_mm": 11}, r"bore 11 mm is not narrower than the thick part"),
        (
            {"length_mm": 200, "stroke_mm": 180},
            "exposed thin part 30 mm and stroke 180 mm together reach .* 200 mm",
        ),
        ({"bend_deg": 10}, "bend 10 deg at depth 0 mm, expected both or neither"),
        (
            {"bend_deg": 10, "bend_depth_mm": 200, "length_mm": 220},
            "bend at 200 mm lies beyond the thick part of 190 mm",
        ),
        (
            {"exposed_thin_mm": 5},
            "hole 8 mm from the thin end does not lie in the thin part, which is 5 mm long",
        ),
        ({"thin_diameter_mm": 5}, r"hole for a 5 mm screw is as wide as the thin part \(5 mm\)"),
        ({"weight_limit_kg": 0}, r"weight limit of nail 'T-10\.7/305' is 0 kg, expected 1 to 200 kg"),
        ({"length_mm": 2450}, r"length of nail 'T-10\.7/305' is 2450 mm, expected 100 to 600 mm"),
        ({"elastic_modulus_gpa": 114000}, "expected 20 to 300 GPa"),
    ],
)
def test_an_impossible_nail_cannot_be_built(changes: dict[str, object], message: str) -> None:
    with pytest.raises(OutOfRange, match=message):
        replace(NAIL, **changes)  # type: ignore[arg-type]  # one bad field at a time


def test_a_hole_outside_any_nail_is_refused() -> None:
    with pytest.raises(OutOfRange, match="hole distance is 0 mm, expected 1 to 400 mm"):
        Hole(end=NailEnd.THICK, distance_mm=0, direction=HoleDirection.OBLIQUE, screw_diameter_mm=5)
