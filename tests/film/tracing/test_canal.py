"""Lines, canals and isthmuses of traced tubes."""

import numpy as np
import pytest
from drawn_films import Tube
from traced_tubes import BLUR_MM, traced

from limbwright.error import Refused
from limbwright.film.tracing import (
    Plate,
    canal_centre_line_px,
    canal_centre_sd_mm,
    isthmus,
    shaft_line,
    trace_shaft,
    width_curve,
)
from limbwright.film.tracing.shaft import SPONGY_RIM_MM


@pytest.mark.parametrize("lean", [-9.0, 0.0, 4.0])
def test_the_mid_diaphyseal_line_has_the_direction_of_the_tube(lean):
    line = shaft_line(traced(Tube(lean_deg=lean)))
    assert line.direction_deg == pytest.approx(lean, abs=0.02)
    assert line.bow_mm < 0.05
    assert line.direction_sd_deg < 0.05


def test_the_line_passes_through_the_middle_of_the_tube():
    tube = Tube(lean_deg=3.0)
    line = shaft_line(traced(tube))
    for x, y in (line.upper_px, line.lower_px):
        assert x * tube.px_mm == pytest.approx(np.interp(y, np.arange(700), tube.centre_mm), abs=0.04)


def test_a_bowed_tube_has_lines_of_its_stretches_and_says_how_far_it_bows():
    tube = Tube(rows=1000, columns=560, bow_mm=5.0)
    trace = traced(tube)
    whole = shaft_line(trace)
    assert whole.bow_mm == pytest.approx(5.0 * 2 / 3, abs=0.8)
    lower = shaft_line(trace, from_mm=0.7 * trace.depth_mm[-1])
    slope = np.gradient(tube.centre_mm, tube.px_mm)
    wanted = np.degrees(np.arctan(slope[round((lower.upper_px[1] + lower.lower_px[1]) / 2)]))
    assert lower.direction_deg == pytest.approx(wanted, abs=0.1)


def test_noise_moves_the_bow_by_no_more_than_is_stated():
    tube = Tube(rows=1000, columns=560, bow_mm=5.0)
    lines = [shaft_line(traced(tube, how={"photons": 8000.0, "seed": seed})) for seed in range(6)]
    spread = np.std([line.bow_mm for line in lines])
    stated = np.median([line.bow_sd_mm for line in lines])
    assert spread < 1.5 * stated
    assert stated < 1.0


def test_the_canals_own_centre_line_is_that_of_the_tube():
    tube = Tube(lean_deg=3.0)
    trace = traced(tube)
    points = canal_centre_line_px(trace)
    centre = np.interp(points[:, 1], np.arange(700), tube.centre_mm)
    error = np.abs(points[:, 0] * tube.px_mm - centre)
    assert error.max() < 0.06
    sd = canal_centre_sd_mm(trace)
    assert sd.shape == error.shape
    assert np.mean(error < 1.96 * sd) > 0.95
    assert shaft_line(trace, edges=trace.inner).direction_deg == pytest.approx(3.0, abs=0.05)


def test_width_and_isthmus_of_a_waisted_canal():
    tube = Tube(inner_mm=7.5, waist_mm=2.0)
    trace = traced(tube)
    found = isthmus(trace)
    # A drawn canal has no spongy bone at its rim.
    assert found.width.value - 2 * SPONGY_RIM_MM == pytest.approx(11.0, abs=0.15)
    assert abs(found.width.value - 11.0) < 1.96 * found.width.sd
    assert found.y_px == pytest.approx(350, abs=15)
    low, high = found.depth_interval_mm
    assert low < found.depth_mm < high
    assert found.findings == ()
    outer = width_curve(trace, trace.outer)
    assert np.nanmax(np.abs(outer.width_mm - 26.0)) < 0.12


def test_a_leaning_tube_is_measured_across_its_axis():
    curve = width_curve(traced(Tube(lean_deg=9.0)), traced(Tube(lean_deg=9.0)).outer)
    assert np.nanmedian(curve.width_mm) == pytest.approx(26.0, abs=0.06)


def test_an_isthmus_beside_a_faded_stretch_carries_a_finding_and_a_wider_interval():
    plain = Tube(inner_mm=7.5, waist_mm=2.0)
    seen = isthmus(traced(plain))
    faded = Tube(inner_mm=7.5, waist_mm=2.0)
    # Both sides of the waist below its narrowest row are washed out.
    faded.attenuation[352:520] = faded.attenuation[352:520].mean(axis=0, keepdims=True)
    x = np.arange(500) * 0.2
    tissue = 0.024 * 2 * np.sqrt(np.clip(60.0**2 - (x - 50.0) ** 2, 0, None))
    solid = tissue + 0.05 * 2 * np.sqrt(np.clip(13.0**2 - (x - 50.0) ** 2, 0, None))
    faded.attenuation[352:520] = solid[None, :]
    found = isthmus(traced(faded))
    assert [f.id for f in found.findings] == ["film-canal-faded"]
    assert found.width.sd > 1.5 * seen.width.sd


def test_a_canal_that_is_hardly_seen_has_no_isthmus():
    tube = Tube(inner_mm=0.01)
    with pytest.raises(Refused, match="a third is needed"):
        isthmus(traced(tube, how={"photons": 20000.0}))


def test_too_short_a_stretch_has_no_line():
    trace = traced(Tube())
    with pytest.raises(Refused, match="12 mm are needed"):
        shaft_line(trace, from_mm=20.0, to_mm=25.0)


def test_a_film_read_in_pixels_gives_the_same_direction():
    tube = Tube(lean_deg=4.0)
    clicks = (tube.click(0.05), tube.click(0.95))
    lines = [
        shaft_line(
            trace_shaft(Plate(grey=tube.film(), row_mm=mm, column_mm=mm), clicks, blur_mm=BLUR_MM * mm / 0.2)
        )
        for mm in (0.2, 0.25)
    ]
    assert lines[0].direction_deg == pytest.approx(lines[1].direction_deg, abs=0.02)
