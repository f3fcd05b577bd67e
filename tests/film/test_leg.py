import cmath
import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.error import Missing
from limbwright.film.film import (
    CalibrationType,
    Film,
    FilmWall,
    HeaderScale,
    Mark,
    Provenance,
    ScaleEvidence,
    ViewerSide,
)
from limbwright.film.leg import Stated, usual_reading_error, views_of
from limbwright.finding import Severity
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.deformity import deformity
from limbwright.limb.discrepancy import discrepancy
from limbwright.limb.landmark import Landmark
from limbwright.limb.measure import readings
from limbwright.limb.template import templates
from limbwright.limb.view import Border, Surface

SCALE = ScaleEvidence(
    header=HeaderScale(pixel_spacing_mm=(0.2, 0.2), calibration_type=CalibrationType.FIDUCIAL)
)
# The right leg stands at the viewer's left; its lateral side faces the viewer's left.
RIGHT = {
    Landmark.FEMORAL_HEAD_CENTRE: (900.0, 500.0),
    Landmark.FEMUR_KNEE_CENTRE: (850.0, 2600.0),
    Landmark.MEDIAL_FEMORAL_CONDYLE: (980.0, 2600.0),
    Landmark.LATERAL_FEMORAL_CONDYLE: (720.0, 2590.0),
    Landmark.TIBIA_KNEE_CENTRE: (850.0, 2610.0),
    Landmark.MEDIAL_PLATEAU: (990.0, 2640.0),
    Landmark.LATERAL_PLATEAU: (700.0, 2640.0),
    Landmark.ANKLE_CENTRE: (900.0, 4400.0),
}
WIDTH = 3000


def marks(points, **options):
    return {k: Mark(x_px=x, y_px=y, **options) for k, (x, y) in points.items()}


def mirrored(points):
    return {k: (WIDTH - 1 - x, y) for k, (x, y) in points.items()}


def film(name="standing", **options):
    basics = {"projection": Projection.FRONTAL, "width_px": WIDTH, "height_px": 5000, "scale": SCALE}
    return Film(name=name, **{**basics, **options})


def test_side_and_up_are_resolved_once():
    view = views_of((film(right=marks(RIGHT)),), Side.RIGHT).need(Projection.FRONTAL)
    head, knee = view.spots[Landmark.FEMORAL_HEAD_CENTRE], view.spots[Landmark.FEMUR_KNEE_CENTRE]
    assert knee.across_mm - head.across_mm == pytest.approx(10.0)  # 50 px to the viewer's left: lateral
    assert head.proximal_mm - knee.proximal_mm == pytest.approx(420.0)
    assert view.scaled
    assert view.scale_relative_sd == 0.02
    assert head.patch == "standing"


@pytest.mark.parametrize("seen_from", list(ViewerSide))
def test_both_legs_and_both_ways_of_hanging_a_film_measure_the_same(seen_from):
    plain = seen_from is ViewerSide.VIEWER_LEFT
    both = film(
        right=marks(RIGHT if plain else mirrored(RIGHT)),
        left=marks(mirrored(RIGHT) if plain else RIGHT),
        right_side_at=seen_from,
    )
    right, left = (views_of((both,), side).need(Projection.FRONTAL) for side in Side)
    reference = views_of((film(right=marks(RIGHT)),), Side.RIGHT).need(Projection.FRONTAL)
    expected = readings(reference, age_years=30)
    for view in (right, left):
        for reading, other in zip(readings(view, age_years=30).values, expected.values, strict=True):
            assert reading.value.value == pytest.approx(other.value.value, abs=1e-9)
            assert reading.value.sd == pytest.approx(other.value.sd, rel=1e-6)


def test_anterior_is_across_plus_wherever_it_appears():
    points = {Landmark.PLATEAU_ANTERIOR: (1200.0, 900.0), Landmark.PLATEAU_POSTERIOR: (900.0, 930.0)}
    for where, marked in ((ViewerSide.VIEWER_RIGHT, points), (ViewerSide.VIEWER_LEFT, mirrored(points))):
        side_film = film(projection=Projection.SAGITTAL, anterior_at=where, left=marks(marked))
        view = views_of((side_film,), Side.LEFT).need(Projection.SAGITTAL)
        anterior, posterior = (view.spots[k] for k in points)
        assert anterior.across_mm - posterior.across_mm == pytest.approx(60)
        assert anterior.proximal_mm - posterior.proximal_mm == pytest.approx(6)


def test_a_film_without_scale_gives_pixels_and_right_angles():
    flat = ScaleEvidence(header=HeaderScale(pixel_spacing_mm=(0.4, 0.2), imager_pixel_spacing_mm=(0.4, 0.2)))
    # The same leg on pixels twice as high has half as many rows.
    half = {k: (x, y / 2) for k, (x, y) in RIGHT.items()}
    result = views_of((film(right=marks(half), scale=flat),), Side.RIGHT)
    view = result.need(Projection.FRONTAL)
    assert not view.scaled
    assert [f.id for f in result.findings] == ["film-without-scale"]
    reference = views_of((film(right=marks(RIGHT)),), Side.RIGHT).need(Projection.FRONTAL)
    expected = readings(reference, age_years=30)
    for reading in readings(view, age_years=30).values:
        assert reading.value.value == pytest.approx(expected.need(reading.measure).value.value)
        assert reading.value.sd == pytest.approx(expected.need(reading.measure).value.sd)
    assert view.spots[Landmark.FEMORAL_HEAD_CENTRE].sd_mm == pytest.approx(1.5 / 0.2)


def test_reading_errors_by_kind_of_landmark_and_by_mark():
    usual = usual_reading_error()
    assert usual.of(Landmark.ANKLE_CENTRE) == 1.5
    assert usual.of(Landmark.MEDIAL_PLATEAU) == 0.5
    assert usual.of(Landmark.TIBIA_DISTAL_SHAFT_LOWER) == 1.0
    assert usual.of(Landmark.GREATER_TROCHANTER_TIP) == 1.5
    own = film(right=marks(RIGHT, sd_px=3.0))
    assert views_of((own,), Side.RIGHT).frontal.spots[Landmark.ANKLE_CENTRE].sd_mm == pytest.approx(0.6)
    careful = replace(usual, centre_mm=0.7)
    view = views_of((film(right=marks(RIGHT)),), Side.RIGHT, reading_error=careful).frontal
    assert view.spots[Landmark.ANKLE_CENTRE].sd_mm == 0.7


def test_walls_are_converted_with_their_leg():
    wall = FilmWall(
        side=Side.RIGHT,
        bone=Bone.TIBIA,
        surface=Surface.INNER,
        border=Border.LATERAL,
        x_px=(800.0, 790.0),
        y_px=(3000.0, 3500.0),
        sd_px=2.0,
    )
    both = film(right=marks(RIGHT), left=marks(mirrored(RIGHT)), walls=(wall,))
    (placed,) = views_of((both,), Side.RIGHT).frontal.walls
    assert placed.across_mm == pytest.approx((-160.0, -158.0))
    assert placed.proximal_mm == pytest.approx((-600.0, -700.0))
    assert placed.sd_mm == pytest.approx(0.4)
    assert views_of((both,), Side.LEFT).frontal.walls == ()


@pytest.mark.parametrize(
    ("projection", "surface", "provenance", "said"),
    [
        (Projection.SAGITTAL, Surface.INNER, Provenance.SNAPPED, True),
        (Projection.SAGITTAL, Surface.INNER, Provenance.PINNED, False),
        (Projection.SAGITTAL, Surface.OUTER, Provenance.SNAPPED, False),
        (Projection.FRONTAL, Surface.INNER, Provenance.SNAPPED, False),
    ],
)
def test_a_tibial_canal_traced_from_the_side_is_to_be_looked_at(projection, surface, provenance, said):
    wall = FilmWall(
        side=Side.RIGHT,
        bone=Bone.TIBIA,
        surface=surface,
        border=Border.ANTERIOR if projection is Projection.SAGITTAL else Border.LATERAL,
        x_px=(800.0, 790.0),
        y_px=(3000.0, 3500.0),
        provenance=provenance,
    )
    facing = ViewerSide.VIEWER_LEFT if projection is Projection.SAGITTAL else None
    taken = film(projection=projection, anterior_at=facing, walls=(wall,))
    ids = [f.id for f in views_of((taken,), Side.RIGHT).findings]
    assert ids.count("tibial-canal-from-the-side") == int(said)


def test_two_films_of_one_leg_become_one_view_and_keep_their_pixels():
    upper = {k: RIGHT[k] for k in list(RIGHT)[:4]} | {
        k: RIGHT[k] for k in (Landmark.MEDIAL_PLATEAU, Landmark.LATERAL_PLATEAU)
    }
    lower = {k: (x + 300, y - 2000) for k, (x, y) in list(RIGHT.items())[4:]}
    result = views_of((film("thigh", right=marks(upper)), film("shank", right=marks(lower))), Side.RIGHT)
    whole = views_of((film(right=marks(RIGHT)),), Side.RIGHT)
    for reading in readings(whole.frontal, age_years=30).values:
        found = readings(result.frontal, age_years=30).need(reading.measure)
        assert found.value.value == pytest.approx(reading.value.value)
    thigh, shank = result.frames
    assert thigh.placement is None
    x, y = lower[Landmark.ANKLE_CENTRE]
    ankle = result.frontal.spots[Landmark.ANKLE_CENTRE]
    assert shank.limb_point(x, y) == pytest.approx((ankle.across_mm, ankle.proximal_mm))
    assert shank.film_point(ankle.across_mm, ankle.proximal_mm) == pytest.approx((x, y))
    assert set(result.scales) == {"thigh", "shank"}


@given(x=st.floats(0, 3000), y=st.floats(0, 5000))
def test_pixels_and_limb_points_map_back(x, y):
    (frame,) = views_of((film(right=marks(RIGHT)),), Side.RIGHT).frames
    assert frame.film_point(*frame.limb_point(x, y)) == pytest.approx((x, y))


def test_a_leg_that_no_film_shows_is_missing():
    result = views_of((film(right=marks(RIGHT)),), Side.LEFT)
    assert result.frontal is None
    assert result.sagittal is None
    with pytest.raises(Missing, match="left leg: no sagittal film shows the left leg"):
        result.need(Projection.SAGITTAL)


def test_a_header_that_contradicts_the_case_is_a_stop():
    standing = film(right=marks(RIGHT))
    stated = {"standing": Stated(laterality=Side.LEFT, projection=Projection.SAGITTAL)}
    result = views_of((standing,), Side.RIGHT, stated=stated)
    assert [f.id for f in result.findings] == ["header-side-contradicts", "header-projection-contradicts"]
    assert {f.severity for f in result.findings} == {Severity.STOP}
    assert "the header says left, but landmarks of the right leg" in result.findings[0].words
    agreeing = {"standing": Stated(laterality=Side.RIGHT, projection=Projection.FRONTAL)}
    assert views_of((standing,), Side.RIGHT, stated=agreeing).findings == ()


def leg_on_film(bends):
    """Right leg hanging at the viewer's left: a chain of bones, each leaning a little, in pixels."""
    thigh, shank, condyle, plateau, plafond = (cmath.exp(1j * math.radians(a)) for a in bends)
    hip = 800 + 400j
    knee, ankle = hip + 2150j * thigh, hip + 2150j * thigh + 1800j * shank
    points = {
        Landmark.FEMORAL_HEAD_CENTRE: hip,
        Landmark.FEMUR_DISTAL_SHAFT_UPPER: knee - 900j * thigh * shank,
        Landmark.FEMUR_DISTAL_SHAFT_LOWER: knee - 450j * thigh * shank,
        Landmark.FEMUR_KNEE_CENTRE: knee,
        Landmark.MEDIAL_FEMORAL_CONDYLE: knee + 130 * condyle,
        Landmark.LATERAL_FEMORAL_CONDYLE: knee - 120 * condyle,
        Landmark.TIBIA_KNEE_CENTRE: knee + 10j,
        Landmark.MEDIAL_PLATEAU: knee + 30j + 150 * plateau,
        Landmark.LATERAL_PLATEAU: knee + 30j - 160 * plateau,
        Landmark.TIBIA_PROXIMAL_SHAFT_UPPER: knee + 20 + 400j * shank,
        Landmark.TIBIA_PROXIMAL_SHAFT_LOWER: knee + 20 + 700j * shank,
        Landmark.TIBIA_DISTAL_SHAFT_UPPER: ankle + 20 - 700j * shank * plafond,
        Landmark.TIBIA_DISTAL_SHAFT_LOWER: ankle + 20 - 300j * shank * plafond,
        Landmark.MEDIAL_PLAFOND: ankle + 75 * plafond,
        Landmark.LATERAL_PLAFOND: ankle - 70 * plafond,
        Landmark.ANKLE_CENTRE: ankle,
    }
    return {k: (z.real, z.imag) for k, z in points.items()}


@settings(max_examples=25, deadline=None)
@given(bends=st.tuples(*[st.floats(-8, 8)] * 5), right_side_at=st.sampled_from(ViewerSide))
def test_mirrored_legs_give_identical_results(bends, right_side_at):
    points = leg_on_film(bends)
    near, far = points, mirrored(points)
    if right_side_at is ViewerSide.VIEWER_RIGHT:
        near, far = far, near
    both = film(right=marks(near), left=marks(far), right_side_at=right_side_at)
    right, left = (views_of((both,), side).need(Projection.FRONTAL) for side in Side)
    known = templates(None, age_years=30)
    for one, other in zip(
        readings(right, age_years=30).values, readings(left, age_years=30).values, strict=True
    ):
        assert other.value.value == pytest.approx(one.value.value, abs=1e-9)
        assert other.value.sd == pytest.approx(one.value.sd, rel=1e-6)
    bones = [deformity(view, Bone.TIBIA, known) for view in (right, left)]
    assert bones[0].pattern is bones[1].pattern
    assert [a.outcome for a in bones[0].apexes] == [a.outcome for a in bones[1].apexes]
    for one, other in zip(bones[0].apexes, bones[1].apexes, strict=True):
        assert other.angulation.value == pytest.approx(one.angulation.value, abs=1e-9)
        if one.from_proximal_joint is not None:
            assert other.from_proximal_joint.value == pytest.approx(
                one.from_proximal_joint.value, abs=1e-6, rel=1e-6
            )
    assert discrepancy(right, left).total.value == pytest.approx(0, abs=1e-9)
