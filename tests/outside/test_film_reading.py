"""Reading real film files that no one here made, beside general-purpose readers and codecs.

Sources
-------
The files of the DICOM committee's working group 4 compression set (CT, CR, MR, NM examples of 2004), as
carried by the registry packages `pydicom-data` 1.0.0 (MIT) and `pydicom` 3.0 (MIT); where each file comes
from stands in pydicom's README of its test files. RG3 is a right lower leg, RG1 a chest film; `UNCR` and
`J2KR` hold one picture uncompressed and as lossless JPEG 2000, `UNCI` and `J2KI` one picture uncompressed
after lossy compression and as lossy JPEG 2000.
Reference readers: pydicom's own decoders (each codec named in the test), pydicom's look-up table functions.
"""

import warnings
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest
from pydicom import dcmread
from pydicom.pixels import apply_modality_lut, apply_voi_lut, pixel_array

from limbwright.error import Contradiction, LimbwrightError, Missing, Unreadable
from limbwright.film.film import ViewerSide
from limbwright.film.reading import MarkedSide, grey8, read_facts, read_picture
from limbwright.limb.anatomy import Projection

FOLDERS = (("data_store", "data"), ("pydicom", "data/test_files"))


def _file(name: str) -> Path:
    for package, folder in FOLDERS:
        spec = find_spec(package)
        assert spec is not None
        assert spec.origin is not None
        path = Path(spec.origin).parent / folder / name
        if path.is_file():
            return path
    raise AssertionError(f"{name} is in neither package")


def _read(name: str):
    return read_picture(_file(name).read_bytes(), name=name)


def _reference(name: str, plugin: str = "") -> np.ndarray:
    """Stored values by pydicom, through one named codec."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return (
            dcmread(_file(name)).pixel_array
            if not plugin
            else pixel_array(_file(name), decoding_plugin=plugin)
        )


def _stored(read) -> np.ndarray:
    """Stored values of our picture: the complement is its own inverse."""
    values = read.picture.values
    return (1 << read.picture.bits_stored) - 1 - values.astype(np.int64) if read.picture.inverted else values


def test_the_real_lower_leg_film():
    read = _read("RG3_UNCR.dcm")
    facts = read.facts
    assert (facts.modality, facts.photometric, facts.rows, facts.columns) == ("CR", "MONOCHROME1", 1760, 1760)
    assert facts.laterality is MarkedSide.RIGHT
    assert facts.projection is Projection.FRONTAL
    # The row runs toward the patient's right, and the letter R on the film is mirrored indeed.
    assert facts.right_side_at is ViewerSide.VIEWER_RIGHT
    assert facts.scale.pixel_spacing_mm is facts.scale.imager_pixel_spacing_mm is None
    assert read.picture.inverted
    assert {finding.id for finding in read.findings} == {"film-seen-from-behind"}
    assert np.array_equal(_stored(read), _reference("RG3_UNCR.dcm"))


def test_bone_is_bright_on_the_real_lower_leg_film():
    # A third of the way down: air at column 500, calf at 710, the tibia with its cortex from 780 to 900.
    row = _read("RG3_UNCR.dcm").picture.values[600:640].mean(axis=0)
    air, soft, cortex = row[480:520].mean(), row[690:730].mean(), row[780:900].max()
    assert air < soft < cortex


def test_the_real_chest_film_has_no_usable_scale():
    read = _read("RG1_UNCR.dcm")
    assert dcmread(_file("RG1_UNCR.dcm")).PixelSpacing == [0.0, 0.0]
    assert read.facts.scale.pixel_spacing_mm is None
    (finding,) = [finding for finding in read.findings if finding.id == "film-spacing-unusable"]
    assert "'0.000\\0.000' mm" in finding.words
    assert np.array_equal(_stored(read), _reference("RG1_UNCR.dcm"))


@pytest.mark.parametrize("stem", ["RG1", "RG3", "MR2", "693"])
def test_lossless_and_uncompressed_variants_are_equal_bit_for_bit(stem):
    assert np.array_equal(_stored(_read(f"{stem}_UNCR.dcm")), _stored(_read(f"{stem}_J2KR.dcm")))


@pytest.mark.parametrize("stem", ["RG1", "RG3", "MR2", "693"])
def test_lossy_variants_agree_to_one_grey_value_and_say_lossy(stem):
    plain, packed = _read(f"{stem}_UNCI.dcm"), _read(f"{stem}_J2KI.dcm")
    # The inverse wavelet of lossy JPEG 2000 is in real numbers; decoders may round differently by one.
    assert np.abs(_stored(plain).astype(int) - _stored(packed)).max() <= 1
    assert not np.array_equal(_stored(plain), _stored(_read(f"{stem}_UNCR.dcm")))


@pytest.mark.parametrize(
    "name",
    [
        "CT_small.dcm",
        "MR_small.dcm",
        "MR_small_bigendian.dcm",
        "MR_small_expb.dcm",
        "MR_small_implicit.dcm",
        "MR_small_padded.dcm",
        "image_dfl.dcm",
        "JPEG2000_UNC.dcm",
        "MR-SIEMENS-DICOM-WithOverlays.dcm",
        "693_UNCR.dcm",
        "vlut_04.dcm",
    ],
)
def test_uncompressed_files_equal_pydicom(name):
    assert np.array_equal(_read(name).picture.values, _reference(name))


def test_one_picture_in_eight_encodings_is_one_picture():
    expected = _read("MR_small.dcm").picture.values
    for name in ("bigendian", "expb", "implicit", "RLE", "jp2klossless", "jpeg_ls_lossless", "padded"):
        assert np.array_equal(_read(f"MR_small_{name}.dcm").picture.values, expected), name


@pytest.mark.parametrize(
    ("name", "plugin"),
    [
        ("MR_small_RLE.dcm", "pydicom"),
        ("MR_small_RLE.dcm", "pylibjpeg"),
        ("MR_small_jpeg_ls_lossless.dcm", "gdcm"),
        ("MR_small_jp2klossless.dcm", "gdcm"),
        ("RG3_J2KR.dcm", "gdcm"),
        ("RG3_J2KR.dcm", "pillow"),
        ("693_J2KR.dcm", "gdcm"),
        ("explicit_VR-UN.dcm", "gdcm"),
        ("J2K_pixelrep_mismatch.dcm", "pylibjpeg"),
        ("JPEGLSNearLossless_08.dcm", "gdcm"),
        ("JPEGLSNearLossless_16.dcm", "gdcm"),
        ("JPEG-LL.dcm", "gdcm"),
        ("JPGLosslessP14SV1_1s_1f_8b.dcm", "gdcm"),
        ("bad_sequence.dcm", "gdcm"),
    ],
)
def test_a_second_codec_gives_the_same_bits(name, plugin):
    assert np.array_equal(_stored(_read(name)), _reference(name, plugin))


@pytest.mark.parametrize("name", ["JPGExtended.dcm", "JPEG-lossy.dcm"])
def test_12_bit_jpeg_is_close_to_the_lossless_picture_of_the_same_scan(name):
    # One bone scan: NM1_JPLY (lossy) and NM1_JPLL (lossless) of the set.
    lossy, lossless = _read(name).picture.values, _read("JPEG-LL.dcm").picture.values
    assert lossy.dtype == np.uint16
    assert np.corrcoef(lossy.ravel(), lossless.ravel())[0, 1] > 0.98


def _by_gdcm(name: str) -> np.ndarray:
    """A packed frame by GDCM itself; pydicom does not let it decode 12-bit JPEG."""
    import gdcm
    from pydicom.encaps import get_frame

    ds = dcmread(_file(name))
    fragment = gdcm.Fragment()
    fragment.SetByteStringValue(get_frame(ds.PixelData, 0, number_of_frames=1))
    fragments = gdcm.SequenceOfFragments.New()
    fragments.AddFragment(fragment)
    packed, plain = (gdcm.DataElement(gdcm.Tag(0x7FE0, 0x0010)) for _ in range(2))
    packed.SetValue(fragments.__ref__())
    codec = gdcm.JPEGCodec()
    codec.SetNumberOfDimensions(2)
    codec.SetDimensions((ds.Columns, ds.Rows, 1))
    codec.SetPhotometricInterpretation(
        gdcm.PhotometricInterpretation(gdcm.PhotometricInterpretation.MONOCHROME2)
    )
    codec.SetPixelFormat(gdcm.PixelFormat(1, 12, 12, 11, 0))
    assert codec.Decode(packed, plain)
    content = plain.GetByteValue().GetBuffer().encode("utf-8", "surrogateescape")
    return np.frombuffer(content, dtype="<u2").reshape(ds.Rows, ds.Columns)


@pytest.mark.parametrize("name", ["JPGExtended.dcm", "JPEG-lossy.dcm"])
def test_12_bit_jpeg_equals_a_second_codec(name):
    assert np.array_equal(_read(name).picture.values, _by_gdcm(name))


@pytest.mark.parametrize(
    "name", ["RG3_UNCR.dcm", "RG1_UNCR.dcm", "CT_small.dcm", "MR_small.dcm", "693_UNCR.dcm"]
)
def test_drawn_greys_equal_the_window_functions_of_pydicom(name):
    ds = dcmread(_file(name))
    read = _read(name)
    if "WindowCenter" not in ds:
        assert read.picture.window.name == "picture's own range"
        return
    shown = apply_voi_lut(apply_modality_lut(ds.pixel_array, ds), ds).astype(float)
    bits = ds.BitsStored
    low, high = (-(2 ** (bits - 1)), 2 ** (bits - 1) - 1) if ds.PixelRepresentation else (0, 2**bits - 1)
    slope, intercept = float(ds.get("RescaleSlope", 1)), float(ds.get("RescaleIntercept", 0))
    low, high = low * slope + intercept, high * slope + intercept
    expected = (shown - low) / (high - low) * 255
    if ds.PhotometricInterpretation == "MONOCHROME1":
        expected = 255 - expected
    drawn = grey8(read.picture)[read.picture.exposed()]
    assert np.abs(drawn - expected[read.picture.exposed()]).max() <= 0.51


def test_a_display_curve_equals_pydicom():
    ds = dcmread(_file("vlut_04.dcm"))
    shown = apply_voi_lut(ds.pixel_array, ds).astype(float)
    bits = ds.VOILUTSequence[0].LUTDescriptor[2]
    drawn = grey8(_read("vlut_04.dcm").picture)
    assert np.abs(drawn - shown / (2**bits - 1) * 255).max() <= 0.51


def test_a_modality_table_equals_pydicom():
    ds = dcmread(_file("mlut_18.dcm"))
    assert np.array_equal(_read("mlut_18.dcm").picture.values, apply_modality_lut(ds.pixel_array, ds))


@pytest.mark.parametrize(
    ("name", "error", "words"),
    [
        ("MR_truncated.dcm", Unreadable, "8,130 of 8,192 bytes"),
        ("emri_small.dcm", Unreadable, "10 frames"),
        ("eCT_Supplemental.dcm", Unreadable, "2 frames"),
        ("color3d_jpeg_baseline.dcm", Unreadable, "120 frames"),
        ("liver_1frame.dcm", Unreadable, "one pixel takes 1 bits"),
        ("rtdose_1frame.dcm", Unreadable, "one pixel takes 32 bits"),
        ("OT-PAL-8-face.dcm", Unreadable, "PALETTE COLOR"),
        ("US1_UNCR.dcm", Unreadable, "in colour"),
        ("badVR.dcm", Missing, "NumberOfFrames"),
        ("meta_missing_tsyntax.dcm", Missing, "transfer syntax"),
        ("test-SR.dcm", Missing, "modality SR"),
        ("waveform_ecg.dcm", Missing, "modality ECG"),
        ("rtplan_truncated.dcm", Missing, "modality RTPLAN"),
        ("JPEG2000-embedded-sequence-delimiter.dcm", Contradiction, "packed picture says"),
        ("zipMR.gz", Unreadable, "gzip"),
    ],
)
def test_what_is_no_single_grey_film_is_refused_by_name(name, error, words):
    with pytest.raises(error, match=words):
        _read(name)


def test_every_file_of_both_packages_ends_in_a_picture_or_a_plain_error(capfd):
    read = 0
    words: list[tuple[str, str, str]] = []
    for package, folder in FOLDERS:
        spec = find_spec(package)
        assert spec is not None
        assert spec.origin is not None
        for path in sorted((Path(spec.origin).parent / folder).rglob("*")):
            if not path.is_file():
                continue
            content = path.read_bytes()
            try:
                film = read_picture(content, name=path.name)
            except LimbwrightError as plain:
                words.append((path.name, plain.where, plain.next_step))
            else:
                read += 1
                assert read_facts(content, name=path.name).facts.rows == film.picture.rows
    assert all(where == name and next_step for name, where, next_step in words)
    assert read >= 75  # grey single frames; the others are colour, series, plans and reports
    assert len(words) >= 150
    assert capfd.readouterr() == ("", "")


def test_the_view_codes_are_those_of_context_group_4010():
    """The codes and meanings of DICOM PS3.16 CID 4010, as pydicom carries them, one by one."""
    from pydicom.sr._snomed_dict import mapping
    from pydicom.sr.codedict import codes

    from limbwright.published import table

    group = codes.cid4010
    meanings = {}
    for name in dir(group):
        code = getattr(group, name)
        if hasattr(code, "scheme_designator"):
            meanings[code.value] = code.meaning.lower()
    checked = 0
    for row in table("film/reading", "views"):
        value, claim = row.text("word"), row.source.text
        if row.text("scheme") == "SCT":
            assert meanings[value] in claim
            checked += 1
        elif row.text("scheme") == "SRT" and row.source.status == "verified":
            assert meanings[mapping["SRT"][value]] in claim
            checked += 1
    assert checked == 18
