import film_files as files
import numpy as np
import pytest

from limbwright.error import Unreadable
from limbwright.film.reading.colour import grey_of_colour


def _grey_as_colour() -> np.ndarray:
    return np.dstack([files.shaft(600, 40, bits=8)] * 3)


def test_equal_channels_are_grey():
    grey, (finding,) = grey_of_colour(_grey_as_colour(), name="film")
    assert np.array_equal(grey, files.shaft(600, 40, bits=8))
    assert finding.id == "film-colour-was-grey"
    assert "channels are equal." in finding.words


def test_the_noise_of_colour_compression_is_still_grey():
    colour = _grey_as_colour()
    colour[..., 0] = np.clip(colour[..., 0].astype(int) + 5, 0, 255)
    _, (finding,) = grey_of_colour(colour, name="film")
    assert "up to the noise" in finding.words


def test_coloured_marks_are_kept_bright_and_said():
    colour = _grey_as_colour()
    colour[10:20, 5:15] = (255, 220, 0)
    grey, (finding,) = grey_of_colour(colour, name="film")
    assert finding.id == "film-coloured-marks"
    assert (grey[10:20, 5:15] == 255).all()
    assert finding.numbers[0].value == pytest.approx(100 / 24_000)


def test_a_photograph_is_refused_with_its_share_of_colour():
    colour = _grey_as_colour()
    colour[:300, :, 2] = 255 - colour[:300, :, 2] // 2
    with pytest.raises(Unreadable, match=r"in colour \(\d+ % of its pixels\)"):
        grey_of_colour(colour, name="film")
