import film_files as files
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.error import OutOfRange
from limbwright.film.reading import Curve, Picture, Region, Window, WindowShape, grey8
from limbwright.film.reading.window import own_range

WINDOW = Window(centre=2000.0, width=1500.0)


def _picture(values=None, **more) -> Picture:
    values = files.shaft(200, 150) if values is None else values
    return Picture(values=values, bits_stored=12, inverted=False, windows=(WINDOW,), **more)


def _direct(values) -> np.ndarray:
    return np.rint(np.clip((values.astype(float) - 1250) * (255 / 1500), 0, 255))


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16, np.int16])
def test_the_table_gives_what_the_formula_gives(dtype):
    low, high = np.iinfo(dtype).min, np.iinfo(dtype).max
    values = np.linspace(low, high, 60_000).astype(dtype).reshape(200, 300)
    assert np.array_equal(grey8(_picture(values)), _direct(values))


@given(
    top=st.integers(0, 199),
    left=st.integers(0, 149),
    rows=st.integers(1, 300),
    columns=st.integers(1, 300),
    step=st.integers(1, 50),
)
def test_a_region_is_the_same_part_of_the_whole(top, left, rows, columns, step):
    picture = _picture()
    region = Region(top=top, left=left, rows=rows, columns=columns)
    whole = grey8(picture)
    part = grey8(picture, region=region, step=step)
    assert np.array_equal(part, whole[top : top + rows : step, left : left + columns : step])


@pytest.mark.parametrize(
    "region",
    [
        Region(top=-1, left=0, rows=5, columns=5),
        Region(top=0, left=150, rows=5, columns=5),
        Region(top=200, left=0, rows=5, columns=5),
        Region(top=0, left=0, rows=0, columns=5),
    ],
)
def test_a_region_outside_is_refused(region):
    with pytest.raises(OutOfRange, match="lies outside the picture of 200 by 150"):
        grey8(_picture(), region=region)


def test_a_step_below_one_is_refused():
    with pytest.raises(OutOfRange, match="step is 0"):
        grey8(_picture(), step=0)


@pytest.mark.parametrize(("centre", "width"), [(0, 0), (0, -1), (float("nan"), 1), (0, float("inf"))])
def test_an_impossible_window_is_refused(centre, width):
    with pytest.raises(OutOfRange, match="are no window"):
        Window(centre=centre, width=width)


def test_grey_never_falls_when_the_value_rises():
    values = np.arange(65536, dtype=np.uint16).reshape(256, 256)
    for shape in WindowShape:
        grey = grey8(_picture(values), Window(centre=30_000, width=9_000, shape=shape)).ravel().astype(int)
        assert (np.diff(grey) >= 0).all()
        assert (grey[0], grey[-1]) == (0, 255)
        assert grey[30_000] in (127, 128)


def test_a_very_narrow_sigmoid_overflows_nowhere():
    values = np.arange(65536, dtype=np.uint16).reshape(256, 256)
    grey = grey8(_picture(values), Window(centre=30_000, width=1e-3, shape=WindowShape.SIGMOID))
    assert set(np.unique(grey)) == {0, 128, 255}


def test_a_curve_holds_its_ends():
    values = np.arange(256, dtype=np.uint8).reshape(16, 16)
    grey = grey8(_picture(values), Curve(first_value=100, greys=(10, 20, 30))).ravel()
    assert grey[:101].tolist() == [10] * 101
    assert grey[101] == 20
    assert set(grey[102:]) == {30}


def test_padding_is_drawn_black():
    values = files.shaft(200, 150)
    values[:10] = 4000
    grey = grey8(_picture(values, padding=(3990, 4095)))
    assert not grey[:10].any()
    assert grey[10:].any()


def test_a_picture_without_padding_is_all_exposed():
    assert _picture().exposed().all()


def test_the_own_range_leaves_out_padding_and_tails():
    values = np.tile(np.arange(1000, dtype=np.uint16), (100, 1))
    values[:20] = 4095
    window = own_range(values, (4095, 4095))
    assert window.centre == pytest.approx(499.5)
    assert window.width == pytest.approx(989.0, abs=1)
    assert own_range(np.full((5, 5), 7, dtype=np.uint16), (7, 7)).width == 1.0
