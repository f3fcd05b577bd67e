import struct

import film_files as files
import pytest
from pydicom.dataset import Dataset

from limbwright.film.reading import read_facts, read_picture
from limbwright.film.reading.dicom_values import Values


def _rewritten(keyword_bytes: bytes, old_vr: bytes, new_vr: bytes, **elements) -> bytes:
    content = files.film(**elements)
    assert keyword_bytes + old_vr in content
    return content.replace(keyword_bytes + old_vr, keyword_bytes + new_vr, 1)


def test_a_number_under_a_text_representation_is_read_when_it_is_plain():
    content = _rewritten(b"\x28\x00\x30\x00", b"DS", b"LO", PixelSpacing=[0.14, 0.15])
    assert read_facts(content, name="film").facts.scale.pixel_spacing_mm == (0.14, 0.15)


def test_rows_under_a_wrong_representation_end_in_a_plain_error_or_the_right_number():
    content = _rewritten(b"\x28\x00\x10\x00", b"US", b"SS")
    assert read_facts(content, name="film").facts.rows == 48
    content = _rewritten(b"\x28\x00\x10\x00", b"US", b"LO")
    with pytest.raises(Exception, match="no picture size"):
        read_facts(content, name="film")


def test_an_over_long_value_is_not_interpreted():
    # An undeclared megabyte of digits where a spacing of some ten bytes belongs.
    value = b"0.1\\" * 15_000
    element = b"\x28\x00\x30\x00UT\0\0" + struct.pack("<L", len(value)) + value
    content = files.film()
    at = content.index(b"\x28\x00\x00\x01US")
    read = read_facts(content[:at] + element + content[at:], name="film")
    assert read.facts.scale.pixel_spacing_mm is None
    assert any("has 60,000 bytes" in finding.words for finding in read.findings)


def test_a_number_that_is_none_is_left_out():
    content = files.film(DistanceSourceToDetector="1800").replace(b"1800", b"18x0", 1)
    read = read_facts(content, name="film")
    assert read.facts.scale.source_to_detector_mm is None
    assert "film-header-value-unreadable" in files.ids(read)


def _values(**elements) -> Values:
    ds = Dataset()
    for keyword, value in elements.items():
        setattr(ds, keyword, value)
    return Values(ds, "film")


def test_one_number_is_wanted_where_one_belongs():
    values = _values(WindowCenter=[1, 2])
    assert values.number("WindowCenter") is None
    assert "holds 2 numbers, expected one" in values.findings[0].words


def test_a_fraction_is_no_whole_number():
    values = _values(RescaleSlope=1.5)
    assert values.whole("RescaleSlope") is None
    assert "expected a whole number" in values.findings[0].words


def test_infinity_is_no_number():
    values = _values(PatientID="inf")
    assert values.numbers("PatientID") is None
    assert "expected finite numbers" in values.findings[0].words


def test_text_where_a_sequence_belongs_is_left_out():
    values = _values(PatientID="text")
    assert values.items("PatientID") == ()
    assert "is not a sequence" in values.findings[0].words


def test_absent_and_empty_values_are_none_without_a_finding():
    values = _values(PatientID="", PatientSex=None)
    for keyword in ("PatientID", "PatientSex", "StudyDate"):
        assert values.text(keyword) is values.day(keyword) is values.number(keyword) is None
    assert values.raw("NoSuchKeyword") is None
    assert values.findings == []


def test_raw_bytes_are_read_as_ascii():
    assert _values(EncapsulatedDocument=b"abc\0").text("EncapsulatedDocument") == "abc"


def test_a_value_that_several_steps_need_is_reported_once():
    content = files.film(RescaleSlope="1").replace(
        b"\x28\x00\x53\x10DS\x02\x001 ", b"\x28\x00\x53\x10DS\x02\x00x ", 1
    )
    read = read_picture(content, name="film")
    words = [finding.words for finding in read.findings]
    assert len(words) == len(set(words))
    assert any("Rescale Slope" in word for word in words)
