"""Ends of a drawn nail: a bright bar of two widths on grey."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.error import Refused
from limbwright.film.film import Provenance
from limbwright.film.snap.nail_ends import find_junction, find_nail_end
from limbwright.film.tracing import Plate

PX_MM = 0.4
ROWS, COLUMNS, MIDDLE = 600, 160, 80.0
TOP_MM, STEP_MM, END_MM = 30.0, 130.0, 200.0
THICK_MM, THIN_MM = 10.7, 8.0


def film(*, steps=True):
    """A nail that runs straight down: top, step from thick to thin, end; edges weighed by their share."""
    x = (np.arange(COLUMNS) - MIDDLE) * PX_MM
    y = np.arange(ROWS) * PX_MM

    def inside(low, high, at):
        return np.clip(np.minimum(at - low, high - at) / PX_MM + 0.5, 0.0, 1.0)

    thin = inside(TOP_MM, END_MM, y)[:, None] * inside(-THIN_MM / 2, THIN_MM / 2, x)[None, :]
    thick = inside(TOP_MM, STEP_MM, y)[:, None] * inside(-THICK_MM / 2, THICK_MM / 2, x)[None, :]
    rng = np.random.Generator(np.random.PCG64(3))
    shown = np.maximum(thin, thick) if steps else thin
    grey = (3000 + 9000 * shown + rng.normal(0, 60, (ROWS, COLUMNS))).astype(np.float32)
    return Plate(grey=grey, row_mm=PX_MM, column_mm=PX_MM)


PLATE = film()
OFF = st.floats(-4.0, 4.0)


def clicked(along_mm, off_mm, beside_mm):
    return MIDDLE + beside_mm / PX_MM, (along_mm + off_mm) / PX_MM


@settings(deadline=None)
@given(OFF, st.floats(-2.0, 2.0))
def test_both_ends_and_the_step_are_found_from_clicks_some_millimetres_off(off_mm, beside_mm):
    inside = (MIDDLE, 0.5 * (TOP_MM + STEP_MM) / PX_MM)
    top = find_nail_end(PLATE, clicked(TOP_MM, off_mm, beside_mm), inside, width_mm=THICK_MM)
    step = find_junction(
        PLATE, clicked(STEP_MM, off_mm, beside_mm), inside, thick_mm=THICK_MM, thin_mm=THIN_MM
    )
    end = find_nail_end(PLATE, clicked(END_MM, off_mm, beside_mm), inside, width_mm=THIN_MM)
    for found, true_mm in ((top, TOP_MM), (step, STEP_MM), (end, END_MM)):
        assert found.y_px * PX_MM == pytest.approx(true_mm, abs=0.5)
        assert found.x_px == pytest.approx(MIDDLE, abs=1.5)
        assert found.support > 0.3
    assert top.mark(column_mm=PX_MM).provenance is Provenance.SNAPPED


def test_where_nothing_ends_it_is_refused():
    inside = (MIDDLE, 100 / PX_MM)
    with pytest.raises(Refused, match="no end of the nail"):
        find_nail_end(PLATE, (MIDDLE, 70 / PX_MM), inside, width_mm=THICK_MM)
    with pytest.raises(Refused, match="no step from thick to thin"):
        find_junction(film(steps=False), (MIDDLE, STEP_MM / PX_MM), inside, thick_mm=10.7, thin_mm=8.0)
    with pytest.raises(Refused, match="lies only"):
        find_nail_end(PLATE, (MIDDLE, 70 / PX_MM), (MIDDLE, 72 / PX_MM), width_mm=THICK_MM)
    with pytest.raises(Refused, match="no step"):
        find_junction(PLATE, (MIDDLE, STEP_MM / PX_MM), inside, thick_mm=8.1, thin_mm=8.1)
