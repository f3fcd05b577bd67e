"""Walls on phantom films where something lies in the way: fibula, nail, screws, seam, skin, bow."""

from dataclasses import replace

import numpy as np
import pytest

from limbwright.film import phantom
from limbwright.film.phantom import WallKind
from limbwright.film.tracing import Plate, isthmus, shaft_line, trace_shaft
from limbwright.limb.anatomy import Bone, Projection, Side

PX_MM = 0.25
LEG = phantom.LegShape()
NAILED = phantom.Treatment(
    right=phantom.Hardware(
        nails=(
            phantom.Nail(
                bone=Bone.TIBIA, length_mm=260, thick_length_mm=190, thick_mm=9.5, thin_mm=7.5, bend_deg=10
            ),
        ),
        screws=(
            phantom.Screw(bone=Bone.TIBIA, level=0.12),
            phantom.Screw(bone=Bone.TIBIA, level=0.72),
            # A blocking screw, seen end on from the front.
            phantom.Screw(bone=Bone.TIBIA, level=0.33, direction_deg=90, offset_mm=7.0, diameter_mm=4.0),
        ),
    )
)


def lower_leg(projection, *, shape=LEG, treatment=None, rotation_deg=0.0, **detector):
    setup = phantom.XraySetup(
        projection=projection,
        width_mm=220.0 if projection is Projection.SAGITTAL else 429.0,
        height_mm=400.0,
        top_above_hip_mm=-10.0 - shape.femur_length_mm,
        detector=replace(phantom.Detector(pixel_mm=PX_MM), **detector),
    )
    return phantom.take_film(
        phantom.PatientShape(right=shape, left=shape),
        seed=3,
        setup=setup,
        side=Side.RIGHT if projection is Projection.SAGITTAL else None,
        treatment=treatment,
        right_stance=phantom.Stance(rotation_deg=rotation_deg),
        balls=(),
    )


def true_walls(film, bone=Bone.TIBIA):
    walls = [wall for wall in film.truth.leg(Side.RIGHT).walls if wall.bone is bone]
    return next(w for w in walls if w.kind is WallKind.OUTER), next(
        w for w in walls if w.kind is WallKind.CANAL
    )


def traced(film, *, turn, count=3, bone=Bone.TIBIA):
    """Trace from clicks 4 mm off, the first toward `turn`, the others elsewhere."""
    axis = true_walls(film, bone)[0].axis_px
    reach = 4.0 * film.truth.px_per_mm_at_bone
    places = (3, len(axis) // 2, len(axis) - 4) if count == 3 else (3, len(axis) - 4)
    clicks = []
    for number, place in enumerate(places):
        angle = turn + 2.3 * number
        clicks.append(
            (float(axis[place, 0] + reach * np.cos(angle)), float(axis[place, 1] + reach * np.sin(angle)))
        )
    return trace_shaft(Plate(grey=film.picture, row_mm=PX_MM, column_mm=PX_MM), tuple(clicks))


def wrong_by(trace, edge, points_px):
    """Distances of a traced edge from the true polyline, across the film. [mm]"""
    found = trace.points_px(edge)
    true = np.interp(found[:, 1], points_px[:, 1], points_px[:, 0], left=np.nan, right=np.nan)
    error = np.abs(found[:, 0] - true) * PX_MM
    return error[np.isfinite(error)]


def assert_walls_are_true(film, trace, *, bone=Bone.TIBIA, share=0.95, within_mm=0.25):
    outer, _ = true_walls(film, bone)
    for edge, points in zip(trace.outer, (outer.low_px, outer.high_px), strict=True):
        error = wrong_by(trace, edge, points)
        assert len(error) > 60
        assert np.quantile(error, share) < within_mm


@pytest.fixture(scope="module")
def lateral():
    return lower_leg(Projection.SAGITTAL, rotation_deg=5.0)


@pytest.mark.parametrize("turn", [0.0, 1.1, 2.2, 3.3, 4.4, 5.5])
@pytest.mark.parametrize("count", [2, 3])
def test_from_the_side_the_fibula_behind_the_tibia_is_not_taken_for_it(lateral, turn, count):
    trace = traced(lateral, turn=turn, count=count)
    assert trace.nail is None
    assert_walls_are_true(lateral, trace)


def test_where_the_fibula_crosses_the_canal_the_uncertainty_grows(lateral):
    trace = traced(lateral, turn=1.0)
    _, canal = true_walls(lateral)
    # The fibula stands behind: at the viewer's left of a right leg.
    behind, front = trace.inner
    assert np.nanmax(behind.sd_mm) > 3 * np.nanmedian(front.sd_mm)
    error = wrong_by(trace, behind, canal.low_px)
    sd = behind.sd_mm[behind.found]
    sd = np.interp(np.linspace(0, 1, len(error)), np.linspace(0, 1, len(sd)), sd)
    assert np.mean(error < 1.96 * sd) > 0.8


@pytest.mark.parametrize("projection", list(Projection))
@pytest.mark.parametrize("turn", [0.4, 2.5, 4.6])
def test_a_nail_and_screws_do_not_move_the_walls(projection, turn):
    film = lower_leg(projection, treatment=NAILED)
    trace = traced(film, turn=turn)
    assert trace.nail is not None
    # Over most of the stretch the thick part, magnified.
    width = np.nanmedian(trace.nail.right_mm - trace.nail.left_mm)
    assert width == pytest.approx(9.5 * film.truth.magnification, abs=0.6)
    assert_walls_are_true(film, trace)
    for edge in trace.outer:
        assert not edge.found[trace.hidden].any()


@pytest.mark.parametrize("projection", list(Projection))
def test_a_stitching_seam_through_the_shaft_is_crossed(projection):
    film = lower_leg(projection, seam_mm=(200.0,), seam_shift_mm=0.5)
    trace = traced(film, turn=2.0)
    assert min(edge.share_found for edge in trace.outer) > 0.97
    outer, _ = true_walls(film)
    for edge, points in zip(trace.outer, (outer.low_px, outer.high_px), strict=True):
        error = wrong_by(trace, edge, points)
        # Smoothing rounds off the step of half a millimetre over its own length, and nothing more.
        assert np.quantile(error, 0.9) < 0.25
        assert error.max() < 0.6


@pytest.mark.parametrize("projection", list(Projection))
def test_thin_soft_tissue_is_not_taken_for_bone(projection):
    film = lower_leg(projection, shape=replace(LEG, soft_tissue=0.62))
    for turn in (0.0, 2.1, 4.2):
        assert_walls_are_true(film, traced(film, turn=turn))


@pytest.fixture(scope="module")
def bowed():
    shape = replace(LEG, femoral_bow_radius_mm=850.0)
    setup = phantom.XraySetup(
        projection=Projection.SAGITTAL,
        width_mm=240.0,
        height_mm=480.0,
        top_above_hip_mm=10.0,
        detector=phantom.Detector(pixel_mm=PX_MM),
    )
    return phantom.take_film(
        phantom.PatientShape(right=shape, left=shape), seed=4, setup=setup, side=Side.RIGHT, balls=()
    )


@pytest.mark.parametrize("turn", [0.0, 1.6, 3.2, 4.8])
def test_a_bowed_femur_is_followed_from_the_side(bowed, turn):
    trace = traced(bowed, turn=turn, bone=Bone.FEMUR)
    assert_walls_are_true(bowed, trace, bone=Bone.FEMUR)
    assert shaft_line(trace).bow_mm > 4.0
    low = 0.6 * trace.depth_mm[-1]
    assert shaft_line(trace, from_mm=low).bow_mm < 2.0


@pytest.mark.parametrize("turn", np.linspace(0.0, 5.5, 8))
def test_two_clicks_on_a_bowed_femur_are_enough_or_said_to_be_poor(bowed, turn):
    trace = traced(bowed, turn=float(turn), count=2, bone=Bone.FEMUR)
    if trace.support >= 0.6:
        assert_walls_are_true(bowed, trace, bone=Bone.FEMUR)


@pytest.mark.parametrize("turn", [0.7, 2.8, 4.9])
def test_the_isthmus_of_a_phantom_lies_in_its_interval(turn):
    film = lower_leg(Projection.FRONTAL)
    trace = traced(film, turn=turn)
    found = isthmus(trace)
    _, canal = true_walls(film)
    width = np.linalg.norm(canal.high_px - canal.low_px, axis=1) * PX_MM
    assert abs(found.width.value - width.min()) < 1.96 * found.width.sd
    # The canal is about equally narrow over some length: the interval says so, and holds the true place.
    first, last = found.depth_interval_mm
    assert last - first > 5.0
    place = canal.axis_px[int(width.argmin()), 1]
    rows = trace.guide.at(np.array([first - 10.0, last + 10.0]), np.zeros(2))[1] / PX_MM
    assert rows[0] < place < rows[1]


def test_an_endosteum_beside_burnt_out_cortex_is_not_found():
    # A film of the lower leg alone, shown so bright that cortices under the knee are white.
    film = lower_leg(Projection.FRONTAL)
    white = 0.9 * float(film.picture.max())
    grey = np.minimum(film.picture, white).astype(np.uint16)
    burnt = replace(film, picture=grey)
    trace = traced(burnt, turn=0.7)
    assert_walls_are_true(burnt, trace)
    assert min(edge.share_found for edge in trace.inner) < 0.9
    _, canal = true_walls(film)
    for edge, points in zip(trace.inner, (canal.low_px, canal.high_px), strict=True):
        error = wrong_by(trace, edge, points)
        assert np.quantile(error, 0.9) < 0.5
