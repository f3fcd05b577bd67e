import io
import struct
import zlib

import film_files as files
import numpy as np
import pytest
from PIL import Image

from limbwright.error import Unreadable
from limbwright.film.reading import FileKind, limits, read_facts, read_picture


def _saved(image: Image.Image, kind: str, **options) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


@pytest.mark.parametrize("bits", [8, 16])
def test_a_grey_png_comes_back_bit_for_bit(bits):
    values = files.shaft(bits=bits)
    read = read_picture(files.picture_file(values, "PNG"), name="film")
    assert np.array_equal(read.picture.values, values)
    assert read.picture.values.dtype == values.dtype
    assert read.facts.kind is FileKind.PNG
    assert read.facts.scale.pixel_spacing_mm is None
    assert files.ids(read) == {"film-no-scale-in-picture-file"}


def test_an_8_bit_picture_is_shown_whole_and_a_deep_one_over_its_range():
    assert (
        read_picture(files.picture_file(files.shaft(bits=8), "PNG"), name="film").picture.window.width == 255
    )
    window = read_picture(files.picture_file(files.shaft(), "PNG"), name="film").picture.window
    assert window.name == "picture's own range"
    assert window.centre + window.width / 2 == pytest.approx(np.percentile(files.shaft(), 99.5))


def test_a_grey_jpeg_is_close_and_lossy():
    values = files.shaft(bits=8)
    read = read_picture(files.picture_file(values, "JPEG", quality=95), name="film")
    assert np.abs(read.picture.values.astype(int) - values).mean() < 2
    assert read.facts.lossy is True


@pytest.mark.parametrize("kind", ["PNG", "JPEG"])
def test_a_grey_film_saved_as_colour_is_read(kind):
    read = read_picture(files.picture_file(np.dstack([files.shaft(bits=8)] * 3), kind), name="film")
    assert "film-colour-was-grey" in files.ids(read)


@pytest.mark.parametrize("mode", ["1", "P", "CMYK"])
def test_other_colour_modes_are_refused_by_name(mode):
    image = Image.fromarray(files.shaft(bits=8)).convert(mode)
    content = _saved(image, "JPEG" if mode == "CMYK" else "PNG")
    for read in (read_picture, read_facts):
        with pytest.raises(Unreadable, match=f"colour mode '{mode}'"):
            read(content, name="film")


@pytest.mark.parametrize("mode", ["LA", "RGBA"])
def test_an_opaque_layer_is_dropped_and_a_transparent_one_refused(mode):
    image = Image.fromarray(files.shaft(bits=8)).convert(mode)
    read = read_picture(_saved(image, "PNG"), name="film")
    assert "film-opaque-layer-dropped" in files.ids(read)
    assert np.array_equal(read.picture.values, files.shaft(bits=8))
    image.putalpha(100)
    with pytest.raises(Unreadable, match="transparent"):
        read_picture(_saved(image, "PNG"), name="film")


def test_a_turned_jpeg_is_turned_as_it_asks():
    image = Image.fromarray(files.shaft(bits=8))
    exif = Image.Exif()
    exif[0x0112] = 6
    read = read_picture(_saved(image, "JPEG", exif=exif, quality=95), name="film")
    assert "film-turned" in files.ids(read)
    assert read.picture.values.shape == (40, 48) == (read.facts.rows, read.facts.columns)


def test_an_animated_png_is_refused():
    frames = [Image.fromarray(files.shaft(bits=8)), Image.fromarray(255 - files.shaft(bits=8))]
    with pytest.raises(Unreadable, match="holds 2 pictures"):
        read_picture(_saved(frames[0], "PNG", save_all=True, append_images=frames[1:]), name="film")


def _png(rows: int, columns: int, data: bytes) -> bytes:
    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">L", len(body)) + kind + body + struct.pack(">L", zlib.crc32(kind + body))

    head = struct.pack(">LLBBBBB", columns, rows, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


@pytest.mark.parametrize("size", [(60_000, 60_000), (30_000, 30_000), (20_000, 20_000), (9_000, 9_000)])
def test_a_png_bomb_is_refused_before_it_is_unpacked(size):
    for read in (read_picture, read_facts):
        with pytest.raises(Unreadable, match=r"are read|in a byte|exceeds limit"):
            read(_png(*size, zlib.compress(b"\0" * 1000)), name="film")


def test_a_small_flat_picture_is_no_bomb():
    flat = np.full((1500, 1500), 9, dtype=np.uint8)
    assert flat.size < limits.ROOMY_PIXELS
    assert read_picture(files.picture_file(flat, "PNG"), name="film").picture.values.max() == 9


@pytest.mark.parametrize("kind", ["PNG", "JPEG"])
def test_every_cut_ends_in_a_plain_error(kind):
    content = files.picture_file(files.shaft(bits=8), kind)
    for length in range(1, len(content) - 20, 37):
        with pytest.raises(Unreadable, match="film: "):
            read_picture(content[:length], name="film")
