from dataclasses import replace

import numpy as np
import pytest

from limbwright.error import Missing
from limbwright.film.phantom import (
    FRONTAL_SETUP,
    SAGITTAL_SETUP,
    Angulation,
    Ball,
    Detail,
    Detector,
    Hardware,
    LegShape,
    Lengthening,
    Nail,
    PatientShape,
    Regenerate,
    RegenerateShape,
    Ruler,
    Screw,
    Stance,
    Treatment,
    standing_films,
    take_film,
)
from limbwright.film.phantom.bones import CORTEX
from limbwright.limb.anatomy import Bone, Side

BENT = LegShape(tibia_length_mm=330.0, deformities=(Angulation(bone=Bone.TIBIA, level=0.4, varus_deg=-14.0),))


def take(patient=None, *, setup, **how):
    return take_film(patient or PatientShape(), seed=1, setup=setup, detail=Detail.COARSE, **how)


def window(setup, below_mm, height_mm):
    """The same film cut down to a stretch below the hips; source and detector stay where they are."""
    magnified = height_mm * setup.magnification
    top = setup.beam_centre_y * setup.height_mm - (setup.top_above_hip_mm + below_mm) * setup.magnification
    return replace(setup, height_mm=magnified, top_above_hip_mm=-below_mm, beam_centre_y=top / magnified)


def test_the_same_seed_gives_the_same_film_and_another_seed_another():
    setup = replace(FRONTAL_SETUP, detector=Detector(pixel_mm=2.0))
    films = [take_film(PatientShape(), seed=seed, setup=setup, detail=Detail.COARSE) for seed in (4, 4, 5)]
    assert np.array_equal(films[0].picture, films[1].picture)
    assert not np.array_equal(films[0].picture, films[2].picture)


def test_the_picture_is_what_its_type_says(plain_film):
    picture = plain_film.picture
    assert picture.dtype == np.uint16
    assert picture.shape == (plain_film.setup.rows, plain_film.setup.columns)
    assert picture.max() == 2**14 - 1
    with pytest.raises(ValueError, match="read-only"):
        picture[0, 0] = 1


def test_a_patient_with_legs_exchanged_gives_the_mirrored_film(clean_frontal):
    films = [
        take(PatientShape(right=first, left=second), setup=clean_frontal)
        for first, second in ((BENT, LegShape()), (LegShape(), BENT))
    ]
    difference = np.abs(films[0].picture.astype(float) - films[1].picture[:, ::-1].astype(float))
    assert difference.mean() < 0.002 * 2**14
    left = films[0].truth.leg(Side.RIGHT).landmarks_px["ankle_centre"]
    right = films[1].truth.leg(Side.LEFT).landmarks_px["ankle_centre"]
    assert left[0] == pytest.approx(films[0].picture.shape[1] - 1 - right[0])
    assert left[1] == pytest.approx(right[1])


def test_side_views_of_equal_legs_are_mirrored(clean_sagittal):
    films = [take(PatientShape(), setup=clean_sagittal, side=side) for side in Side]
    difference = np.abs(films[0].picture.astype(float) - films[1].picture[:, ::-1].astype(float))
    assert difference.mean() < 0.004 * 2**14
    assert films[0].truth.anterior_at == "viewer right"
    assert films[1].truth.anterior_at == "viewer left"


def test_a_side_view_needs_a_side():
    with pytest.raises(Missing, match="Say which leg is in the beam"):
        take_film(PatientShape(), seed=1, setup=SAGITTAL_SETUP)


def test_the_ball_is_seen_where_truth_says_and_as_large(clean_frontal):
    setup = window(replace(clean_frontal, detector=replace(clean_frontal.detector, pixel_mm=0.4)), 430, 60)
    film = take(setup=setup, balls=(Ball(below_hip_mm=460.0),), white_at=60.0)
    (circle,) = film.truth.balls
    around = slice(round(circle.centre_px[0]) - 45, round(circle.centre_px[0]) + 45)
    shadow = film.truth.presentation.attenuation(film.picture)[:, around]
    rows, columns = np.nonzero(shadow > 3.0)
    columns = columns + around.start
    assert (columns.mean(), rows.mean()) == pytest.approx(circle.centre_px, abs=0.1)
    assert np.sqrt(len(rows) / np.pi) == pytest.approx(circle.radius_px, abs=0.25)


def test_a_ball_nearer_the_source_is_larger(clean_frontal):
    setup = replace(clean_frontal, width_mm=60, height_mm=60)
    circles = [
        take(setup=setup, balls=(Ball(toward_source_mm=away),)).truth.balls[0].radius_px
        for away in (0.0, 30.0)
    ]
    assert circles[1] / circles[0] == pytest.approx(2850 / 2820, rel=1e-3)


def test_ruler_ticks_are_a_centimetre_apart_in_the_bone_plane(clean_frontal):
    film = take(setup=replace(clean_frontal, height_mm=300.0), ruler=Ruler(length_mm=100.0))
    ticks = np.array(film.truth.ruler_ticks_px)
    assert len(ticks) == 11
    assert np.diff(ticks[:, 1]) == pytest.approx(10.0 * film.truth.px_per_mm_at_bone, rel=1e-6)


def nailed(**nail):
    return Treatment(
        right=Hardware(
            lengthenings=(Lengthening(bone=Bone.TIBIA, level=0.4, gap_mm=20.0),),
            nails=(Nail(bone=Bone.TIBIA, length_mm=245, thick_length_mm=190, top_level=0.05, **nail),),
        )
    )


def test_a_nail_is_as_thick_as_given(clean_frontal):
    setup = window(replace(clean_frontal, detector=replace(clean_frontal.detector, pixel_mm=0.3)), 540, 20)
    plain, with_nail = (
        take(setup=setup, treatment=treatment, white_at=20.0)
        for treatment in (
            Treatment(right=Hardware(lengthenings=(Lengthening(bone=Bone.TIBIA, level=0.4, gap_mm=20.0),))),
            nailed(),
        )
    )
    present = plain.truth.presentation
    metal = present.attenuation(with_nail.picture) - present.attenuation(plain.picture)
    width = (metal[metal.shape[0] // 2] > 0.3).sum() / plain.truth.px_per_mm_at_bone
    assert width == pytest.approx(10.7, abs=0.4)
    # Truth has the axis in the middle of that shadow, and the width in pixels.
    (nail,) = with_nail.truth.leg(Side.RIGHT).nails
    row = metal.shape[0] // 2
    shadow = np.flatnonzero(metal[row] > 0.3)
    axis = np.interp(row, nail.thick_axis_px[:, 1], nail.thick_axis_px[:, 0])
    assert shadow.mean() == pytest.approx(axis, abs=0.6)
    assert len(shadow) == pytest.approx(nail.thick_px, abs=1.5)


def test_a_gap_is_where_its_truth_says(clean_frontal):
    film = take(setup=replace(clean_frontal, width_mm=60, height_mm=60), treatment=nailed())
    (gap,) = film.truth.leg(Side.RIGHT).gaps
    assert gap.gap_mm == pytest.approx(20.0)
    span = np.hypot(*np.subtract(gap.lower_px, gap.upper_px)) / film.truth.px_per_mm_at_bone
    assert span == pytest.approx(20.0, rel=0.01)
    assert film.truth.leg(Side.LEFT).gaps == ()


def test_flesh_follows_a_bent_bone(clean_frontal):
    bent = LegShape(deformities=(Angulation(bone=Bone.TIBIA, level=0.5, varus_deg=-35.0),))
    film = take(PatientShape(right=bent), setup=clean_frontal)
    shown = film.truth.presentation.attenuation(film.picture)
    leg = film.truth.leg(Side.RIGHT)
    scale = film.truth.px_per_mm_at_bone
    for name in ("tibia_proximal_shaft_lower", "tibia_distal_shaft_upper"):
        column, row = leg.landmarks_px[name]
        for side in (-22, 22):
            assert shown[round(row), round(column + side * scale)] > 0.5, name


def test_screws_holes_and_pins_cast_their_shadow(clean_frontal):
    setup = window(clean_frontal, 450, 300)
    bare = take(setup=setup, treatment=nailed(), white_at=20.0)
    screws = (
        Screw(bone=Bone.TIBIA, level=0.15),
        Screw(bone=Bone.TIBIA, level=0.75, direction_deg=90.0, offset_mm=9.0),
        Screw(bone=Bone.TIBIA, level=0.9, head_mm=0.0, outside_mm=120.0),
    )
    full = nailed(holes_mm=(20.0, 235.0), bend_deg=10.0)
    full = replace(full, right=replace(full.right, screws=screws))
    treated = take(setup=setup, treatment=full, white_at=20.0)
    more = treated.picture.astype(int) - bare.picture.astype(int)
    assert (more > 200).sum() > 300
    assert (more < -200).any()


@pytest.mark.parametrize("shape", list(RegenerateShape))
def test_new_bone_attenuates_by_its_density(clean_frontal, shape):
    setup = window(clean_frontal, 560, 60)

    def film(regenerate):
        cut = Lengthening(bone=Bone.TIBIA, level=0.4, gap_mm=30.0, regenerate=regenerate)
        return take(setup=setup, treatment=Treatment(right=Hardware(lengthenings=(cut,))), white_at=8.0)

    empty = film(None)
    grown = film(Regenerate(shape=shape, density=0.4, interzone=0.0))
    present = empty.truth.presentation
    extra = present.attenuation(grown.picture) - present.attenuation(empty.picture)
    # Chord through the middle of the new bone: the shaft's width from front to back at the cut.
    section = np.interp(0.4, [0.30, 0.45], [31.0, 28.0])
    whole = {RegenerateShape.LATERAL: 0.5, RegenerateShape.CENTRAL: 0.5}.get(shape, 1.0)
    assert np.percentile(extra[extra > 0.05], 99) == pytest.approx(0.4 * CORTEX * section * whole, rel=0.06)


def test_an_open_growth_plate_is_darker_than_a_closed_one():
    setup = window(replace(FRONTAL_SETUP, detector=Detector(pixel_mm=0.8, tissue_texture=0.0)), 380, 60)
    films = [
        take(PatientShape(right=shape, left=shape), setup=setup, white_at=5.0)
        for shape in (LegShape(physes_open=True), LegShape())
    ]
    knee = films[0].truth.leg(Side.RIGHT).landmarks_px["femur_knee_centre"]
    scale = films[0].truth.px_per_mm_at_bone
    rows = slice(round(knee[1] - 34 * scale), round(knee[1] - 20 * scale))
    column = round(knee[0] + 28 * scale)
    first, second = (film.picture[rows, column].astype(int) for film in films)
    assert (second - first).max() > 150


def test_standing_films_are_one_patient_three_times():
    setups = {
        "frontal": replace(FRONTAL_SETUP, detector=Detector(pixel_mm=2.0)),
        "sagittal": replace(SAGITTAL_SETUP, detector=Detector(pixel_mm=2.0)),
    }
    films = standing_films(PatientShape(left=BENT), seed=2, detail=Detail.COARSE, **setups)
    assert [leg.side for leg in films.frontal.truth.legs] == [Side.RIGHT, Side.LEFT]
    for side in Side:
        own = films.sagittal(side)
        assert [leg.side for leg in own.truth.legs] == [side]
        assert own.truth.leg(side).angles_deg == pytest.approx(dict(films.frontal.truth.leg(side).angles_deg))


def test_a_turned_leg_is_reported_as_turned(clean_frontal):
    small = replace(clean_frontal, width_mm=60, height_mm=60)
    straight = take(setup=small).truth.leg(Side.RIGHT)
    turned = take(setup=small, right_stance=Stance(rotation_deg=20.0)).truth.leg(Side.RIGHT)
    assert turned.angles_deg["mLDFA"] == pytest.approx(straight.angles_deg["mLDFA"])
    assert turned.angles_on_film_deg["mLPFA"] != pytest.approx(straight.angles_on_film_deg["mLPFA"], abs=0.5)


@pytest.mark.parametrize("side", list(Side))
def test_a_bent_nail_leans_its_upper_end_to_the_front(side):
    """Apex of the bend posterior: 10 deg over 50 mm bring the end 8.7 mm to the front of the film."""
    hardware = nailed(bend_deg=10.0, bend_depth_mm=50.0).right
    film = take(
        setup=replace(SAGITTAL_SETUP, detector=Detector(pixel_mm=2.0)),
        side=side,
        treatment=Treatment(right=hardware) if side is Side.RIGHT else Treatment(left=hardware),
    )
    leg = film.truth.leg(side)
    (nail,) = leg.nails
    column, row = nail.thick_axis_px.T
    straight = np.polyfit(row[-20:], column[-20:], 1)
    to_the_front = np.sign(leg.landmarks_px["plateau_anterior"][0] - leg.landmarks_px["plateau_posterior"][0])
    lean = (column[0] - np.polyval(straight, row[0])) * to_the_front / film.truth.px_per_mm_at_bone
    assert lean == pytest.approx(50 * np.sin(np.radians(10)), rel=0.05)
