import io

import film_files as files
import numpy as np
import pytest
from pydicom import dcmread
from pydicom.encaps import encapsulate, get_frame
from pydicom.filewriter import dcmwrite

from limbwright.error import Contradiction, LimbwrightError, Missing, Unreadable
from limbwright.film.reading import limits, read_picture


def _frame(content: bytes) -> bytes:
    return get_frame(dcmread(io.BytesIO(content)).PixelData, 0, number_of_frames=1)


def _repacked(content: bytes, frame: bytes, **elements) -> bytes:
    """The film with another packed frame (cut in fragments when `fragments` is given), header changed."""
    ds = dcmread(io.BytesIO(content))
    ds.PixelData = encapsulate([frame], fragments_per_frame=elements.pop("fragments", 1))
    ds["PixelData"].is_undefined_length = True
    for keyword, value in elements.items():
        setattr(ds, keyword, value)
    out = io.BytesIO()
    dcmwrite(out, ds, enforce_file_format=True)
    return out.getvalue()


def test_cut_pixel_data_tells_how_much_is_there():
    content = files.film()
    with pytest.raises(Unreadable, match="3,800 of 3,840 bytes are there"):
        read_picture(content[:-40], name="film")


@pytest.mark.parametrize("surplus", [b"\0\0", b"\1" * 3840])
def test_surplus_pixel_data_is_said(surplus):
    ds = files.dataset(files.shaft())
    ds.PixelData += surplus
    read = read_picture(files.written(ds), name="film")
    assert files.ids(read) == {"film-surplus-bytes"}
    assert np.array_equal(read.picture.values, files.shaft())


def test_a_pad_byte_is_no_surplus():
    values = files.shaft(3, 3, bits=8)
    assert read_picture(files.film(values, bits=8), name="film").findings == ()


def test_bytes_in_swapped_words_are_put_right():
    values = files.shaft(5, 7, bits=8)
    ds = files.dataset(values, bits=8)
    swapped = np.frombuffer(values.tobytes() + b"\0", dtype=np.uint8).reshape(-1, 2)[:, ::-1].tobytes()
    ds.PixelData, ds["PixelData"].VR = swapped, "OW"
    content = files.written(ds, files.ExplicitVRBigEndian)
    assert np.array_equal(read_picture(content, name="film").picture.values, values)
    with pytest.raises(Unreadable, match="34 of 36 bytes"):
        read_picture(content[:-2], name="film")


def test_drawings_above_the_stored_depth_are_cleared_and_noted():
    values = files.shaft(bits=12)
    read = read_picture(files.film(values | 0x8000, bits=12), name="film")
    assert files.ids(read) == {"film-bits-masked"}
    assert np.array_equal(read.picture.values, values)


@pytest.mark.parametrize("signed", [False, True])
def test_samples_above_unused_low_bits_are_shifted_down(signed):
    values = files.shaft(bits=12, signed=signed)
    content = files.film(np.left_shift(values, 4), bits=12, HighBit=15)
    assert np.array_equal(read_picture(content, name="film").picture.values, values)


def test_a_sign_that_stops_at_the_stored_depth_is_carried_up():
    values = files.shaft(bits=12, signed=True)
    patterns = (values.view(np.uint16) & 0x0FFF).view(np.int16)
    assert patterns.min() >= 0
    assert np.array_equal(read_picture(files.film(patterns, bits=12), name="film").picture.values, values)


def test_fragments_are_joined():
    packed = files.film(syntax=files.JPEG2000Lossless)
    content = _repacked(packed, _frame(packed), fragments=5)
    assert np.array_equal(read_picture(content, name="film").picture.values, files.shaft())


def test_too_many_fragments_are_refused(monkeypatch):
    monkeypatch.setattr(limits, "MAX_FRAGMENTS", 4)
    packed = files.film(syntax=files.JPEG2000Lossless)
    with pytest.raises(Unreadable, match="more than 4 fragments"):
        read_picture(_repacked(packed, _frame(packed), fragments=5), name="film")


def test_no_fragment_at_all_is_said():
    content = files.film(syntax=files.RLELossless)
    start = content.index(b"\xe0\x7f\x10\x00OB\0\0\xff\xff\xff\xff") + 12
    empty = content[:start] + b"\xfe\xff\x00\xe0\0\0\0\0" + b"\xfe\xff\xdd\xe0\0\0\0\0"
    with pytest.raises(Missing, match="packed picture is empty"):
        read_picture(empty, name="film")


def test_garbled_fragments_are_refused():
    content = files.film(syntax=files.RLELossless)
    start = content.index(b"\xe0\x7f\x10\x00OB\0\0\xff\xff\xff\xff") + 12
    with pytest.raises(Unreadable, match="fragments of the packed picture are damaged"):
        read_picture(content[:start] + b"nonsense" * 20, name="film")


@pytest.mark.parametrize("syntax", files.PACKED)
def test_a_packed_picture_cut_short_is_refused(syntax):
    packed = files.film(syntax=syntax)
    frame = _frame(packed)
    with pytest.raises(Unreadable, match=r"cut short|damaged"):
        read_picture(_repacked(packed, frame[: len(frame) // 2]), name="film")


@pytest.mark.parametrize("syntax", [files.JPEGLSLossless, files.JPEG2000Lossless, files.JPEGLosslessSV1])
def test_another_size_in_the_packed_picture_is_a_contradiction(syntax):
    packed = files.film(syntax=syntax)
    with pytest.raises(Contradiction, match=r"says 49 rows, 40 columns.*says 48, 40"):
        read_picture(_repacked(packed, _frame(packed), Rows=49), name="film")


def test_another_size_for_run_length_packing_is_refused():
    packed = files.film(syntax=files.RLELossless)
    with pytest.raises(Unreadable, match=r"segment 1 holds 1,920 of 1,960 samples"):
        read_picture(_repacked(packed, _frame(packed), Rows=49), name="film")


def test_a_packed_picture_of_another_family_is_a_contradiction():
    ls, j2k = (files.film(syntax=syntax) for syntax in (files.JPEGLSLossless, files.JPEG2000Lossless))
    with pytest.raises(Contradiction, match="packed picture is JPEG-LS"):
        read_picture(_repacked(j2k, _frame(ls)), name="film")
    with pytest.raises(Contradiction, match="packed picture is something else"):
        read_picture(_repacked(j2k, b"no picture at all."), name="film")


@pytest.mark.parametrize(
    ("stated", "held", "words"),
    [
        (b"1.2.840.10008.1.2.4.90", b"1.2.840.10008.1.2.1\0\0\0", "packed in fragments"),
        (b"1.2.840.10008.1.2.1\0", b"1.2.840.10008.1.2.5\0", "not packed in fragments"),
    ],
)
def test_a_wrong_transfer_syntax_is_a_contradiction(stated, held, words):
    syntax = files.JPEG2000Lossless if stated.endswith(b"90") else files.ExplicitVRLittleEndian
    with pytest.raises(Contradiction, match=words):
        read_picture(files.film(syntax=syntax).replace(stated, held, 1), name="film")


def test_a_video_syntax_is_refused_by_name():
    content = files.film(syntax=files.JPEG2000Lossless)
    content = content.replace(b"1.2.840.10008.1.2.4.90", b"1.2.840.10008.1.2.4.92", 1)
    with pytest.raises(Unreadable, match=r"JPEG 2000 Part 2 .*which is not read"):
        read_picture(content, name="film")


@pytest.mark.parametrize("syntax", [files.JPEGLSLossless, files.JPEG2000Lossless, files.JPEGLosslessSV1])
def test_a_depth_that_differs_from_the_packed_picture_is_said(syntax):
    packed = files.film(syntax=syntax)
    read = read_picture(_repacked(packed, _frame(packed), BitsStored=14, HighBit=13), name="film")
    assert files.ids(read) == {"film-codestream-disagrees"}
    assert np.array_equal(read.picture.values, files.shaft())


def test_a_packed_picture_deeper_than_its_container_is_a_contradiction():
    packed = files.film(syntax=files.JPEG2000Lossless)
    with pytest.raises(Contradiction, match="12 bits in 1 tile"):
        read_picture(_repacked(packed, _frame(packed), BitsAllocated=8, BitsStored=8, HighBit=7), name="film")


def test_too_many_tiles_are_refused(monkeypatch):
    monkeypatch.setattr(limits, "MAX_TILES", 0)
    with pytest.raises(Contradiction, match="at most 0 tiles"):
        read_picture(files.film(syntax=files.JPEG2000Lossless), name="film")


def test_a_sign_the_packed_picture_does_not_know_is_carried_up_and_said():
    values = files.shaft(bits=12, signed=True)
    patterns = values.view(np.uint16) & 0x0FFF
    packed = files.film(patterns, files.JPEG2000Lossless)
    read = read_picture(_repacked(packed, _frame(packed), PixelRepresentation=1), name="film")
    assert files.ids(read) == {"film-codestream-disagrees"}
    assert np.array_equal(read.picture.values, values)


def test_tightly_packed_huge_pictures_are_refused_before_they_are_unpacked(monkeypatch):
    monkeypatch.setattr(limits, "ROOMY_PIXELS", 100)
    monkeypatch.setattr(limits, "MAX_PIXELS_PER_BYTE", 1)
    flat = np.full((300, 300), 7, dtype=np.uint16)
    with pytest.raises(Unreadable, match="packs more than 1 pixels in a byte"):
        read_picture(files.film(flat, files.JPEG2000Lossless), name="film")


def _colour(**elements) -> bytes:
    grey = files.shaft(bits=8)
    return files.film(
        np.dstack([grey] * 3),
        bits=8,
        **{"SamplesPerPixel": 3, "PhotometricInterpretation": "RGB", "PlanarConfiguration": 0, **elements},
    )


def test_a_grey_film_stored_as_colour_is_read_with_a_note():
    read = read_picture(_colour(), name="film")
    assert files.ids(read) == {"film-colour-was-grey"}
    assert np.array_equal(read.picture.values, files.shaft(bits=8))


def test_colour_by_plane_and_as_luminance_is_read():
    grey = files.shaft(bits=8)
    planes = np.ascontiguousarray(np.moveaxis(np.dstack([grey] * 3), 2, 0)).reshape(48, 40, 3)
    planar = files.film(
        planes, bits=8, SamplesPerPixel=3, PhotometricInterpretation="RGB", PlanarConfiguration=1
    )
    assert np.array_equal(read_picture(planar, name="film").picture.values, grey)
    neutral = np.full_like(grey, 128)
    luminance = files.film(
        np.dstack([grey, neutral, neutral]),
        bits=8,
        SamplesPerPixel=3,
        PhotometricInterpretation="YBR_FULL",
        PlanarConfiguration=0,
    )
    assert np.abs(read_picture(luminance, name="film").picture.values.astype(int) - grey).max() <= 1


def test_colour_in_other_packings_is_refused():
    packed = files.film(syntax=files.RLELossless)
    colour = {"SamplesPerPixel": 3, "PhotometricInterpretation": "RGB", "BitsAllocated": 8}
    colour |= {"BitsStored": 8, "HighBit": 7, "PlanarConfiguration": 0}
    with pytest.raises(Unreadable, match="RGB, 3 channel"):
        read_picture(_repacked(packed, _frame(packed), **colour), name="film")
    with pytest.raises(Unreadable, match="YBR_FULL_422, 3 channel"):
        read_picture(_colour(PhotometricInterpretation="YBR_FULL_422"), name="film")


def test_a_colour_jpeg_film_that_is_grey_is_read():
    grey = files.shaft(bits=8)
    packed = files.jpeg_film()
    frame = files.picture_file(np.dstack([grey] * 3), "JPEG", quality=95)
    colour = {"SamplesPerPixel": 3, "PhotometricInterpretation": "YBR_FULL_422", "PlanarConfiguration": 0}
    read = read_picture(_repacked(packed, frame, **colour), name="film")
    assert files.ids(read) == {"film-colour-was-grey", "film-lossy"}
    assert np.abs(read.picture.values.astype(int) - grey).mean() < 2


def test_no_error_leaves_the_family():
    packed = files.film(syntax=files.JPEG2000Lossless)
    frame = bytearray(_frame(packed))
    frame[60:90] = b"\xff" * 30
    with pytest.raises(LimbwrightError, match="film: "):
        read_picture(_repacked(packed, bytes(frame)), name="film")
