import film_files as files
import numpy as np
import pytest

from limbwright.error import Contradiction, Missing, Unreadable
from limbwright.film.reading import read_picture


def _refused(error, words, **elements):
    with pytest.raises(error, match=words) as caught:
        read_picture(files.film(**elements), name="knee film")
    assert caught.value.where == "knee film"
    assert caught.value.next_step


def test_several_frames_are_refused_with_their_number():
    _refused(Unreadable, r"holds 30 frames \(0028,0008\)", NumberOfFrames=30)
    assert read_picture(files.film(NumberOfFrames=1), name="film").findings == ()


@pytest.mark.parametrize("keyword", ["PhotometricInterpretation", "BitsAllocated", "Rows"])
def test_what_is_needed_and_missing_is_named(keyword):
    _refused(Missing, "not stated|no picture size", **{keyword: None})


def test_what_can_be_inferred_may_be_missing():
    values = files.shaft(bits=16)
    content = files.film(
        values, bits=16, BitsStored=None, HighBit=None, PixelRepresentation=None, SamplesPerPixel=None
    )
    assert np.array_equal(read_picture(content, name="film").picture.values, values)


@pytest.mark.parametrize(
    ("elements", "words"),
    [
        ({"BitsStored": 17}, "17 bits stored"),
        ({"BitsStored": 1, "HighBit": 0}, "1 bits stored"),
        ({"HighBit": 16}, "high bit 16"),
        ({"HighBit": 5}, "high bit 5"),
        ({"PixelRepresentation": 7}, "pixel representation .* is 7"),
        ({"SamplesPerPixel": 3}, "MONOCHROME2 with 3 channels"),
        ({"PhotometricInterpretation": "RGB"}, "RGB with one channel"),
    ],
)
def test_depths_and_channels_that_contradict_each_other(elements, words):
    _refused(Contradiction, words, **elements)


@pytest.mark.parametrize("bits", [1, 12, 32, 64])
def test_other_containers_than_8_and_16_bits_are_refused(bits):
    _refused(Unreadable, f"one pixel takes {bits} bits", BitsAllocated=bits)


@pytest.mark.parametrize("kind", ["PALETTE COLOR", "ARGB", "HSV"])
def test_colour_of_other_kinds_is_refused_by_name(kind):
    _refused(Unreadable, kind, PhotometricInterpretation=kind)


def test_deep_colour_is_refused():
    values = np.zeros((4, 4, 3), dtype=np.uint16)
    with pytest.raises(Unreadable, match="colour with 16 bits a channel"):
        read_picture(
            files.film(values, bits=16, SamplesPerPixel=3, PhotometricInterpretation="RGB"), name="film"
        )


def test_coarse_grey_is_questioned():
    values = files.shaft(bits=6)
    read = read_picture(files.film(values, bits=6), name="film")
    assert files.ids(read) == {"film-coarse-grey"}
    assert read.facts.bits_stored == 6
