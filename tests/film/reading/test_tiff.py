import importlib
import io
import struct
import zlib

import film_files as files
import numpy as np
import pytest
from PIL import Image

from limbwright.error import Missing, Unreadable
from limbwright.film.reading import FileKind, limits, read_facts, read_picture

WAYS = [{}, {"byteorder": ">"}, {"bigtiff": True}, {"tile": (16, 16)}, {"rowsperstrip": 7}]
WAYS += [{"compression": way} for way in ("lzw", "zlib", "packbits")]
WAYS += [{"compression": "zlib", "predictor": True}]


@pytest.mark.parametrize("options", WAYS, ids=str)
@pytest.mark.parametrize("bits", [8, 16])
def test_a_grey_tiff_comes_back_bit_for_bit(bits, options):
    values = files.shaft(bits=bits)
    stored = values.astype(values.dtype.newbyteorder(options.get("byteorder", "<")))
    read = read_picture(files.tiff_file(stored, **options), name="film")
    assert np.array_equal(read.picture.values, values)
    assert read.picture.values.dtype == values.dtype
    assert read.facts.kind is FileKind.TIFF
    assert files.ids(read) == {"film-no-scale-in-picture-file"}


@pytest.mark.parametrize("compression", ["raw", "tiff_lzw", "tiff_adobe_deflate", "packbits"])
def test_tiffs_of_another_writer_are_read(compression):
    values = files.shaft(bits=8)
    content = files.picture_file(values, "TIFF", compression=compression)
    assert np.array_equal(read_picture(content, name="film").picture.values, values)


@pytest.mark.parametrize("bits", [8, 16])
def test_white_is_zero_is_inverted_and_said(bits):
    values = files.shaft(bits=bits)
    inverse = (1 << bits) - 1 - values.astype(int)
    read = read_picture(files.tiff_file(inverse.astype(values.dtype), photometric="miniswhite"), name="film")
    assert "film-white-is-zero" in files.ids(read)
    assert np.array_equal(read.picture.values, values)


def test_a_grey_film_saved_as_colour_is_read_and_real_colour_refused():
    grey = files.shaft(bits=8)
    read = read_picture(files.tiff_file(np.dstack([grey] * 3), photometric="rgb"), name="film")
    assert "film-colour-was-grey" in files.ids(read)
    assert np.array_equal(read.picture.values, grey)
    with pytest.raises(Unreadable, match="in colour"):
        read_picture(files.tiff_file(np.dstack([grey, 255 - grey, grey]), photometric="rgb"), name="film")


def test_several_pages_are_refused():
    pages = np.stack([files.shaft(), files.shaft()])
    for read in (read_picture, read_facts):
        with pytest.raises(Unreadable, match="several pages"):
            read(files.tiff_file(pages, photometric="minisblack"), name="film")


@pytest.mark.parametrize("dtype", [np.float32, np.uint32, np.int16, np.float64])
def test_other_samples_are_refused_by_name(dtype):
    with pytest.raises(Unreadable, match=f"type {np.dtype(dtype)}"):
        read_picture(files.tiff_file(files.shaft().astype(dtype)), name="film")


def test_other_compressions_are_refused_by_number():
    content = files.picture_file(files.shaft(bits=8), "TIFF", compression="jpeg")
    with pytest.raises(Unreadable, match="packed by method 7"):
        read_picture(content, name="film")


@pytest.mark.parametrize("options", [{}, {"compression": "lzw"}, {"tile": (16, 16)}], ids=str)
def test_every_cut_ends_in_a_plain_error(options):
    content = files.tiff_file(files.shaft(), **options)
    for length in range(4, len(content) - 400, 101):
        with pytest.raises(Unreadable, match="film: "):
            read_picture(content[:length], name="film")


def test_a_cut_strip_is_refused_not_filled_with_zeros():
    content = files.tiff_file(files.shaft())
    with pytest.raises(Unreadable, match="cut short"):
        read_picture(content[:-100], name="film")


def _declared(rows: int, columns: int, **options) -> bytes:
    """A TIFF whose header declares another size than it holds."""
    content = bytearray(files.tiff_file(files.shaft(48, 40), **options))
    for tag, value in ((256, columns), (257, rows)):
        for kind in (3, 4):
            at = content.find(struct.pack("<HHL", tag, kind, 1))
            if at >= 0:
                content[at : at + 12] = struct.pack("<HHLL", tag, 4, 1, value)
    return bytes(content)


@pytest.mark.parametrize("size", [(60_000, 60_000), (4_000_000_000, 1), (20_000, 20_000)])
def test_a_huge_declared_tiff_is_refused(size):
    for options in ({}, {"compression": "zlib"}):
        with pytest.raises(Unreadable, match=r"are read|in a byte|damaged"):
            read_picture(_declared(*size, **options), name="film")


def test_a_larger_declared_size_than_is_held_is_refused():
    with pytest.raises(Unreadable, match=r"cut short|damaged"):
        read_picture(_declared(96, 40), name="film")


def test_too_many_tiles_are_refused(monkeypatch):
    monkeypatch.setattr(limits, "MAX_TILES", 3)
    with pytest.raises(Unreadable, match="cut into 9 tiles"):
        read_picture(files.tiff_file(files.shaft(), tile=(16, 16)), name="film")


def test_a_damaged_strip_is_refused():
    content = bytearray(files.tiff_file(files.shaft(), compression="zlib"))
    at = content.index(b"\x78")
    content[at : at + 60] = b"\xff" * 60
    with pytest.raises(Unreadable, match="damaged"):
        read_picture(bytes(content), name="film")


def test_a_bomb_in_a_strip_is_refused_before_it_grows():
    bomb = zlib.compress(b"\0" * 50_000_000)
    content = bytearray(files.tiff_file(files.shaft(), compression="zlib", rowsperstrip=48) + bomb)
    for tag, value in ((273, len(content) - len(bomb)), (279, len(bomb))):
        at = max(content.find(struct.pack("<HHL", tag, kind, 1)) for kind in (3, 4))
        content[at : at + 12] = struct.pack("<HHLL", tag, 4, 1, value)
    with pytest.raises(Unreadable, match="damaged"):
        read_picture(bytes(content), name="film")


def test_packed_pages_need_the_codec_package(monkeypatch):
    genuine = importlib.import_module

    def without(name, *more):
        if name == "imagecodecs":
            raise ImportError(name)
        return genuine(name, *more)

    packed, plain = files.tiff_file(files.shaft(), compression="lzw"), files.tiff_file(files.shaft())
    monkeypatch.setattr(importlib, "import_module", without)
    with pytest.raises(Missing, match="packed by LZW") as caught:
        read_picture(packed, name="film")
    assert "'imagecodecs'" in caught.value.next_step
    assert read_picture(plain, name="film").picture.rows == 48


def test_pillow_agrees_on_a_tiled_file():
    content = files.tiff_file(files.shaft(), tile=(16, 16))
    assert np.array_equal(
        read_picture(content, name="f").picture.values, np.asarray(Image.open(io.BytesIO(content)))
    )
