"""The truth is the leg that was asked for, and its shadow by perspective."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.film.phantom import Angulation, Detail, LegShape, PatientShape, Stance, take_film
from limbwright.film.phantom.angles import angles_in_space, angles_on_film
from limbwright.film.phantom.hardware import NO_HARDWARE, Hardware, Lengthening
from limbwright.film.phantom.placement import leg_landmarks, placed_leg
from limbwright.film.phantom.ray import beam_for
from limbwright.film.phantom.setting import XraySetup
from limbwright.limb.anatomy import Bone, Projection, Side

HIPS = 176.0


def standing(shape, *, hardware=NO_HARDWARE, stance=None, side=Side.RIGHT):
    leg = placed_leg(shape, hardware, stance or Stance(), side=side, hip_distance_mm=HIPS)
    return leg, leg_landmarks(leg, hardware)


def in_space(shape, **how):
    leg, places = standing(shape, **how)
    hand = 1.0 if leg.side is Side.RIGHT else -1.0
    return angles_in_space({name: at * np.array([1.0, 1.0, hand]) for name, at in places.items()})


shapes = st.builds(
    LegShape,
    femur_length_mm=st.floats(330, 500),
    tibia_length_mm=st.floats(270, 430),
    mldfa_deg=st.floats(78, 98),
    mpta_deg=st.floats(75, 98),
    jlca_deg=st.floats(-3, 6),
    ldta_deg=st.floats(80, 98),
    mlpfa_deg=st.floats(78, 100),
    pdfa_deg=st.floats(75, 92),
    ppta_deg=st.floats(70, 92),
    adta_deg=st.floats(70, 92),
    neck_shaft_deg=st.floats(115, 145),
    anatomic_mechanical_deg=st.floats(5, 9),
)
stances = st.builds(
    Stance,
    rotation_deg=st.floats(-25, 25),
    knee_flexion_deg=st.floats(0, 25),
    ankle_offset_mm=st.floats(40, 150),
)
NAMES = {
    "mLDFA": "mldfa_deg",
    "MPTA": "mpta_deg",
    "JLCA": "jlca_deg",
    "LDTA": "ldta_deg",
    "mLPFA": "mlpfa_deg",
    "PDFA": "pdfa_deg",
    "PPTA": "ppta_deg",
    "ADTA": "adta_deg",
}


@settings(max_examples=25, deadline=None)
@given(shape=shapes)
def test_angles_in_space_are_the_given_ones(shape):
    found = in_space(shape)
    for name, field in NAMES.items():
        assert found[name] == pytest.approx(getattr(shape, field), abs=0.05), name
    assert found["NSA"] == pytest.approx(shape.neck_shaft_deg, abs=0.05)
    assert found["aLDFA"] == pytest.approx(shape.mldfa_deg - shape.anatomic_mechanical_deg, abs=0.05)
    assert found["HKA"] == pytest.approx(shape.mldfa_deg - shape.mpta_deg + shape.jlca_deg, abs=0.05)


@settings(max_examples=15, deadline=None)
@given(shape=shapes, stance=stances)
def test_how_the_leg_is_held_does_not_change_its_bones(shape, stance):
    straight, held = in_space(shape), in_space(shape, stance=stance)
    for name in set(NAMES) - {"JLCA"}:
        assert held[name] == pytest.approx(straight[name], abs=1e-6), name


@settings(max_examples=15, deadline=None)
@given(shape=shapes, stance=stances)
def test_left_is_right_in_a_mirror(shape, stance):
    _, right = standing(shape, stance=stance)
    _, left = standing(shape, stance=stance, side=Side.LEFT)
    for name, place in right.items():
        assert left[name] == pytest.approx(place * np.array([1.0, 1.0, -1.0]), abs=1e-9), name


def on_film(places, side, setup):
    beam = beam_for(setup, side, HIPS)
    sign = -1.0 if side is Side.RIGHT else 1.0
    flat = {name: beam.project(at[None])[0] for name, at in places.items()}
    return angles_on_film({name: np.array([sign * at[0], -at[1]]) for name, at in flat.items()}, frontal=True)


def test_turning_the_leg_alone_moves_projected_joint_angles_by_more_than_half_a_degree():
    shape = LegShape(
        deformities=(Angulation(bone=Bone.TIBIA, level=0.3, varus_deg=4.0, procurvatum_deg=12.0),)
    )
    setup = XraySetup()
    straight = on_film(standing(shape)[1], Side.RIGHT, setup)
    turned = on_film(standing(shape, stance=Stance(rotation_deg=12.0))[1], Side.RIGHT, setup)
    assert abs(turned["MPTA"] - straight["MPTA"]) > 0.5
    assert abs(turned["HKA"] - straight["HKA"]) > 0.5


@pytest.mark.parametrize("bone", [Bone.FEMUR, Bone.TIBIA])
@pytest.mark.parametrize("varus", [-15.0, 8.0])
def test_a_bend_has_its_angle_and_its_apex_at_the_given_level(bone, varus):
    level = 0.5
    shape = LegShape(deformities=(Angulation(bone=bone, level=level, varus_deg=varus),))
    leg, places = standing(shape)
    pieces = [
        np.stack([places[f"{bone}_{pair}_shaft_{end}"] for end in ("upper", "lower")])
        for pair in ("proximal", "distal")
    ]
    ways = [(piece[1] - piece[0]) / np.linalg.norm(piece[1] - piece[0]) for piece in pieces]
    if bone is Bone.TIBIA:
        assert np.degrees(np.arccos(ways[0] @ ways[1])) == pytest.approx(abs(varus), abs=1e-6)
        now, apex = leg.tibia_now, np.array([[0.0, -level * shape.tibia_length_mm, -4.0]])
        offsets = [
            np.linalg.norm(np.cross(now(apex)[0] - piece[0], way))
            for piece, way in zip(pieces, ways, strict=True)
        ]
        assert offsets == pytest.approx([0.0, 0.0], abs=1e-6)
    base = in_space(LegShape())["HKA"]
    # The apex at mid-shaft: hip-knee-ankle changes by less than the bend, in its direction.
    change = in_space(shape)["HKA"] - base
    assert np.sign(change) == np.sign(varus)
    assert 0.2 * abs(varus) < abs(change) < abs(varus)


def test_both_planes_show_the_given_components():
    shape = LegShape(
        deformities=(Angulation(bone=Bone.TIBIA, level=0.45, varus_deg=10.0, procurvatum_deg=-7.0),)
    )
    leg, _ = standing(shape)
    from limbwright.film.phantom.motion import moved

    ends = moved(np.array([[0.0, -250.0, -4.0], [0.0, -300.0, -4.0]]), leg.tibia_breaks)
    way = ends[1] - ends[0]
    assert np.degrees(np.arctan2(-way[2], -way[1])) == pytest.approx(10.0, abs=1e-9)
    assert np.degrees(np.arctan2(-way[0], -way[1])) == pytest.approx(-7.0, abs=1e-9)


def test_a_distraction_gap_lengthens_the_bone_along_its_shaft():
    cut = Hardware(lengthenings=(Lengthening(bone=Bone.TIBIA, level=0.4, gap_mm=30.0),))
    _, before = standing(LegShape())
    _, after = standing(LegShape(), hardware=cut)

    def length(places):
        return np.linalg.norm(places["tibia_knee_centre"] - places["ankle_centre"])

    assert length(after) - length(before) == pytest.approx(30.0, abs=0.05)


def test_lengthening_the_femur_along_its_shaft_moves_the_knee_medially():
    cut = Hardware(lengthenings=(Lengthening(bone=Bone.FEMUR, level=0.5, gap_mm=40.0),))
    before, after = in_space(LegShape()), in_space(LegShape(), hardware=cut)
    assert after["MAD"] < before["MAD"]
    # The knee leaves the old mechanical axis by the gap times the sine of the angle between the axes, and the
    # mechanical axis turns against the joint line; trigonometry of a triangle with two sides and that angle.
    turn = np.degrees(np.arctan2(40 * np.sin(np.radians(7.0)), 430 + 40 * np.cos(np.radians(7.0))))
    assert before["mLDFA"] - after["mLDFA"] == pytest.approx(turn, abs=0.02)


def test_undoing_a_bend_at_its_apex_gives_the_straight_leg_back():
    bend = Angulation(bone=Bone.TIBIA, level=0.5, varus_deg=12.0)
    cut = Hardware(lengthenings=(Lengthening(bone=Bone.TIBIA, level=0.5, varus_deg=-12.0),))
    corrected = in_space(LegShape(deformities=(bend,)), hardware=cut)
    straight = in_space(LegShape())
    for name in ("MPTA", "LDTA", "HKA", "MAD"):
        assert corrected[name] == pytest.approx(straight[name], abs=1e-6), name


def test_a_fragment_without_a_shaft_has_no_shaft_points():
    shape = LegShape(deformities=(Angulation(bone=Bone.TIBIA, level=0.15, varus_deg=10.0),))
    _, places = standing(shape)
    assert "tibia_proximal_shaft_upper" not in places
    assert {"tibia_middle_shaft_upper", "tibia_distal_shaft_upper"} <= set(places)
    assert "PPTA" not in in_space(shape)


def test_two_bends_leave_a_middle_pair_between_them():
    shape = LegShape(
        deformities=tuple(Angulation(bone=Bone.TIBIA, level=level, varus_deg=8.0) for level in (0.35, 0.65))
    )
    leg, places = standing(shape)
    along = leg.tibia_now(np.array([[0.0, -0.4 * 360, -4.0], [0.0, -0.6 * 360, -4.0]]))
    middle = places["tibia_middle_shaft_lower"] - places["tibia_middle_shaft_upper"]
    assert np.cross(middle, along[1] - along[0]) == pytest.approx(np.zeros(3), abs=1e-6)


@settings(max_examples=20, deadline=None)
@given(
    distance=st.floats(1500, 4000),
    away=st.floats(40, 400),
    across=st.floats(0.2, 0.8),
    down=st.floats(0.1, 0.9),
    projection=st.sampled_from(list(Projection)),
    side=st.sampled_from(list(Side)),
)
def test_projection_is_central_projection(distance, away, across, down, projection, side):  # noqa: PLR0917
    setup = XraySetup(
        projection=projection,
        source_detector_mm=distance,
        bone_detector_mm=away,
        beam_centre_x=across,
        beam_centre_y=down,
    )
    beam = beam_for(setup, side, HIPS)
    points = np.array([[10.0, -300.0, 80.0], [-40.0, -700.0, -20.0]])
    flat = beam.project(points)
    # Source and detector worked out afresh in the patient frame.
    hand = 1.0 if side is Side.RIGHT else -1.0
    hip = hand * HIPS / 2
    height = setup.top_above_hip_mm - down * setup.height_mm / setup.magnification
    aside = (across - 0.5) * setup.width_mm
    if projection is Projection.FRONTAL:
        source = np.array([distance - away, height, -aside])
        right, out = np.array([0.0, 0.0, -1.0]), np.array([-1.0, 0.0, 0.0])
    else:
        source = np.array([hand * aside, height, hip - hand * (distance - away)])
        right, out = np.array([hand, 0.0, 0.0]), np.array([0.0, 0.0, hand])
    for point, place in zip(points, flat, strict=True):
        way = point - source
        hit = source + way * distance / (way @ out)
        column = (
            hit - source
        ) @ right / setup.detector.pixel_mm + across * setup.width_mm / setup.detector.pixel_mm
        row = -(hit - source)[1] / setup.detector.pixel_mm + down * setup.height_mm / setup.detector.pixel_mm
        assert place == pytest.approx([column - 0.5, row - 0.5], abs=1e-6)


def test_truth_of_a_film_is_its_landmarks_projected(plain_film, plain_side, clean_frontal, clean_sagittal):
    for film, setup, side in ((plain_film, clean_frontal, None), (plain_side, clean_sagittal, Side.RIGHT)):
        beam = beam_for(setup, side, HIPS)
        for leg in film.truth.legs:
            for name, place in leg.landmarks_px.items():
                expected = beam.project(np.array([leg.landmarks_mm[name]]))[0]
                assert place == pytest.approx(tuple(expected), abs=1e-9)


def test_the_right_leg_is_at_the_viewers_left_and_sides_look_the_way_truth_says(plain_film, plain_side):
    truth = plain_film.truth
    assert truth.right_leg_at == "viewer left"
    columns = [truth.leg(side).landmarks_px["ankle_centre"][0] for side in (Side.RIGHT, Side.LEFT)]
    assert columns[0] < columns[1]
    own = plain_side.truth.leg(Side.RIGHT).landmarks_px
    assert plain_side.truth.anterior_at == "viewer right"
    assert own["tibial_tuberosity"][0] > own["plateau_posterior"][0]


def test_scale_at_the_bone_plane_is_that_of_a_ball_there(plain_film):
    truth = plain_film.truth
    (circle,) = truth.balls
    assert 2 * circle.radius_px / circle.diameter_mm == pytest.approx(truth.px_per_mm_at_bone, rel=1e-4)
    assert truth.px_per_mm_at_bone == pytest.approx(truth.magnification / truth.pixel_mm)


def test_projected_lengths_are_lengths_times_scale(plain_film):
    leg = plain_film.truth.leg(Side.LEFT)
    places = leg.landmarks_px
    span = np.hypot(*(np.subtract(places["femoral_head_centre"], places["femur_knee_centre"])))
    assert span / plain_film.truth.px_per_mm_at_bone == pytest.approx(leg.femur_length_mm, rel=0.01)


def test_a_bent_leg_shows_the_same_truth_at_both_details(clean_frontal):
    shape = LegShape(deformities=(Angulation(bone=Bone.FEMUR, level=0.6, varus_deg=10.0),))
    patient = PatientShape(left=shape)
    setup = replace(clean_frontal, width_mm=200.0, height_mm=60.0)
    films = [take_film(patient, seed=1, setup=setup, detail=detail) for detail in Detail]
    assert films[0].truth.legs[1].landmarks_px == films[1].truth.legs[1].landmarks_px


def turned_deg(first, second, about):
    """Angle from one direction to another about an axis. [deg]"""
    about = about / np.linalg.norm(about)
    first, second = (way - (way @ about) * about for way in (first, second))
    return np.degrees(np.arctan2(np.cross(first, second) @ about, first @ second))


def ankle_against_knee_deg(shape):
    _, at = standing(shape)
    up = at["tibia_knee_centre"] - at["ankle_centre"]
    return turned_deg(
        at["lateral_plateau"] - at["medial_plateau"], at["lateral_plafond"] - at["medial_plafond"], up
    )


@pytest.mark.parametrize("external_deg", [-15.0, 20.0])
def test_a_rotational_deformity_turns_the_ankle_against_the_knee(external_deg):
    bent = LegShape(deformities=(Angulation(bone=Bone.TIBIA, level=0.5, external_rotation_deg=external_deg),))
    turned = ankle_against_knee_deg(bent) - ankle_against_knee_deg(LegShape())
    # Seen from above, the lateral end of a right ankle goes backward: clockwise, against the upward axis.
    assert turned == pytest.approx(-external_deg, abs=0.7)


def test_two_apexes_bend_the_shaft_there_and_back():
    shape = LegShape(
        deformities=(
            Angulation(bone=Bone.TIBIA, level=0.4, varus_deg=9.0),
            Angulation(bone=Bone.TIBIA, level=0.65, varus_deg=-9.0),
        )
    )
    _, at = standing(shape)
    proximal, middle, distal = (
        at[f"tibia_{part}_shaft_lower"] - at[f"tibia_{part}_shaft_upper"]
        for part in ("proximal", "middle", "distal")
    )

    def between(first, second):
        return np.degrees(np.arccos(first @ second / np.linalg.norm(first) / np.linalg.norm(second)))

    assert between(proximal, middle) == pytest.approx(9.0, abs=0.01)
    assert between(middle, distal) == pytest.approx(9.0, abs=0.01)
    assert between(proximal, distal) == pytest.approx(0.0, abs=0.01)
