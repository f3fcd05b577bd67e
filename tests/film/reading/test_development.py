"""Grey values back to attenuation."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.error import OutOfRange
from limbwright.film.reading import Development, Meaning, Picture, Window, development_of


@given(st.floats(0.5, 1.5), st.floats(0.2, 4.0))
def test_the_curve_is_undone(power, attenuation):
    curve = Development(low=0.1, high=5.0, power=power, white=4095.0)
    grey = 4095.0 * ((attenuation - 0.1) / 4.9) ** power if attenuation > 0.1 else 0.0
    assert curve.attenuation(np.array([grey]))[0] == pytest.approx(max(attenuation, 0.1), abs=1e-6)


def test_light_becomes_attenuation():
    light = Development(white=1000.0, in_light=True)
    grey = 1000.0 * (1.0 - np.exp(-1.7))
    assert light.attenuation(np.array([grey]))[0] == pytest.approx(1.7)


@pytest.mark.parametrize(
    ("meaning", "in_light", "certain"),
    [
        (Meaning.LINEAR_IN_ATTENUATION, False, True),
        (Meaning.LINEAR_IN_INTENSITY, True, True),
        (Meaning.PROCESSED, False, False),
        (Meaning.UNSTATED, False, False),
    ],
)
def test_what_the_header_says_decides(meaning, in_light, certain):
    picture = Picture(
        values=np.zeros((9, 9), np.uint16),
        bits_stored=12,
        inverted=True,
        windows=(Window(centre=10, width=10),),
        meaning=meaning,
    )
    development = development_of(picture)
    assert (development.in_light, development.certain) == (in_light, certain)
    # Light tells attenuation as it is; a line in attenuation does not say how steep it is.
    assert development.absolute == in_light
    assert development.white == 4095.0


def test_a_curve_that_does_not_rise_is_refused():
    with pytest.raises(OutOfRange, match="attenuation 2 to 1"):
        Development(low=2.0, high=1.0)
