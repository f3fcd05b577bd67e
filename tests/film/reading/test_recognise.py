import film_files as files
import pytest

from limbwright.error import Unreadable
from limbwright.film.reading import limits, read_facts, read_picture
from limbwright.film.reading.recognise import kind_of, require_size


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "the file is empty"),
        (b"%PDF-1.7", "a PDF document"),
        (b"PK\x03\x04", "a ZIP archive"),
        (b"\x1f\x8b\x08", "a gzip archive"),
        (b"GIF89a", "a GIF picture"),
        (b"{}", "a JSON file"),
        (b"hello", "of an unknown kind"),
    ],
)
def test_other_files_are_named_and_refused(content, words):
    with pytest.raises(Unreadable, match=words):
        kind_of(content, name="film")


def test_a_huge_file_is_refused_by_its_length(monkeypatch):
    monkeypatch.setattr(limits, "MAX_FILE_BYTES", 1000)
    with pytest.raises(Unreadable, match="at most 1,000 are read"):
        kind_of(b"x" * 1001, name="film")


@pytest.mark.parametrize("size", [(40_000, 10), (10, 40_000), (20_000, 20_000)])
def test_a_huge_declared_picture_is_refused(size):
    with pytest.raises(Unreadable, match="pixels in all are read"):
        require_size(*size, None, name="film")


@pytest.mark.parametrize("size", [(0, 10), (10, 0), (-1, 10)])
def test_a_picture_without_extent_is_refused(size):
    with pytest.raises(Unreadable, match="rows and"):
        require_size(*size, None, name="film")


def test_a_full_leg_film_is_within_the_limits():
    require_size(13_000, 4_300, None, name="film")
    require_size(9_000, 3_000, 20_000_000, name="film")


def test_too_many_pixels_in_one_packed_byte_are_refused_unless_the_picture_is_small():
    require_size(2_000, 2_000, 10, name="film")
    with pytest.raises(Unreadable, match="no radiograph packs more than 400 pixels in a byte"):
        require_size(9_000, 9_000, 100_000, name="film")


@pytest.mark.parametrize(("rows", "columns"), [(60_000, 60_000), (0, 5)])
def test_dicom_sizes_are_checked_before_pixels_are_looked_for(rows, columns):
    content = files.film(Rows=rows, Columns=columns)
    with pytest.raises(Exception, match=r"60,000 rows|no picture size"):
        read_picture(content, name="film")


def test_a_dicom_data_set_without_preamble_is_read_and_says_so():
    whole = files.film()
    meta_length = 12 + int.from_bytes(whole[140:144], "little")
    bare = whole[132 + meta_length :]
    for content in (bare, whole[132:]):
        read = read_picture(content, name="film")
        assert files.ids(read) == {"film-no-preamble"}
        assert (read.picture.values == read_picture(whole, name="film").picture.values).all()
    assert "film-no-preamble" not in files.ids(read_facts(whole, name="film"))


def test_a_bare_implicit_data_set_is_read():
    whole = files.film(syntax=files.ImplicitVRLittleEndian)
    meta_length = 12 + int.from_bytes(whole[140:144], "little")
    assert files.ids(read_picture(whole[132 + meta_length :], name="film")) == {"film-no-preamble"}
