"""Films under their own digest: whole or not at all, checked when they are read."""

import hashlib
import os
import stat
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.error import Contradiction, Missing, OutOfRange
from limbwright.store.films import CHUNK_BYTES, FilmShelf
from limbwright.store.trouble import Unavailable


@pytest.fixture
def shelf(tmp_path):
    return FilmShelf(tmp_path / "films")


def parts_in(shelf):
    return [path.name for path in shelf.folder.iterdir() if path.name.endswith(".part")]


def test_what_was_put_is_got_whole_or_in_chunks(shelf):
    content = os.urandom(2 * CHUNK_BYTES + 17)
    stored = shelf.put(content)
    assert stored.sha256 == hashlib.sha256(content).hexdigest()
    assert (stored.size_bytes, stored.is_new) == (len(content), True)
    assert shelf.get(stored.sha256) == content == b"".join(shelf.chunks(stored.sha256))
    assert list(shelf.all()) == [stored.sha256]
    assert stat.S_IMODE(shelf.path(stored.sha256).stat().st_mode) == 0o400
    assert stat.S_IMODE(shelf.folder.stat().st_mode) == 0o700


@settings(max_examples=40)
@given(chunks=st.lists(st.binary(max_size=50), min_size=1).filter(any))
def test_the_digest_does_not_depend_on_how_the_bytes_come(tmp_path_factory, chunks):
    shelf = FilmShelf(tmp_path_factory.getbasetemp() / "any films")
    stored = shelf.put(iter(chunks))
    assert shelf.get(stored.sha256) == b"".join(chunks)
    assert shelf.put(b"".join(chunks)).is_new is False


def test_the_same_film_is_recognised(shelf):
    first, second = shelf.put(b"a film"), shelf.put(iter([b"a ", b"film"]))
    assert (second.sha256, second.is_new) == (first.sha256, False)
    assert len(list(shelf.all())) == 1
    assert parts_in(shelf) == []


def test_a_damaged_film_is_named_and_healed_by_the_original(shelf):
    sha256 = shelf.put(b"a film").sha256
    path = shelf.path(sha256)
    path.chmod(0o600)
    path.write_bytes(b"a filn")
    assert shelf.is_whole(sha256) is False
    with pytest.raises(Contradiction, match="no longer the ones that were stored"):
        shelf.get(sha256)
    assert shelf.put(b"a film").is_new is True
    assert shelf.get(sha256) == b"a film"


def test_an_upload_over_the_limit_leaves_nothing_and_is_stopped_at_the_limit(shelf):
    taken = []

    def endless():
        while True:
            taken.append(1)
            yield bytes(1000)

    with pytest.raises(OutOfRange, match="larger than 5,500 bytes"):
        shelf.put(endless(), most_bytes=5500)
    assert len(taken) == 6
    assert list(shelf.folder.iterdir()) == []


def test_an_upload_that_breaks_off_leaves_nothing(shelf):
    def broken():
        yield b"half a film"
        raise ConnectionError("gone")

    with pytest.raises(Unavailable, match="nothing was stored"):
        shelf.put(broken())
    with pytest.raises(OutOfRange, match="the file is empty"):
        shelf.put(b"")
    assert list(shelf.folder.iterdir()) == []


@pytest.mark.parametrize("name", ["../../etc/passwd", "", "A" * 64, "0" * 63, "0" * 64 + "\n", "films/x"])
def test_no_other_text_becomes_part_of_a_path(shelf, name):
    with pytest.raises(OutOfRange, match="is no SHA-256"):
        shelf.path(name)
    with pytest.raises(OutOfRange, match="is no SHA-256"):
        shelf.get(name)


def test_a_film_that_is_not_there_is_named(shelf, film):
    digest = "0" * 64
    assert shelf.has(digest) is False
    with pytest.raises(Missing, match="its image is not in this store"):
        shelf.get(digest)
    with pytest.raises(Missing, match="its image is not in this store"):
        list(shelf.chunks(digest))
    with pytest.raises(Missing, match="only the readings of this film are kept"):
        shelf.of(film())
    stored = shelf.put(b"pixels")
    assert shelf.of(film(sha256=stored.sha256)) == b"pixels"


def test_what_interrupted_uploads_left_is_swept_but_young_parts_are_not(shelf):
    old, young = shelf.folder / "old.part", shelf.folder / "young.part"
    for path in (old, young):
        path.write_bytes(b"half")
    os.utime(old, (1000, 1000))
    assert shelf.sweep(before_seconds=2000) == 1
    assert parts_in(shelf) == ["young.part"]


def test_a_folder_that_cannot_be_written_is_named(tmp_path):
    (tmp_path / "films").write_bytes(b"a file in the way")
    with pytest.raises(Unavailable, match="cannot be written"):
        FilmShelf(tmp_path / "films")
    shelf = FilmShelf(tmp_path / "others")
    shelf.folder.rmdir()
    with pytest.raises(Unavailable, match="folder of films"):
        shelf.put(b"a film")


def test_other_files_in_the_folder_are_passed_over(shelf):
    Path(shelf.folder / "notes.txt").write_text("not a film")
    assert list(shelf.all()) == []
