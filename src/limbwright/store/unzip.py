"""An archive opened with suspicion: what it may hold is known beforehand, and nothing in it names a path.

Sizes are counted while reading, whatever the file says about itself. No entry is ever written under its own
name.
"""

import hashlib
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from limbwright.case.text import LARGEST_DOCUMENT_BYTES, shown
from limbwright.error import Unreadable
from limbwright.store.films import CHUNK_BYTES
from limbwright.store.manifest import MANIFEST, Manifest, entries_of, film_entry, manifest_from

MOST_ENTRIES = 200_000
LARGEST_DIRECTORY_BYTES = 64_000_000
"""Two hundred thousand entries with names as long as ours stay below 30 million bytes."""
LARGEST_MANIFEST_BYTES = 100_000_000
MOST_TIMES_PACKED = 200
"""A case document packs ten to thirty times smaller; more than this was made to exhaust memory."""
ROOMY_BYTES = 1_000_000
"""Below this a document may pack as well as it likes."""
_LINK, _KIND = 0o120000, 0o170000
_END = b"PK\x05\x06"
_END64 = b"PK\x06\x06"
_ENCRYPTED = 0x1
_TAIL_BYTES = 70_000
"""The end of a ZIP file with the longest comment it may have, and what stands before it in large files."""


class OpenArchive:
    """An archive whose list of contents was read and agrees with its entries."""

    def __init__(self, file: zipfile.ZipFile, manifest: Manifest, where: str) -> None:
        self._file = file
        self._where = where
        self.manifest = manifest

    def text(self, entry: str, sha256: str) -> str:
        """A document, compared with its digest."""
        data = self._read(entry, LARGEST_DOCUMENT_BYTES)
        if hashlib.sha256(data).hexdigest() != sha256:
            raise _refused(f"the entry {entry} is not the one that was exported", self._where)
        try:
            return data.decode()
        except UnicodeDecodeError:
            raise _refused(f"the entry {entry} is no UTF-8", self._where) from None

    def film(self, sha256: str) -> Iterator[bytes]:
        """A film, chunk by chunk; whoever takes it compares the digest."""
        with _damage_named(self._where), self._file.open(film_entry(sha256)) as entry:
            while chunk := entry.read(CHUNK_BYTES):
                yield chunk

    def _read(self, entry: str, most: int) -> bytes:
        return _bounded(self._file, entry, most, self._where)


@contextmanager
def open_archive(path: Path) -> Iterator[OpenArchive]:
    """Open an archive and check everything that can be checked without unpacking it.

    Raises
    ------
    Unreadable
        If it is no archive, is damaged, encrypted, holds links, entries that are not in its list of contents
        or that are packed beyond belief, or was written by a newer program.
    """
    where = path.name
    try:
        with path.open("rb") as raw:
            _require_small_directory(raw, where)
        with _damage_named(where), zipfile.ZipFile(path) as file:
            names = _checked_entries(file, where)
            if MANIFEST not in names:
                raise _refused("it has no list of contents", where)
            manifest = manifest_from(_bounded(file, MANIFEST, LARGEST_MANIFEST_BYTES, where), where=where)
            _require_agreement(names, manifest, where)
            yield OpenArchive(file, manifest, where)
    except OSError as error:
        raise Unreadable(
            f"the file cannot be read ({error.strerror or error}).",
            where=where,
            next_step="Check its name, and that you may read it.",
        ) from error


def _require_small_directory(raw: BinaryIO, where: str) -> None:
    """Refuse a list of entries that would fill the memory before anything in it can be looked at."""
    raw.seek(0, 2)
    size_bytes = raw.tell()
    raw.seek(max(0, size_bytes - _TAIL_BYTES))
    tail = raw.read()
    end = tail.rfind(_END)
    if end < 0 or end + 22 > len(tail):
        raise _refused("it is no ZIP file", where)
    entries, directory_bytes = struct.unpack_from("<HI", tail, end + 10)
    end64 = tail.rfind(_END64, 0, end)
    if end64 >= 0 and end64 + 56 <= len(tail):
        entries, directory_bytes = struct.unpack_from("<QQ", tail, end64 + 32)
    if entries > MOST_ENTRIES or directory_bytes > LARGEST_DIRECTORY_BYTES:
        raise _refused(f"it lists {entries:,} entries, expected at most {MOST_ENTRIES:,}", where)


def _checked_entries(file: zipfile.ZipFile, where: str) -> set[str]:
    names: set[str] = set()
    for info in file.infolist():
        name = info.filename
        if name in names:
            raise _refused(f"the entry {shown(name)} stands twice", where)
        names.add(name)
        if (info.external_attr >> 16) & _KIND == _LINK:
            raise _refused(f"the entry {shown(name)} is a link", where)
        if info.flag_bits & _ENCRYPTED:
            raise _refused("it is encrypted", where)
        if info.compress_type not in {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}:
            raise _refused(f"the entry {shown(name)} is packed in an unknown way", where)
        if info.file_size > max(ROOMY_BYTES, MOST_TIMES_PACKED * info.compress_size):
            raise _refused(f"the entry {shown(name)} is packed beyond belief", where)
    return names


def _require_agreement(names: set[str], manifest: Manifest, where: str) -> None:
    wanted = {*entries_of(manifest), MANIFEST}
    if extra := sorted(names - wanted):
        raise _refused(f"the entry {shown(extra[0])} is not in its list of contents", where)
    if lacking := sorted(wanted - names):
        raise _refused(f"the entry {shown(lacking[0])} is missing", where)


def _bounded(file: zipfile.ZipFile, entry: str, most: int, where: str) -> bytes:
    with _damage_named(where), file.open(entry) as opened:
        data = opened.read(most + 1)
    if len(data) > most:
        raise _refused(f"the entry {entry} is larger than {most:,} bytes", where)
    return data


@contextmanager
def _damage_named(where: str) -> Iterator[None]:
    try:
        yield
    except (
        zipfile.BadZipFile,
        zlib.error,
        EOFError,
        RuntimeError,
        NotImplementedError,
        struct.error,
    ) as error:
        raise _refused(f"it is damaged: {str(error)[:120]}", where) from error


def _refused(reason: str, where: str) -> Unreadable:
    return Unreadable(
        f"the archive cannot be read: {reason}.",
        where=where,
        next_step="Export it again where it came from; nothing was imported.",
    )
