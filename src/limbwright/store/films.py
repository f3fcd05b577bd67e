"""Films on disk, each under the SHA-256 of its own bytes: the original file, never changed.

A film's file is named by its digest and by nothing a user can type. A film is first written to a new file in
the same folder, forced to disk, and then named, so that under its name there is a whole film or none.
"""

import hashlib
import os
import re
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from limbwright.error import Contradiction, Missing, OutOfRange, Unreadable
from limbwright.film.film import Film
from limbwright.quantity import Value
from limbwright.store.trouble import Unavailable

LARGEST_FILM_BYTES = 500_000_000
"""A long standing film of 16 bits at 0.1 mm per pixel stays below 150 million bytes."""
CHUNK_BYTES = 1 << 20
_DIGEST = re.compile(r"[0-9a-f]{64}")
_PART = ".part"


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredFilm(Value):
    """A film that was put into the store."""

    sha256: str
    """Digest of its bytes, under which it is found again."""
    size_bytes: int
    """Length of the file [bytes]."""
    is_new: bool
    """False when the same film was there already."""


class FilmShelf:
    """The folder of films.

    Parameters
    ----------
    folder : Path
        Made when it is not there; readable by its owner alone.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        except OSError as error:
            raise _not_written(error, folder) from error

    def put(self, content: bytes | Iterable[bytes], *, most_bytes: int = LARGEST_FILM_BYTES) -> StoredFilm:
        """Keep a film.

        Parameters
        ----------
        content : bytes or iterable of bytes
            The file, whole or chunk by chunk; only one chunk at a time is held in memory.
        most_bytes : int
            Size above which it is refused; nothing is left of it then. [bytes]

        Raises
        ------
        OutOfRange
            If it is empty or larger than `most_bytes`.
        Unavailable
            If it cannot be written, for example because the disk is full.
        """
        chunks = _cut(content) if isinstance(content, bytes | bytearray | memoryview) else content
        try:
            handle, name = tempfile.mkstemp(suffix=_PART, dir=self.folder)
        except OSError as error:
            raise _not_written(error, self.folder) from error
        part = Path(name)
        try:
            with os.fdopen(handle, "wb") as file:
                digest, size_bytes = _copied(chunks, file, most_bytes)
                file.flush()
                os.fsync(file.fileno())
            return self._named(part, digest, size_bytes)
        except OSError as error:
            raise _not_written(error, self.folder) from error
        finally:
            part.unlink(missing_ok=True)

    def _named(self, part: Path, sha256: str, size_bytes: int) -> StoredFilm:
        path = self.path(sha256)
        # A file that is there but damaged is replaced by the good one that has just come in.
        is_new = not (path.is_file() and self.is_whole(sha256))
        if is_new:
            part.chmod(0o400)
            part.replace(path)
            sync_folder(self.folder)
        return StoredFilm(sha256=sha256, size_bytes=size_bytes, is_new=is_new)

    def path(self, sha256: str) -> Path:
        """Where a film of that digest lies, whether or not it is there.

        Raises
        ------
        OutOfRange
            If this is no digest; no other text ever becomes part of a path.
        """
        if not _DIGEST.fullmatch(sha256):
            raise OutOfRange(
                f"{sha256[:80]!r} is no SHA-256.",
                where="film",
                next_step="Give its 64 hexadecimal digits in lower case.",
            )
        return self.folder / sha256

    def has(self, sha256: str) -> bool:
        """Whether a film of that digest is there."""
        return self.path(sha256).is_file()

    def get(self, sha256: str) -> bytes:
        """The film of that digest, checked against it.

        Raises
        ------
        Missing
            If it is not there.
        Contradiction
            If its bytes are not the ones that were put in.
        """
        try:
            data = self.path(sha256).read_bytes()
        except FileNotFoundError:
            raise _no_film(sha256) from None
        except OSError as error:
            raise Unreadable(
                f"the file of the film cannot be read ({error.strerror}).",
                where=f"film {sha256[:12]}…",
                next_step="Check the folder of films, and that you may read it.",
            ) from error
        if hashlib.sha256(data).hexdigest() != sha256:
            raise self.damaged(sha256)
        return data

    def chunks(self, sha256: str) -> Iterator[bytes]:
        """The film chunk by chunk, unchecked; `is_whole` checks it.

        Raises
        ------
        Missing
            If it is not there.
        """
        try:
            with self.path(sha256).open("rb") as file:
                while chunk := file.read(CHUNK_BYTES):
                    yield chunk
        except FileNotFoundError:
            raise _no_film(sha256) from None

    def of(self, film: Film) -> bytes:
        """The image of a film of a case.

        Raises
        ------
        Missing
            If the case keeps the film's readings alone, or its image is not in this store.
        Contradiction
            If its bytes are not the ones that were put in.
        """
        if film.sha256 is None:
            raise Missing(
                "only the readings of this film are kept, without its image.",
                where=f"film '{film.name}'",
                next_step="Add the image, or work with the readings alone.",
            )
        return self.get(film.sha256)

    def is_whole(self, sha256: str) -> bool:
        """Whether the film is there and its bytes are the ones that were put in; reads it whole."""
        try:
            with self.path(sha256).open("rb") as file:
                return hashlib.file_digest(file, "sha256").hexdigest() == sha256
        except OSError:
            return False

    def damaged(self, sha256: str) -> Contradiction:
        """The error for a film whose bytes changed on disk."""
        return Contradiction(
            "the bytes of the film are no longer the ones that were stored.",
            where=f"film {sha256[:12]}…",
            next_step="Add the original film again, or restore a backup; do not measure on this one.",
        )

    def all(self) -> Iterator[str]:
        """Digests of all films, in order; anything else in the folder is passed over."""
        yield from sorted(path.name for path in self.folder.iterdir() if _DIGEST.fullmatch(path.name))

    def sweep(self, *, before_seconds: float) -> int:
        """Remove what interrupted uploads left, last written before a moment; the number removed.

        Parameters
        ----------
        before_seconds : float
            Seconds since the epoch. Younger parts may belong to an upload that is still going on. [s]
        """
        swept = 0
        for part in self.folder.glob(f"*{_PART}"):
            if part.stat().st_mtime < before_seconds:
                part.unlink(missing_ok=True)
                swept += 1
        return swept


def sync_folder(folder: Path) -> None:
    """Force new names in a folder to disk; systems that cannot open a folder keep them in their own way."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _cut(content: bytes | bytearray | memoryview) -> Iterator[bytes]:
    view = memoryview(content)
    for start in range(0, len(view), CHUNK_BYTES):
        yield bytes(view[start : start + CHUNK_BYTES])


def _copied(chunks: Iterable[bytes], file: BinaryIO, most_bytes: int) -> tuple[str, int]:
    digest, size_bytes = hashlib.sha256(), 0
    for chunk in chunks:
        size_bytes += len(chunk)
        if size_bytes > most_bytes:
            raise OutOfRange(
                f"the file is larger than {most_bytes:,} bytes.",
                where="film",
                next_step="Check that this is one film; send a series film by film.",
            )
        digest.update(chunk)
        file.write(chunk)
    if not size_bytes:
        raise OutOfRange("the file is empty.", where="film", next_step="Choose another file.")
    return digest.hexdigest(), size_bytes


def _no_film(sha256: str) -> Missing:
    return Missing(
        "its image is not in this store.",
        where=f"film {sha256[:12]}…",
        next_step="Add the original film again, or restore it from a backup.",
    )


def _not_written(error: OSError, folder: Path) -> Unavailable:
    return Unavailable(
        f"the film cannot be written ({error.strerror or error}); nothing was stored.",
        where=f"folder of films, {folder}",
        next_step="Check free space, and that you may write to the folder.",
    )
