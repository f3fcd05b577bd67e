"""Heads, joint lines and tips on phantom films of known truth, from clicks 4 mm off."""

import numpy as np
import pytest

from limbwright.error import LimbwrightError, Refused
from limbwright.film import phantom
from limbwright.film.film import Provenance
from limbwright.film.snap import JointLine, find_head, find_joint_line, find_tip
from limbwright.film.snap.joint_line_ankle import find_ankle
from limbwright.film.tracing import Plate
from limbwright.limb.anatomy import Projection, Side
from limbwright.limb.landmark import Landmark

PX_MM = 0.2
ENDS = {
    JointLine.CONDYLES: (Landmark.MEDIAL_FEMORAL_CONDYLE, Landmark.LATERAL_FEMORAL_CONDYLE),
    JointLine.PLATEAU: (Landmark.MEDIAL_PLATEAU, Landmark.LATERAL_PLATEAU),
    JointLine.PLAFOND: (Landmark.MEDIAL_PLAFOND, Landmark.LATERAL_PLAFOND),
}
WITHIN = {JointLine.CONDYLES: (0.1, 0.4), JointLine.PLATEAU: (0.6, 1.4), JointLine.PLAFOND: (0.5, 0.5)}
"""Direction in degrees, middle in millimetres."""
SHAPE = phantom.LegShape(mpta_deg=85.0, ppta_deg=79.0, ldta_deg=86.0)


def taken(projection):
    side = Side.RIGHT if projection is Projection.SAGITTAL else None
    setup = phantom.XraySetup(
        projection=projection,
        width_mm=429.0 if side is None else 220.0,
        height_mm=1000.0,
        top_above_hip_mm=70.0,
        detector=phantom.Detector(pixel_mm=PX_MM),
    )
    return phantom.take_film(
        phantom.PatientShape(right=SHAPE, left=SHAPE),
        seed=5,
        setup=setup,
        side=side,
        right_stance=phantom.Stance(rotation_deg=6.0),
        left_stance=phantom.Stance(rotation_deg=-5.0),
        balls=(),
    )


@pytest.fixture(scope="module")
def frontal():
    return taken(Projection.FRONTAL)


@pytest.fixture(scope="module")
def sagittal():
    return taken(Projection.SAGITTAL)


def plate(film):
    return Plate(grey=film.picture, row_mm=PX_MM, column_mm=PX_MM)


def off(film, at, turn, mm=4.0):
    reach = mm * film.truth.px_per_mm_at_bone
    return float(at[0] + reach * np.cos(turn)), float(at[1] + reach * np.sin(turn))


def lean_deg(first, second):
    away = np.subtract(second, first)
    return float(np.degrees(np.arctan(away[1] / away[0])))


@pytest.mark.parametrize("turn", [0.0, 1.3, 2.6, 3.9, 5.2])
@pytest.mark.parametrize("side", list(Side))
@pytest.mark.parametrize("kind", list(JointLine))
def test_joint_lines_are_found_on_turned_legs(frontal, side, turn, kind):
    within_deg, middle_mm = WITHIN[kind]
    marks = frontal.truth.leg(side).landmarks_px
    medial, lateral = (np.array(marks[name]) for name in ENDS[kind])
    found = find_joint_line(
        plate(frontal), off(frontal, medial, turn), off(frontal, lateral, 2.5 * turn + 1.0), kind=kind
    )
    assert lean_deg(found.first_px, found.second_px) == pytest.approx(
        lean_deg(medial, lateral), abs=within_deg
    )
    away = np.subtract(found.middle_px, 0.5 * (medial + lateral)) * PX_MM
    assert np.hypot(*away) < middle_mm
    # What is stated holds what was found.
    assert abs(away[0]) < 3.0 * found.middle_sd_mm
    mark = found.middle_mark(column_mm=PX_MM)
    assert mark.provenance is Provenance.SNAPPED
    assert mark.sd_px >= found.middle_sd_mm / PX_MM


def test_a_malleolus_is_not_taken_for_the_talus_even_from_far_off_clicks(frontal):
    marks = frontal.truth.leg(Side.LEFT).landmarks_px
    medial, lateral = (np.array(marks[name]) * PX_MM for name in ENDS[JointLine.PLAFOND])
    ends = np.array(sorted((medial, lateral), key=lambda at: at[0]))
    along = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
    for shift in (-5.0, 0.0, 5.0):
        found = find_ankle(plate(frontal), ends + shift * along)
        assert found is not None
        assert found.middle_mm == pytest.approx(0.5 * np.linalg.norm(ends[1] - ends[0]) - shift, abs=0.6)
        assert found.half_mm == pytest.approx(13.5 * frontal.truth.magnification, rel=0.06)


def test_where_there_is_no_ankle_none_is_found(frontal):
    marks = frontal.truth.leg(Side.LEFT).landmarks_px
    middle = np.array(marks[Landmark.FEMUR_MIDDLE_SHAFT_LOWER]) * PX_MM
    ends = middle + np.array([[-14.0, 0.0], [14.0, 0.0]])
    assert find_ankle(plate(frontal), ends) is None


@pytest.mark.parametrize("side", list(Side))
@pytest.mark.parametrize("turn", np.linspace(0.0, 5.5, 8))
def test_heads_are_found_beside_their_sockets(frontal, side, turn):
    truth = frontal.truth.leg(side).head_circle
    found = find_head(plate(frontal), off(frontal, truth.centre_px, float(turn)))
    away = np.subtract((found.x_px, found.y_px), truth.centre_px) * PX_MM
    assert np.hypot(*away) < 0.5
    assert found.radius_mm == pytest.approx(truth.radius_px * PX_MM, abs=0.5)


@pytest.mark.parametrize("side", list(Side))
@pytest.mark.parametrize("turn", [0.5, 2.0, 3.5, 5.0])
def test_the_tip_of_the_trochanter_is_proposed_or_refused(frontal, side, turn):
    true = frontal.truth.leg(side).landmarks_px[Landmark.GREATER_TROCHANTER_TIP]
    try:
        found = find_tip(plate(frontal), off(frontal, true, turn), points_up=True)
    except Refused:
        return
    away = np.subtract((found.x_px, found.y_px), true) * PX_MM
    assert abs(away[1]) < 1.5
    assert abs(away[0]) < 4.0
    assert found.mark(column_mm=PX_MM).provenance is Provenance.SNAPPED


@pytest.mark.parametrize("turn", [0.0, 1.3, 2.6, 3.9, 5.2])
def test_the_slope_of_the_plateau_is_found_from_the_side(sagittal, turn):
    marks = sagittal.truth.leg(Side.RIGHT).landmarks_px
    front, back = (np.array(marks[name]) for name in (Landmark.PLATEAU_ANTERIOR, Landmark.PLATEAU_POSTERIOR))
    found = find_joint_line(
        plate(sagittal),
        off(sagittal, front, turn),
        off(sagittal, back, 1.7 * turn + 2.0),
        kind=JointLine.PLATEAU,
        projection=Projection.SAGITTAL,
    )
    error = lean_deg(found.first_px, found.second_px) - lean_deg(front, back)
    length = np.hypot(*np.subtract(found.second_px, found.first_px)) * PX_MM
    stated = np.degrees(np.sqrt(2) * found.sd_mm / length)
    assert abs(error) < 2.5
    assert abs(error) < 2.5 * stated


@pytest.mark.parametrize("kind", [JointLine.CONDYLES, JointLine.PLAFOND])
def test_other_lines_from_the_side_are_left_to_the_reader(sagittal, kind):
    with pytest.raises(Refused, match="on a sagittal film only the plateau can be snapped"):
        find_joint_line(
            plate(sagittal), (400.0, 400.0), (600.0, 400.0), kind=kind, projection=Projection.SAGITTAL
        )


@pytest.mark.parametrize("kind", list(JointLine))
@pytest.mark.parametrize("row", [800.0, 1500.0, 3500.0])
def test_in_soft_tissue_there_is_no_joint_line(frontal, kind, row):
    with pytest.raises(LimbwrightError, match="line of the"):
        find_joint_line(plate(frontal), (990.0, row), (1150.0, row + 4.0), kind=kind)


@pytest.mark.parametrize("kind", list(JointLine))
@pytest.mark.parametrize("landmark", [Landmark.FEMUR_MIDDLE_SHAFT_LOWER, Landmark.TIBIA_MIDDLE_SHAFT_LOWER])
def test_across_a_shaft_there_is_no_joint_line(frontal, kind, landmark):
    column, row = frontal.truth.leg(Side.LEFT).landmarks_px[landmark]
    with pytest.raises(LimbwrightError, match="line of the"):
        find_joint_line(plate(frontal), (column - 80.0, row), (column + 80.0, row), kind=kind)
