import io
import struct

import film_files as files
import pytest
from pydicom import dcmread
from pydicom.encaps import get_frame

from limbwright.film.reading.codestream import Packing, codestream_of, ends_whole


def _frame(syntax, bits=12) -> bytes:
    content = files.film(files.shaft(bits=bits), syntax, bits=bits)
    return get_frame(dcmread(io.BytesIO(content)).PixelData, 0, number_of_frames=1)


@pytest.mark.parametrize(
    ("make", "packing", "bits"),
    [
        (lambda: _frame(files.JPEGLSLossless), Packing.JPEG_LS, 12),
        (lambda: _frame(files.JPEG2000Lossless), Packing.JPEG_2000, 12),
        (lambda: _frame(files.JPEGLosslessSV1, 14), Packing.JPEG_LOSSLESS, 14),
        (lambda: files.picture_file(files.shaft(bits=8), "JPEG"), Packing.JPEG, 8),
        (lambda: files.picture_file(files.shaft(bits=8), "JPEG2000"), Packing.JPEG_2000, 8),
    ],
)
def test_size_and_depth_are_found_without_decoding(make, packing, bits):
    packed = make()
    stream = codestream_of(packed)
    assert stream is not None
    assert (stream.packing, stream.rows, stream.columns, stream.bits) == (packing, 48, 40, bits)
    assert (stream.components, stream.tiles, stream.signed) == (1, 1, False)
    assert ends_whole(packed)
    assert ends_whole(packed + b"\0")
    assert not ends_whole(packed[:-4])


@pytest.mark.parametrize("cut", range(0, 120, 3))
def test_a_cut_stream_declares_nothing_or_the_truth(cut):
    for syntax in (files.JPEGLSLossless, files.JPEG2000Lossless, files.JPEGLosslessSV1):
        stream = codestream_of(_frame(syntax)[:cut])
        assert stream is None or (stream.rows, stream.columns) == (48, 40)


@pytest.mark.parametrize(
    "packed",
    [
        b"",
        b"\xff\xd8\xff\xd9",
        b"\xff\xd8nonsense",
        b"\xff\xd8\xff\xe0\x00\x00" + b"\0" * 20,
        b"\xff\xd8" + b"\xff\xe0\x00\x02" * 2000,
        b"\xff\x4f\xff\x51" + b"\0" * 60,
    ],
)
def test_what_declares_no_size_is_none(packed):
    assert codestream_of(packed) is None


def test_fill_bytes_and_standalone_markers_are_passed_over():
    frame = b"\xff\xc3" + struct.pack(">HBHHB", 11, 12, 48, 40, 1) + b"\x01\x11\x00"
    stream = codestream_of(b"\xff\xd8" + b"\xff\x01" + b"\xff\xff\xff" + frame)
    assert stream is not None
    assert stream.packing is Packing.JPEG_LOSSLESS


def test_tiles_are_counted():
    frame = bytearray(_frame(files.JPEG2000Lossless))
    at = frame.index(b"\xff\x51") + 6 + 16
    frame[at : at + 8] = struct.pack(">LL", 10, 10)
    stream = codestream_of(bytes(frame))
    assert stream is not None
    assert stream.tiles == 20
