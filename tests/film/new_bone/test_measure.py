"""New bone in a drawn gap: ratios, length, width and shape are known."""

from dataclasses import replace

import numpy as np
import pytest
from drawn_films import CORTEX, SOFT, TITANIUM, chord, developed

from limbwright.error import LimbwrightError, OutOfRange
from limbwright.film.new_bone import USUAL_SHARE, Development, NewBoneShape, OutlineRule, measure_new_bone
from limbwright.film.new_bone.scatter import scattered_light
from limbwright.film.tracing import Plate, trace_shaft

PX_MM = 0.25
ROWS, COLUMNS = 640, 400
TOP, BOTTOM = 270, 390  # rows of the cut ends
MIDDLE_MM = COLUMNS * PX_MM / 2
OUTER_MM, INNER_MM = 13.0, 6.5
KNOWN = Development(low=0.0, high=6.0, power=1.0, white=16383.0)


def film(*, density=0.4, width=1.0, one_sided=False, pillar=False, nail_mm=0.0, power=1.0, photons=30000.0):
    """A tube with a gap; new bone of a share of the host's own attenuation, shaped as told."""
    x = np.arange(COLUMNS) * PX_MM - MIDDLE_MM
    soft = SOFT * chord(x, 60.0)
    host = CORTEX * (chord(x, OUTER_MM) - chord(x, INNER_MM))
    total = np.tile(soft + host, (ROWS, 1))
    for row in range(TOP, BOTTOM):
        share = (row - TOP) / (BOTTOM - TOP)
        stretch = 1.0 + (width - 1.0) * 4 * share * (1 - share)
        own = CORTEX * (chord(x, OUTER_MM * stretch) - chord(x, INNER_MM * stretch))
        if one_sided:
            own = own * (x < 0)
        if pillar:
            own = CORTEX * chord(x, 0.45 * OUTER_MM)
        total[row] = soft + density * own
    if nail_mm:
        total = total + TITANIUM * chord(x, nail_mm / 2)[None, :]
    return developed(total, photons=photons, power=power)


def measured(
    grey, *, development=KNOWN, gap=((0.0, 1.5), (0.0, -1.5)), rule=None, last=630, scatter=(0.0, 0.0)
):
    plate = Plate(grey=grey, row_mm=PX_MM, column_mm=PX_MM)
    column = COLUMNS / 2
    upper = trace_shaft(plate, ((column + 4, 10.0), (column - 4, TOP - 12.0)), blur_mm=0.15)
    lower = trace_shaft(plate, ((column - 4, BOTTOM + 12.0), (column + 4, float(last))), blur_mm=0.15)
    clicks = tuple(
        (column + dx / PX_MM, row + dy / PX_MM) for row, (dx, dy) in zip((TOP, BOTTOM), gap, strict=True)
    )
    return measure_new_bone(plate, upper, lower, clicks, development=development, rule=rule, scatter=scatter)


@pytest.mark.parametrize("density", [0.25, 0.6, 0.9])
def test_ratios_are_the_drawn_density(density):
    found = measured(film(density=density))
    for cortex in (found.viewer_left, found.viewer_right, found.whole):
        assert cortex.attenuation_ratio.value == pytest.approx(density, abs=0.02)
        assert abs(cortex.attenuation_ratio.value - density) < 2.5 * cortex.attenuation_ratio.sd
        # The published ratio counts the soft tissue in front of and behind the bone as well.
        assert density < cortex.pixel_value_ratio.value < 1.0
    assert found.gap_mm.value == pytest.approx((BOTTOM - TOP) * PX_MM, abs=0.4)


def test_scattered_light_is_taken_off_and_what_is_not_known_of_it_stated():
    haze = 0.02
    light = np.exp(-6.0 * film(density=0.3) / 16383.0) + haze
    grey = np.rint(16383.0 * np.clip(-np.log(light), 0.0, None) / 6.0).astype(np.uint16)
    kept = measured(grey).whole.attenuation_ratio
    made = scattered_light(
        Plate(grey=grey, row_mm=PX_MM, column_mm=PX_MM), (COLUMNS / 2, 0.5 * (TOP + BOTTOM)), KNOWN
    )
    freed = measured(grey, scatter=(haze / made, 0.3 * haze / made)).whole.attenuation_ratio
    assert kept.value - 0.3 > 0.02
    assert freed.value == pytest.approx(0.3, abs=0.012)
    assert freed.sd > kept.sd
    assert abs(freed.value - 0.3) < 2.0 * freed.sd


def test_where_the_film_does_not_tell_attenuation_scatter_stays_and_widens_the_uncertainty():
    grey = film(density=0.3)
    sure = measured(grey).whole.attenuation_ratio
    unsure = measured(grey, development=replace(KNOWN, absolute=False), scatter=USUAL_SHARE)
    assert unsure.whole.attenuation_ratio.value == pytest.approx(sure.value, abs=1e-6)
    assert unsure.whole.attenuation_ratio.sd > sure.sd + 0.01


def test_the_curve_of_the_film_is_undone():
    curve = Development(low=0.0, high=6.0, power=0.5, white=16383.0)
    found = measured(film(power=0.5, density=0.25), development=curve)
    assert found.whole.attenuation_ratio.value == pytest.approx(0.25, abs=0.02)


def test_a_film_in_light_is_turned_into_attenuation():
    grey = np.rint(16383.0 * (1.0 - np.exp(-6.0 * film(density=0.25) / 16383.0))).astype(np.uint16)
    found = measured(grey, development=Development(white=16383.0, in_light=True))
    assert found.whole.attenuation_ratio.value == pytest.approx(0.25, abs=0.03)
    wrong = measured(grey, development=KNOWN)
    assert abs(wrong.whole.attenuation_ratio.value - 0.25) > 0.08


def test_a_nail_is_left_out():
    found = measured(film(nail_mm=9.0))
    assert found.metal_share > 0.3
    assert found.viewer_left.attenuation_ratio.value == pytest.approx(0.4, abs=0.03)
    assert found.outline is NewBoneShape.CYLINDRICAL


@pytest.mark.parametrize(
    ("how", "outline"),
    [
        ({}, NewBoneShape.CYLINDRICAL),
        ({"width": 1.25}, NewBoneShape.FUSIFORM),
        ({"width": 0.75}, NewBoneShape.CONCAVE),
        ({"one_sided": True}, NewBoneShape.LATERAL),
        ({"pillar": True}, NewBoneShape.CENTRAL),
        ({"density": 0.0}, NewBoneShape.NONE),
    ],
)
def test_shapes_are_told_apart(how, outline):
    assert measured(film(**how)).outline is outline


@pytest.mark.parametrize("width", [0.8, 1.2])
def test_the_width_ratio_is_the_drawn_one(width):
    found = measured(film(width=width))
    assert found.width_ratio is not None
    assert found.width_ratio.value == pytest.approx(width, abs=0.05)


def test_bridging_follows_the_practices_limit():
    grey = film(density=0.8)
    assert measured(grey).cortices_bridged == 2
    strict = measured(grey, rule=OutlineRule(bridged_from=0.95))
    assert strict.cortices_bridged == 0
    assert strict.viewer_left.weakest == pytest.approx(0.8, abs=0.06)


def test_clicks_3_mm_off_hardly_change_it():
    grey = film()
    one = measured(grey, gap=((2.0, 3.0), (-2.0, -3.0)))
    other = measured(grey, gap=((-2.0, -3.0), (2.0, 3.0)))
    assert one.whole.attenuation_ratio.value == pytest.approx(other.whole.attenuation_ratio.value, abs=0.01)
    assert one.gap_mm.value == pytest.approx(other.gap_mm.value, abs=0.3)


def test_a_film_that_does_not_say_how_it_was_made_carries_a_finding():
    assert measured(film()).findings == ()
    unsure = measured(film(), development=replace(KNOWN, certain=False))
    assert [f.id for f in unsure.findings] == ["film-density-processed"]


def test_a_gap_clicked_upside_down_or_traces_that_do_not_reach_it_are_refused():
    grey = film()
    with pytest.raises(OutOfRange, match="gap between the clicks"):
        measured(grey, gap=((0.0, 28.0), (0.0, -28.0)))
    with pytest.raises(LimbwrightError, match=r"within 14 mm of it|gap between the clicks"):
        measured(grey, gap=((0.0, -60.0), (0.0, -58.0)))
