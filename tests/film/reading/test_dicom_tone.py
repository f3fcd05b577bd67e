import film_files as files
import numpy as np
import pytest
from pydicom.dataset import Dataset
from pydicom.sequence import Sequence

from limbwright.film.reading import Meaning, WindowShape, grey8, read_picture


def _read(values=None, **elements):
    return read_picture(files.film(values, **elements), name="film")


def _lut(first: int, entries: np.ndarray, bits: int, *, count: int | None = None) -> Sequence:
    item = Dataset()
    item.add_new(0x00283002, "US", [len(entries) % 65536 if count is None else count, first & 0xFFFF, bits])
    item.add_new(0x00283003, "LO", "curve of the file")
    item.add_new(0x00283006, "OW", entries.astype("<u2").tobytes())
    return Sequence([item])


def _bright_bone(picture) -> bool:
    """Whether the shaft in the middle is brighter than the edge."""
    return bool(picture.values[:, 20].mean() > picture.values[:, 0].mean())


@pytest.mark.parametrize("signed", [False, True])
@pytest.mark.parametrize("bits", [8, 12, 16])
def test_monochrome1_is_complemented_within_its_depth(bits, signed):
    values = files.shaft(bits=bits, signed=signed)
    low, high = (-(1 << (bits - 1)), (1 << (bits - 1)) - 1) if signed else (0, (1 << bits) - 1)
    inverse = (low + high - values.astype(np.int64)).astype(values.dtype)
    read = _read(inverse, bits=bits, PhotometricInterpretation="MONOCHROME1")
    assert read.picture.inverted
    assert np.array_equal(read.picture.values, values)
    assert read.findings == ()


def test_both_polarities_of_one_film_are_drawn_alike():
    values = files.shaft()
    plain = _read(values, WindowCenter=2000, WindowWidth=1500).picture
    inverse = _read(
        4095 - values, PhotometricInterpretation="MONOCHROME1", WindowCenter=4095 - 2000 + 1, WindowWidth=1500
    ).picture
    assert _bright_bone(plain)
    assert np.array_equal(plain.values, inverse.values)
    assert np.array_equal(grey8(plain), grey8(inverse))


def test_a_falling_rescale_turns_the_polarity_once():
    values = files.shaft()
    falling = {"RescaleSlope": -1, "RescaleIntercept": 4095}
    read = _read(4095 - values, **falling)
    assert read.picture.inverted
    assert np.array_equal(read.picture.values, values)
    read = _read(values, PhotometricInterpretation="MONOCHROME1", **falling)
    assert not read.picture.inverted
    assert np.array_equal(read.picture.values, values)


@pytest.mark.parametrize("photometric", ["MONOCHROME1", "MONOCHROME2"])
def test_rescale_leads_from_picture_values_to_modality_values(photometric):
    values = files.shaft()
    read = _read(
        values,
        PhotometricInterpretation=photometric,
        RescaleSlope=2,
        RescaleIntercept=-1000,
        RescaleType="OD",
    )
    line = read.picture.rescale
    assert line is not None
    assert line.unit == "OD"
    modality = line.slope * read.picture.values.astype(float) + line.intercept
    assert np.array_equal(modality, 2.0 * values - 1000)


def test_a_slope_of_zero_is_not_used():
    read = _read(RescaleSlope=0, RescaleIntercept=5, WindowCenter=10, WindowWidth=10)
    assert files.ids(read) == {"film-rescale-unusable"}
    assert read.picture.rescale is None
    assert read.picture.window.name == "picture's own range"


def test_an_intercept_alone_is_a_slope_of_one():
    line = _read(RescaleIntercept=-100).picture.rescale
    assert line is not None
    assert (line.slope, line.intercept) == (1.0, -100.0)
    assert _read().picture.rescale is None


def test_the_window_of_the_header_is_turned_into_picture_values():
    window = _read(WindowCenter=2048, WindowWidth=1001).picture.window
    assert (window.centre, window.width) == (2047.5, 1000.0)
    window = _read(WindowCenter=2048, WindowWidth=1000, VOILUTFunction="LINEAR_EXACT").picture.window
    assert (window.centre, window.width) == (2048.0, 1000.0)
    rescaled = _read(WindowCenter=40, WindowWidth=401, RescaleSlope=2, RescaleIntercept=-1000).picture.window
    assert (rescaled.centre, rescaled.width) == (519.75, 200.0)


def test_the_standard_window_formula_is_drawn():
    # PS3.3 C.11.2.1.2.1: y = ((x - (c - 0.5)) / (w - 1) + 0.5) * 255, clipped.
    values = np.arange(4096, dtype=np.uint16).reshape(64, 64)
    centre, width = 1500.0, 700.0
    expected = np.clip(((values - (centre - 0.5)) / (width - 1) + 0.5) * 255, 0, 255)
    drawn = grey8(_read(values, WindowCenter=centre, WindowWidth=width).picture)
    assert np.abs(drawn - expected).max() <= 0.5 + 1e-9


def test_the_sigmoid_window_formula_is_drawn():
    values = np.arange(4096, dtype=np.uint16).reshape(64, 64)
    picture = _read(values, WindowCenter=2000, WindowWidth=800, VOILUTFunction="SIGMOID").picture
    assert picture.window.shape is WindowShape.SIGMOID
    expected = 255 / (1 + np.exp(-4 * (values - 2000.0) / 800))
    assert np.abs(grey8(picture) - expected).max() <= 0.5 + 1e-9


def test_all_windows_are_kept_with_their_names():
    read = _read(
        WindowCenter=[2000, 1000],
        WindowWidth=[800, 400],
        WindowCenterWidthExplanation=["BONE", "SOFT TISSUE"],
    )
    assert [window.name for window in read.picture.windows] == ["BONE", "SOFT TISSUE"]


@pytest.mark.parametrize("width", [0, -5, 0.5])
def test_a_window_without_width_is_not_used(width):
    read = _read(WindowCenter=2000, WindowWidth=width)
    assert files.ids(read) == {"film-window-unusable"}
    assert read.picture.window.name == "picture's own range"


def test_a_window_of_width_one_is_a_threshold():
    values = np.arange(4096, dtype=np.uint16).reshape(64, 64)
    drawn = grey8(_read(values, WindowCenter=100, WindowWidth=1).picture)
    # PS3.3 C.11.2.1.2.1: for width 1 everything up to c - 0.5 is black, the rest white.
    assert np.array_equal(drawn, np.where(values <= 99.5, 0, 255))


def test_a_display_curve_is_used_when_there_is_no_window():
    values = np.arange(256, dtype=np.uint8).reshape(16, 16)
    entries = (np.linspace(0, 1, 256) ** 2 * 65535).astype(np.uint16)
    read = _read(values, bits=8, VOILUTSequence=_lut(0, entries, 16))
    assert read.picture.curve is not None
    assert read.picture.curve.name == "curve of the file"
    expected = np.rint(entries / 65535 * 255).astype(np.uint8).reshape(16, 16)
    assert np.array_equal(grey8(read.picture), expected)
    windowed = _read(values, bits=8, VOILUTSequence=_lut(0, entries, 16), WindowCenter=128, WindowWidth=256)
    assert not np.array_equal(grey8(windowed.picture), expected)
    assert np.array_equal(grey8(windowed.picture, windowed.picture.curve), expected)


def test_a_display_curve_of_a_monochrome1_film_shows_high_output_dark():
    values = np.arange(256, dtype=np.uint8).reshape(16, 16)
    entries = np.arange(256) * 257
    read = _read(values, bits=8, PhotometricInterpretation="MONOCHROME1", VOILUTSequence=_lut(0, entries, 16))
    assert np.array_equal(grey8(read.picture), 255 - values)


def test_a_display_curve_with_a_negative_start_follows_the_rescale():
    values = np.arange(256, dtype=np.uint8).reshape(16, 16)
    rescale = {"RescaleSlope": 1, "RescaleIntercept": -100}
    read = _read(values, bits=8, VOILUTSequence=_lut(-100, np.arange(256) * 257, 16), **rescale)
    assert np.array_equal(grey8(read.picture), values)


def test_a_modality_table_is_applied_and_said():
    values = np.arange(256, dtype=np.uint8).reshape(16, 16)
    entries = np.arange(200) * 20
    read = _read(values, bits=8, ModalityLUTSequence=_lut(10, entries, 12))
    assert files.ids(read) == {"film-modality-lut-applied"}
    assert np.array_equal(read.picture.values, entries[np.clip(values.astype(int) - 10, 0, 199)])
    assert (read.picture.bits_stored, read.picture.rescale) == (12, None)


@pytest.mark.parametrize(
    "table",
    [
        _lut(0, np.arange(200), 16, count=250),
        _lut(0, np.arange(200) * 300, 12),
        _lut(0, np.arange(200), 32),
        _lut(0, np.arange(1), 16),
    ],
)
def test_a_table_that_contradicts_its_descriptor_is_not_used(table):
    for keyword in ("ModalityLUTSequence", "VOILUTSequence"):
        read = _read(files.shaft(bits=8), bits=8, **{keyword: table})
        assert files.ids(read) == {"film-lut-unusable"}
        assert np.array_equal(read.picture.values, files.shaft(bits=8))


@pytest.mark.parametrize("table", [Sequence([Dataset()]), Sequence([])])
def test_an_empty_table_is_no_table(table):
    read = _read(ModalityLUTSequence=table)
    assert np.array_equal(read.picture.values, files.shaft())
    assert ("film-lut-unusable" in files.ids(read)) is bool(table)


@pytest.mark.parametrize("syntax", files.NATIVE)
def test_padding_is_read_with_the_sign_of_the_pixels(syntax):
    values = files.shaft(bits=12, signed=True)
    values[:5] = -2000
    ds = files.dataset(values, bits=12)
    ds.add_new(0x00280120, "SS", -2000)
    picture = read_picture(files.written(ds, syntax), name="film").picture
    assert picture.padding == (-2000, -2000)
    assert picture.exposed().sum() == (values != -2000).sum()


def test_padding_written_unsigned_for_signed_pixels_is_the_same_pattern():
    values = files.shaft(bits=16, signed=True)
    ds = files.dataset(values, bits=16)
    ds.add_new(0x00280120, "US", 65536 - 2000)
    assert read_picture(files.written(ds), name="film").picture.padding == (-2000, -2000)


def test_a_padding_range_is_inverted_with_the_picture():
    values = files.shaft()
    values[:3] = 4090
    ds = files.dataset(values, PhotometricInterpretation="MONOCHROME1")
    ds.add_new(0x00280120, "US", 4090)
    ds.add_new(0x00280121, "US", 4095)
    picture = read_picture(files.written(ds), name="film").picture
    assert picture.padding == (0, 5)
    assert not picture.exposed()[:3].any()


def test_padding_that_no_pixel_can_have_is_noted():
    ds = files.dataset(files.shaft())
    ds.add_new(0x00280120, "US", 60_000)
    read = read_picture(files.written(ds), name="film")
    assert files.ids(read) == {"film-padding-unusable"}
    assert read.picture.padding is None


def test_padding_of_odd_length_is_left_out():
    ds = files.dataset(files.shaft())
    ds.add_new(0x00280120, "OB", b"\1\2\3\4")
    read = read_picture(files.written(ds), name="film")
    assert files.ids(read) == {"film-header-value-unreadable"}


@pytest.mark.parametrize(
    ("intent", "relationship", "meaning"),
    [
        ("FOR PROCESSING", "LOG", Meaning.LINEAR_IN_ATTENUATION),
        ("FOR PROCESSING", "LIN", Meaning.LINEAR_IN_INTENSITY),
        ("FOR PRESENTATION", "LOG", Meaning.PROCESSED),
        (None, "DISP", Meaning.PROCESSED),
        (None, "LOG", Meaning.LINEAR_IN_ATTENUATION),
        (None, None, Meaning.UNSTATED),
    ],
)
def test_what_the_values_mean(intent, relationship, meaning):
    elements = {"PresentationIntentType": intent, "PixelIntensityRelationship": relationship}
    read = _read(**{keyword: value for keyword, value in elements.items() if value})
    assert read.picture.meaning is meaning


@pytest.mark.parametrize(
    ("photometric", "shape", "contradicts"),
    [
        ("MONOCHROME2", "IDENTITY", False),
        ("MONOCHROME1", "INVERSE", False),
        ("MONOCHROME1", "IDENTITY", True),
        ("MONOCHROME2", "INVERSE", True),
    ],
)
def test_presentation_shape_and_photometric_interpretation_agree(photometric, shape, contradicts):
    read = _read(PhotometricInterpretation=photometric, PresentationLUTShape=shape)
    assert ("film-polarity-contradiction" in files.ids(read)) is contradicts
    assert read.picture.inverted is (photometric == "MONOCHROME1")


@pytest.mark.parametrize(
    ("photometric", "sign", "dark"),
    [
        ("MONOCHROME2", -1, False),
        ("MONOCHROME2", 1, True),
        ("MONOCHROME1", 1, False),
        ("MONOCHROME1", -1, True),
    ],
)
def test_a_film_whose_bone_would_show_dark_is_said(photometric, sign, dark):
    read = _read(PhotometricInterpretation=photometric, PixelIntensityRelationshipSign=sign)
    assert ("film-bone-shows-dark" in files.ids(read)) is dark
