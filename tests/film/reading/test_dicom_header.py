"""Damaged, hostile and odd headers."""

import struct
import time

import film_files as files
import pytest
from pydicom.dataset import Dataset
from pydicom.sequence import Sequence

from limbwright.error import Contradiction, Missing, Unreadable
from limbwright.film.reading import limits, read_facts, read_picture
from limbwright.film.reading.dicom_header import read_header


def _head(content: bytes) -> int:
    """Offset of the data set, behind the file meta information."""
    return 132 + 12 + int.from_bytes(content[140:144], "little")


def _with_element(element: bytes) -> bytes:
    content = files.film()
    at = _head(content)
    return content[:at] + element + content[at:]


def _nested(depth: int) -> bytes:
    """An explicit private sequence of undefined length, `depth` items deep, at the head of the data set."""
    opened = b"\x07\x00\x01\x10SQ\0\0\xff\xff\xff\xff" + b"\xfe\xff\x00\xe0\xff\xff\xff\xff"
    closed = b"\xfe\xff\x0d\xe0\0\0\0\0" + b"\xfe\xff\xdd\xe0\0\0\0\0"
    return opened * depth + closed * depth


def test_ten_thousand_nested_sequences_are_refused_quickly():
    start = time.perf_counter()
    for content in (_with_element(_nested(10_000)), _with_element(_nested(10_000)[: 20 * 10_000])):
        with pytest.raises(Unreadable, match="deeper nesting"):
            read_facts(content, name="film")
    assert time.perf_counter() - start < 20  # a hang, not a speed, is what this looks for


def test_a_few_nested_private_sequences_are_read_over():
    assert read_picture(_with_element(_nested(20)), name="film").picture.rows == 48


def test_a_million_elements_are_refused():
    element = b"\x09\x00\x01\x10SH\x02\x00ab"
    with pytest.raises(Unreadable, match="more elements"):
        read_facts(_with_element(element * 400_000), name="film")


def test_a_huge_private_block_is_refused_and_a_large_one_read_over(monkeypatch):
    block = b"\x09\x00\x01\x10OB\0\0" + struct.pack("<L", 200_000) + b"\1" * 200_000
    assert read_picture(_with_element(block), name="film").picture.rows == 48
    monkeypatch.setattr(limits, "MAX_HEADER_BYTES", 100_000)
    with pytest.raises(Unreadable, match="more elements or deeper"):
        read_facts(_with_element(block), name="film")


def test_a_deflated_bomb_is_refused_before_it_grows():
    content = files.film(syntax=files.DeflatedExplicitVRLittleEndian)
    at = _head(content)
    bomb = content[:at] + files.deflated(b"\0" * 200_000_000)
    with pytest.raises(Unreadable, match="grows beyond"):
        read_facts(bomb, name="film")


@pytest.mark.parametrize(("cut", "words"), [(-40, "cut short"), (3, "cut short|damaged")])
def test_a_cut_deflated_film_is_refused(cut, words):
    content = files.film(syntax=files.DeflatedExplicitVRLittleEndian)
    at = _head(content)
    content = content[:cut] if cut < 0 else content[: at + cut]
    with pytest.raises(Unreadable, match=words):
        read_facts(content, name="film")


def test_a_garbled_deflated_film_is_refused():
    content = files.film(syntax=files.DeflatedExplicitVRLittleEndian)
    at = _head(content)
    with pytest.raises(Unreadable, match="deflated data set is damaged"):
        read_facts(content[:at] + b"\xff" * 400, name="film")


def test_a_missing_transfer_syntax_is_said():
    content = files.film().replace(b"\x02\x00\x10\x00UI", b"\x02\x00\x11\x00UI", 1)
    with pytest.raises(Missing, match=r"transfer syntax \(0002,0010\)"):
        read_facts(content, name="film")


def test_an_unregistered_transfer_syntax_is_named():
    content = files.film().replace(b"1.2.840.10008.1.2.1\0", b"1.2.840.10008.9.9.9\0", 1)
    with pytest.raises(Unreadable, match=r"'1\.2\.840\.10008\.9\.9\.9' is not registered"):
        read_facts(content, name="film")


def test_implicit_bytes_under_an_explicit_syntax_are_read_with_a_finding():
    implicit = files.film(syntax=files.ImplicitVRLittleEndian)
    content = implicit.replace(b"\x12\x001.2.840.10008.1.2\0", b"\x14\x001.2.840.10008.1.2.1\0", 1)
    read = read_picture(content, name="film")
    assert "film-encoding-disagrees" in files.ids(read)
    assert (read.picture.values == files.shaft()).all()


def test_explicit_bytes_under_an_implicit_syntax_are_read_with_a_finding():
    explicit = files.film()
    content = explicit.replace(b"\x14\x001.2.840.10008.1.2.1\0", b"\x12\x001.2.840.10008.1.2\0", 1)
    read = read_picture(content, name="film")
    assert "film-encoding-disagrees" in files.ids(read)
    assert (read.picture.values == files.shaft()).all()


def test_little_endian_bytes_under_a_big_endian_syntax_are_refused():
    content = files.film().replace(b"1.2.840.10008.1.2.1\0", b"1.2.840.10008.1.2.2\0", 1)
    with pytest.raises((Missing, Unreadable), match=r"picture size|damaged"):
        read_picture(content, name="film")


@pytest.mark.parametrize("element", [0x08, 0x09])
def test_floating_point_pixels_are_refused(element):
    content = files.film()
    content = content.replace(b"\xe0\x7f\x10\x00OW", b"\xe0\x7f" + bytes([element]) + b"\x00OW", 1)
    with pytest.raises(Unreadable, match="floating point"):
        read_facts(content, name="film")


def test_pixel_data_of_a_text_representation_is_refused():
    content = files.film().replace(b"\xe0\x7f\x10\x00OW", b"\xe0\x7f\x10\x00LO", 1)
    with pytest.raises(Contradiction, match="value representation b'LO'"):
        read_facts(content, name="film")


def test_a_header_without_pixels_gives_facts_but_no_picture():
    content = files.film()
    cut = content[: content.index(b"\xe0\x7f\x10\x00")]
    assert read_facts(cut, name="film").facts.rows == 48
    for end in (cut, cut + b"\xe0\x7f\x10\x00", cut + b"\xfc\xff\xfc\xffOB\0\0\0\0\0\0"):
        with pytest.raises(Missing, match="no pixel data"):
            read_picture(end, name="film")


def test_a_file_of_another_kind_says_which_modality():
    ds = files.dataset(files.shaft(), Modality="SR", Rows=None, Columns=None)
    for read in (read_facts, read_picture):
        with pytest.raises(Missing, match=r"no picture size \(modality SR\)"):
            read(files.written(ds), name="film")


def test_every_cut_of_a_film_ends_in_a_plain_error():
    content = files.film(files.shaft(8, 8))
    for length in range(0, len(content), 7):
        with pytest.raises((Unreadable, Missing), match="film: "):
            read_picture(content[:length], name="film")


def test_parsed_sequences_of_defined_length_are_found():
    item = Dataset()
    item.CodeValue, item.CodingSchemeDesignator, item.CodeMeaning = "399348003", "SCT", "antero-posterior"
    header = read_header(files.film(ViewCodeSequence=Sequence([item])), name="film")
    assert header.dataset.ViewCodeSequence[0].CodeMeaning == "antero-posterior"
