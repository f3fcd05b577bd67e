from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.error import OutOfRange
from limbwright.implant.nail import Direction, Hole, HoleDirection, Nail, NailEnd
from limbwright.limb.anatomy import Bone, Fragment, Projection
from limbwright.mechanics.canal import Walls
from limbwright.plan.canal import CanalAlong
from limbwright.plan.nail_fit import (
    NailDemand,
    NailRules,
    canal_fit_mm,
    cortex_left_mm,
    deepest_osteotomy_mm,
    minimum_nail_length_mm,
    nail_verdict,
    offered,
    overlap_course_mm,
    reamer_mm,
    shape_offset_mm,
)

RULES = NailRules(
    overlap_mm=50,
    exposed_thin_mm=30,
    tip_clearance_mm=15,
    over_reaming_mm=2,
    reaming_beyond_canal_mm=2,
    cortex_left_mm=3,
    misfit_mm=1,
    hole_to_osteotomy_mm=20,
    screws_per_fragment=2,
)
DEMAND = NailDemand(osteotomy_depth_mm=110, lengthening_mm=40, room_mm=340)


def hole(end: NailEnd, distance_mm: float) -> Hole:
    return Hole(end=end, distance_mm=distance_mm, direction=HoleDirection.MEDIOLATERAL, screw_diameter_mm=5)


HOLES = (hole(NailEnd.THICK, 20), hole(NailEnd.THICK, 35), hole(NailEnd.THIN, 8), hole(NailEnd.THIN, 20))


BENT_ASIDE = {"bend_deg": 10, "bend_depth_mm": 50, "bend_plane": Projection.FRONTAL}


def nail(**changes) -> Nail:  # type: ignore[no-untyped-def]
    standard = Nail(
        name="demo",
        bone=Bone.TIBIA,
        direction=Direction.ANTEGRADE,
        thick_diameter_mm=10.7,
        thin_diameter_mm=8,
        length_mm=245,
        stroke_mm=50,
        exposed_thin_mm=30,
        holes=HOLES,
        elastic_modulus_gpa=110,
    )
    return replace(standard, **changes)


def canal(width: float = 12.0, outer: float | None = 26.0, aside: float = 0.0) -> CanalAlong:
    def walls(w: float) -> Walls:
        return Walls(
            depth_mm=(0.0, 340.0), negative_mm=(aside - w / 2,) * 2, positive_mm=(aside + w / 2,) * 2
        )

    return CanalAlong(
        fragment=Fragment.PROXIMAL,
        projection=Projection.FRONTAL,
        inner=walls(width),
        outer=walls(outer) if outer else None,
    )


def verdict(n: Nail, demand: NailDemand = DEMAND, **changes):  # type: ignore[no-untyped-def]
    return nail_verdict(n, demand=demand, rules=replace(RULES, **changes), canals=(canal(),))


@given(st.floats(60, 200), st.floats(0, 80), st.floats(30, 70), st.floats(20, 40))
def test_the_shortest_nail_has_exactly_the_overlap_left(
    depth: float, gain: float, overlap: float, exposed: float
) -> None:
    length = minimum_nail_length_mm(
        osteotomy_depth_mm=depth, lengthening_mm=gain, overlap_mm=overlap, exposed_thin_mm=exposed
    )
    left = overlap_course_mm(thick_length_mm=length - exposed, osteotomy_depth_mm=depth, gained_mm=gain)
    assert left == pytest.approx(overlap)
    assert deepest_osteotomy_mm(
        nail_length_mm=length, lengthening_mm=gain, overlap_mm=overlap, exposed_thin_mm=exposed
    ) == pytest.approx(depth)


def test_a_negative_length_is_refused() -> None:
    with pytest.raises(OutOfRange, match="lengthening is -5 mm, expected 0 to 500 mm"):
        minimum_nail_length_mm(osteotomy_depth_mm=100, lengthening_mm=-5, overlap_mm=50, exposed_thin_mm=30)


def test_a_fitting_nail_shows_its_numbers() -> None:
    found = verdict(nail())
    assert found.fits
    assert found.reasons == ()
    assert found.number("least length") == 230
    assert found.number("overlap at full length") == 65
    assert found.number("tip to joint") == 95
    assert found.number("cortex left") == pytest.approx((26 - 12.7) / 2)
    assert found.number("most bone reamed on one side") == pytest.approx(0.35)


@pytest.mark.parametrize(
    ("changed", "demand", "rules", "why"),
    [
        ({"length_mm": 225}, DEMAND, {}, "225 mm is shorter than the 230.0 mm needed"),
        ({"length_mm": 335}, DEMAND, {}, "335 mm is longer than the 325.0 mm that leave 15 mm"),
        ({"stroke_mm": 30}, DEMAND, {}, "stroke 30 mm is less than 40.0 mm to gain"),
        ({"exposed_thin_mm": 50}, DEMAND, {}, "245 mm is shorter than the 250.0 mm needed"),
        ({}, replace(DEMAND, osteotomy_depth_mm=50), {}, "comes within 15.0 mm of a cut face, 20 mm wanted"),
        ({"holes": (*HOLES, hole(NailEnd.THICK, 130))}, DEMAND, {}, "comes within 0.0 mm of a cut face"),
        ({"holes": HOLES[:1]}, DEMAND, {}, "1 locking hole(s) in the entry fragment, 2 wanted"),
        ({"holes": HOLES[:2]}, DEMAND, {}, "0 locking hole(s) in the moving fragment, 2 wanted"),
        ({"thick_diameter_mm": 18.5}, DEMAND, {}, "leaves 2.8 mm of cortex at depth"),
        (BENT_ASIDE, DEMAND, {}, "its shape stands 7.8 mm outside the reamed canal"),
    ],
)  # fmt: skip
def test_every_rejected_nail_says_why(changed, demand, rules, why) -> None:
    found = verdict(nail(**changed), demand, **rules)
    assert not found.fits
    assert any(why in reason for reason in found.reasons), found.reasons


def test_a_hole_of_the_thin_part_moves_with_its_fragment() -> None:
    # At full length the thin part's holes are as far from their cut face as at the start.
    assert verdict(nail(), replace(DEMAND, lengthening_mm=0)).fits
    assert verdict(nail(), DEMAND).fits


def test_a_hole_of_the_thick_part_that_the_cut_face_stops_short_of_counts_with_what_is_left() -> None:
    n = nail(holes=(*HOLES, hole(NailEnd.THICK, 200)))
    found = verdict(n)  # cut face travels from 110 to 150 mm
    assert found.fits
    assert not verdict(nail(holes=(*HOLES, hole(NailEnd.THICK, 165)))).fits


def test_a_bend_in_the_other_plane_does_not_matter_here() -> None:
    n = nail(bend_deg=10, bend_depth_mm=50, bend_plane=Projection.SAGITTAL)
    assert verdict(n).fits
    assert shape_offset_mm([0.0, 25, 50, 90], bend_deg=10, bend_depth_mm=50) == pytest.approx(
        [8.816, 4.408, 0, 0], abs=1e-3
    )


def test_an_eccentric_line_leaves_less_cortex_on_one_side() -> None:
    middle, cortex = canal_fit_mm(nail(), 12.7, canal(aside=2.0), np.array([100.0]))
    assert cortex == pytest.approx([26 / 2 - 2 - 12.7 / 2])
    assert middle == pytest.approx([-1.0])
    assert canal_fit_mm(nail(), 12.7, canal(outer=None), np.array([100.0]))[1] is None


def test_what_is_not_traced_is_not_judged() -> None:
    found = nail_verdict(nail(), demand=DEMAND, rules=RULES, canals=())
    assert found.fits
    assert "narrowest canal" not in {n.name for n in found.numbers}
    beyond = replace(canal(), inner=replace(canal().inner, depth_mm=(300.0, 340.0)), outer=None)
    assert "narrowest canal" not in {
        n.name for n in nail_verdict(nail(), demand=DEMAND, rules=RULES, canals=(beyond,)).numbers
    }


def test_reamer_and_cortex() -> None:
    assert reamer_mm(thick_diameter_mm=10.7, over_reaming_mm=2) == pytest.approx(12.7)
    assert cortex_left_mm(outer_width_mm=[27.0, 20.0], reamer_diameter_mm=12.7) == pytest.approx([7.15, 3.65])
    assert verdict(nail(reamer_over_mm=1.0)).number("reamer") == pytest.approx(11.7)


def family():  # type: ignore[no-untyped-def]
    return [
        verdict(nail(name=f"{d}/{length}", length_mm=length, thick_diameter_mm=d))
        for d in (8.5, 10.7)
        for length in (215, 245, 275, 305)
    ]


@pytest.mark.parametrize(
    ("length", "diameter", "count", "names"),
    [
        ("shorter", "thicker", 2, ["10.7/245", "10.7/275"]),
        ("longer", "thicker", 2, ["10.7/275", "10.7/245"]),
        ("shorter", "thinner", 1, ["8.5/245"]),
    ],
)
def test_the_offer_follows_the_surgeons_preference(length, diameter, count, names) -> None:
    found = offered(family(), length_preference=length, diameter_preference=diameter, lengths=count)
    assert [v.nail.name for v in found] == names


def test_nothing_is_offered_when_nothing_fits() -> None:
    rejected = [verdict(nail(length_mm=215))]
    assert offered(rejected, length_preference="shorter", diameter_preference="thicker", lengths=2) == ()
