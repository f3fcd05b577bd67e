"""Walls of shafts drawn from formulas."""

import numpy as np
import pytest
from drawn_films import Tube
from hypothesis import given, settings
from hypothesis import strategies as st
from traced_tubes import BLUR_MM, errors, traced

from limbwright.error import OutOfRange, Refused
from limbwright.film.tracing import Pin, Plate, trace_shaft
from limbwright.film.tracing.shaft import SPONGY_RIM_MM
from limbwright.limb.view import Surface


def test_both_cortices_lie_on_the_true_walls_of_a_leaning_tube():
    tube = Tube(lean_deg=7.0)
    trace = traced(tube)
    assert trace.support > 0.9
    for side in (0, 1):
        outer = errors(tube, trace, trace.outer[side], side=side, half_mm=tube.outer_mm)
        inner = errors(tube, trace, trace.inner[side], side=side, half_mm=tube.inner_mm)
        assert np.abs(outer).max() < 0.06
        # A drawn canal has no spongy bone at its rim.
        assert np.abs(inner - SPONGY_RIM_MM).max() < 0.08


def test_without_the_correction_for_blur_walls_would_lie_inside():
    tube = Tube()
    trace = traced(tube)
    for side in (0, 1):
        outer = errors(tube, trace, trace.outer[side], side=side, half_mm=tube.outer_mm)
        # What was added to the steepest grey, 0.765 blur widths, is far more than the error that is left.
        assert 0.765 * trace.blur_mm > 5 * abs(np.median(outer))


def test_noise_stays_within_the_stated_uncertainty():
    tube = Tube(lean_deg=-4.0)
    trace = traced(tube, how={"photons": 8000.0})
    for side in (0, 1):
        error = errors(tube, trace, trace.outer[side], side=side, half_mm=tube.outer_mm)
        assert np.mean(np.abs(error) < 1.96 * trace.outer[side].sd_mm[trace.outer[side].found]) > 0.85
        assert np.abs(error).max() < 0.25


def test_a_bowed_shaft_is_followed_with_two_clicks_and_with_three():
    tube = Tube(rows=1000, bow_mm=5.0, columns=560)
    for shares, offs in (((0.05, 0.95), (2.0, 2.0)), ((0.05, 0.5, 0.95), (-2.0, 2.0, -2.0))):
        trace = traced(tube, shares=shares, offs=offs)
        error = errors(tube, trace, trace.outer[1], side=1, half_mm=tube.outer_mm)
        assert np.abs(error).max() < 0.10


@settings(max_examples=12, deadline=None)
@given(
    off=st.floats(-4.0, 4.0),
    lean=st.floats(-8.0, 8.0),
    outer=st.floats(10.0, 16.0),
    share=st.floats(0.35, 0.6),
)
def test_clicks_off_the_middle_do_not_move_the_walls(off, lean, outer, share):
    tube = Tube(rows=400, lean_deg=lean, outer_mm=outer, inner_mm=share * outer)
    trace = traced(tube, offs=(off, off))
    for side in (0, 1):
        error = errors(tube, trace, trace.outer[side], side=side, half_mm=tube.outer_mm)
        assert np.abs(error).max() < 0.08


def test_a_film_and_its_mirror_image_give_mirrored_walls():
    tube = Tube(lean_deg=5.0)
    film = tube.film()
    width = film.shape[1] - 1
    clicks = (tube.click(0.05, 1.0), tube.click(0.95, 1.0))
    mirrored = tuple((width - x, y) for x, y in clicks)
    one, other = (
        trace_shaft(Plate(grey=grey, row_mm=0.2, column_mm=0.2), at, blur_mm=BLUR_MM)
        for grey, at in ((film, clicks), (film[:, ::-1], mirrored))
    )
    left = one.points_px(one.outer[0])
    right = other.points_px(other.outer[1])
    count = min(len(left), len(right))
    assert np.allclose(width - right[:count, 0], left[:count, 0], atol=0.15)


def test_the_nail_in_a_canal_is_found_and_is_not_taken_for_the_bone():
    tube = Tube(nail_mm=9.0, inner_mm=6.5)
    trace = traced(tube)
    assert trace.nail is not None
    width = np.nanmedian(trace.nail.right_mm - trace.nail.left_mm)
    assert width == pytest.approx(9.0, abs=0.5)
    error = errors(tube, trace, trace.outer[0], side=0, half_mm=tube.outer_mm)
    assert np.abs(error).max() < 0.08


def test_the_fibula_beside_the_tibia_is_left_alone():
    tube = Tube(fibula_at_mm=24.0)
    trace = traced(tube, offs=(3.0, 3.0))
    error = errors(tube, trace, trace.outer[1], side=1, half_mm=tube.outer_mm)
    assert np.abs(error).max() < 0.1


def test_a_screw_across_the_bone_hides_its_rows_only():
    tube = Tube()
    tube.attenuation[330:355, 120:380] += 2.2
    trace = traced(tube)
    hidden = trace.depth_mm[trace.hidden] + 0.05 * 140
    assert hidden.min() > 60
    assert hidden.max() < 78
    found = trace.outer[0].found
    assert not found[trace.hidden].any()
    assert found[~trace.hidden].mean() > 0.9
    error = errors(tube, trace, trace.outer[0], side=0, half_mm=tube.outer_mm)
    assert np.abs(error).max() < 0.12


def test_where_the_endosteum_fades_it_is_not_found():
    tube = Tube()
    # From row 300 to 480 the left inner wall is washed out: its shadow runs evenly across the canal.
    x = np.arange(500) * 0.2
    away = x[None, :] - tube.centre_mm[300:480, None]
    canal = 0.058 * 2 * np.sqrt(np.clip(6.0**2 - away**2, 0, None))
    tube.attenuation[300:480] += canal * np.clip(1.0 - (away + 6.0) / 12.0, 0, 1)
    trace = traced(tube, how={"photons": 20000.0})
    missing = trace.not_found(trace.inner[0])
    assert any(low < 75 and high > 55 for low, high in missing)
    assert trace.inner[1].share_found > 0.9
    assert trace.not_found(trace.outer[0]) == ()


def test_a_pinned_point_is_followed():
    tube = Tube()
    row = 350
    free = traced(tube)
    at = (tube.centre_mm[row] - tube.outer_mm[row] - 1.5) / tube.px_mm
    pinned = traced(tube, pins=(Pin(x_px=at, y_px=row, surface=Surface.OUTER, viewer_left=True),))
    near = np.argmin(np.abs(pinned.points_px(pinned.outer[0])[:, 1] - row))
    assert pinned.points_px(pinned.outer[0])[near, 0] == pytest.approx(at, abs=0.5)
    far = np.argmin(np.abs(pinned.points_px(pinned.outer[0])[:, 1] - 100))
    assert pinned.points_px(pinned.outer[0])[far, 0] == pytest.approx(
        free.points_px(free.outer[0])[far, 0], abs=0.3
    )


def test_pixels_that_must_not_be_used_are_not_found():
    tube = Tube()
    unusable = np.zeros(tube.attenuation.shape, bool)
    unusable[300:360] = True
    plate = Plate(grey=tube.film(), row_mm=0.2, column_mm=0.2, unusable=unusable)
    trace = trace_shaft(plate, (tube.click(0.05), tube.click(0.95)))
    rows = trace.points_px(trace.outer[0])[:, 1]
    assert not ((rows > 304) & (rows < 356)).any()


def test_a_film_without_a_bone_is_refused():
    plate = Plate(grey=np.full((400, 400), 900, np.uint16), row_mm=0.2, column_mm=0.2)
    with pytest.raises(Refused, match="no two edges that could bound a bone"):
        trace_shaft(plate, ((200.0, 20.0), (200.0, 380.0)))


@pytest.mark.parametrize(
    ("clicks", "message"),
    [
        (((200.0, 20.0),), "1 clicks along a shaft"),
        (((200.0, 20.0), (200.0, 40.0)), "lie 4.0 mm apart"),
        (((200.0, 20.0), (900.0, 380.0)), "a click at 900, 380 px"),
    ],
)
def test_impossible_clicks_are_refused(clicks, message):
    plate = Plate(grey=Tube().film(), row_mm=0.2, column_mm=0.2)
    with pytest.raises(OutOfRange, match=message):
        trace_shaft(plate, clicks)


def test_pixels_that_are_not_square_are_allowed_for():
    tube = Tube(lean_deg=6.0)
    film = tube.film()
    flat = film.reshape(350, 2, 500).mean(axis=1)
    clicks = tuple((x, (y - 0.5) / 2) for x, y in (tube.click(0.05), tube.click(0.95)))
    trace = trace_shaft(Plate(grey=flat, row_mm=0.4, column_mm=0.2), clicks, blur_mm=BLUR_MM)
    points = trace.points_px(trace.outer[1])
    points[:, 1] = 2 * points[:, 1] + 0.5
    centre = np.interp(points[:, 1], np.arange(700), tube.centre_mm)
    away = (points[:, 0] * 0.2 - centre) * np.cos(np.radians(6.0))
    assert np.abs(away - 13.0).max() < 0.1
