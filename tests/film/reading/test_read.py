"""The two ways in, on sound files of every encoding."""

import subprocess
import sys

import film_files as files
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.error import LimbwrightError
from limbwright.film.reading import FileKind, Picture, grey8, read_facts, read_picture


@pytest.mark.parametrize("signed", [False, True])
@pytest.mark.parametrize("bits", [8, 10, 12, 14, 16])
@pytest.mark.parametrize("syntax", files.NATIVE)
def test_an_uncompressed_film_comes_back_bit_for_bit(syntax, bits, signed):
    values = files.shaft(bits=bits, signed=signed)
    read = read_picture(files.film(values, syntax, bits=bits), name="film")
    assert np.array_equal(read.picture.values, values)
    assert read.picture.bits_stored == bits
    assert read.findings == ()


@pytest.mark.parametrize("bits", [8, 10, 12, 14, 16])
@pytest.mark.parametrize("syntax", files.PACKED)
def test_a_losslessly_packed_film_comes_back_bit_for_bit(syntax, bits):
    values = files.shaft(bits=bits)
    read = read_picture(files.film(values, syntax, bits=bits), name="film")
    assert np.array_equal(read.picture.values, values)
    assert read.findings == ()


@pytest.mark.parametrize("syntax", files.PACKED)
def test_a_signed_packed_film_keeps_its_signs(syntax):
    values = files.shaft(bits=12, signed=True)
    read = read_picture(files.film(values, syntax, bits=12), name="film")
    assert read.picture.values.dtype == np.int16
    assert np.array_equal(read.picture.values, values)


def test_a_baseline_jpeg_film_is_close_and_says_lossy():
    values = files.shaft(bits=8)
    read = read_picture(files.jpeg_film(values), name="film")
    assert np.abs(read.picture.values.astype(int) - values).mean() < 2
    assert read.facts.lossy is True
    assert files.ids(read) == {"film-lossy"}


def test_the_picture_is_a_read_only_view_of_an_uncompressed_file():
    content = files.film()
    picture = read_picture(content, name="film").picture
    with pytest.raises(ValueError, match="read-only"):
        picture.values[0, 0] = 0
    assert not picture.values.flags.owndata


def test_facts_alone_need_no_pixels():
    content = files.film(syntax=files.JPEG2000Lossless)
    cut = content[: content.index(b"\xff\x4f\xff\x51")]
    assert read_facts(cut, name="film").facts == read_facts(content, name="film").facts


@pytest.mark.parametrize(
    ("content", "kind"),
    [
        (files.film(), FileKind.DICOM),
        (files.picture_file(files.shaft(), "PNG"), FileKind.PNG),
        (files.picture_file(files.shaft(bits=8), "JPEG"), FileKind.JPEG),
        (files.tiff_file(files.shaft()), FileKind.TIFF),
    ],
)
def test_facts_and_picture_agree_on_what_the_file_is(content, kind):
    facts, film = read_facts(content, name="film"), read_picture(content, name="film")
    assert facts.facts.kind is film.facts.kind is kind
    assert (film.picture.rows, film.picture.columns) == (facts.facts.rows, facts.facts.columns) == (48, 40)


@settings(max_examples=60, deadline=None)
@given(
    rows=st.integers(1, 20),
    columns=st.integers(1, 20),
    bits=st.integers(2, 16),
    syntax=st.sampled_from(files.NATIVE),
    seed=st.integers(0, 1000),
)
def test_any_size_and_depth_survives_writing_and_reading(rows, columns, bits, syntax, seed):
    rng = np.random.Generator(np.random.PCG64(seed))
    values = rng.integers(0, 1 << bits, (rows, columns)).astype(np.uint16 if bits > 8 else np.uint8)
    picture = read_picture(files.film(values, syntax, bits=bits), name="film").picture
    assert np.array_equal(picture.values, values)


@settings(max_examples=100, deadline=None)
@given(
    content=st.binary(max_size=600),
    start=st.sampled_from([b"", b"\x89PNG\r\n\x1a\n", b"II*\0", b"\xff\xd8\xff"]),
)
def test_noise_is_refused_in_plain_words(content, start):
    with pytest.raises(LimbwrightError, match="film: "):
        read_picture(start + content, name="film")


def test_importing_the_room_loads_no_format_library():
    script = (
        "import sys, limbwright.film.reading\n"
        "loaded = {'pydicom', 'PIL', 'tifffile', 'imagecodecs', 'openjpeg', 'jpeg_ls', 'scipy', 'numba'}\n"
        "print(sorted(loaded & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_too_little_memory_is_said_plainly(monkeypatch):
    def exhausted(*_args, **_more):
        raise MemoryError

    monkeypatch.setattr("limbwright.film.reading.read._film_of", exhausted)
    monkeypatch.setattr("limbwright.film.reading.read._facts_of", exhausted)
    for read in (read_picture, read_facts):
        with pytest.raises(LimbwrightError, match="not enough memory"):
            read(files.film(), name="film")


def test_nothing_is_printed(capfd, caplog):
    content = files.film(StudyDate="2026-March", PatientID="\u00e9\u00e8", SpecificCharacterSet="nonsense")
    caplog.clear()
    capfd.readouterr()
    read_picture(content, name="film")
    assert capfd.readouterr() == ("", "")
    assert caplog.records == []


def test_exposed_pixels_are_those_without_padding():
    values = files.shaft()
    values[:4] = 0
    picture = read_picture(files.film(values, PixelPaddingValue=0), name="film").picture
    assert not picture.exposed()[:4].any()
    assert picture.exposed()[4:].all()
    assert isinstance(picture, Picture)
    assert not grey8(picture)[:4].any()
