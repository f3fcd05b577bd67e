"""Case files on disk: size checked first, written whole or not at all, film images only from beside them."""

import hashlib
import os
import stat
import tempfile
from pathlib import Path

from limbwright.case.case import Case
from limbwright.case.document import case_from_json, case_to_json
from limbwright.case.text import LARGEST_DOCUMENT_BYTES, require_size
from limbwright.error import Contradiction, Missing, Refused, Unreadable
from limbwright.film.film import Film

LARGEST_FILM_BYTES = 500_000_000
"""A long standing film of 16 bits at 0.1 mm per pixel stays below 150 million bytes."""


def read_case(path: Path, *, complete: bool = True) -> Case:
    """Read a case file.

    Parameters
    ----------
    path : Path
        The file.
    complete : bool
        True to refuse a case on which nothing can be measured yet.

    Raises
    ------
    Unreadable
        If the file is not there, is no ordinary file, or is too large; it is not opened then.
    UnreadableCase
        With every problem in it.
    """
    data = _bytes_of(path, most=LARGEST_DOCUMENT_BYTES, what="case file")
    require_size(len(data), where=str(path))
    return case_from_json(data, complete=complete, where=str(path))


def write_case(path: Path, case: Case) -> None:
    """Write a case file so that at every moment the old file or the new one is there, whole.

    The text goes to a new file in the same folder, is forced to disk, and then takes the old file's place. An
    existing file's permissions are kept; a new file can be read by its owner alone.

    Raises
    ------
    Unreadable
        If the folder is not there or cannot be written to; the old file is unchanged.
    """
    text = case_to_json(case).encode()
    try:
        handle, temporary = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    except OSError as error:
        raise _cannot_write(path, error) from error
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            os.chmod(temporary, stat.S_IMODE(path.stat().st_mode))
        os.replace(temporary, path)
        _sync_folder(path.parent)
    except OSError as error:
        Path(temporary).unlink(missing_ok=True)
        raise _cannot_write(path, error) from error


def film_bytes(case_path: Path, film: Film) -> bytes:
    """The image of a film that lies beside its case file.

    Parameters
    ----------
    case_path : Path
        The case file; images are named relative to it.
    film : Film
        The film.

    Raises
    ------
    Missing
        If the film names no file.
    Refused
        If the name leads out of the case file's folder, by itself or through a link.
    Unreadable
        If the file is not there, is no ordinary file, or is too large.
    Contradiction
        If its SHA-256 is not the one recorded.
    """
    if film.file is None:
        raise Missing(
            "the film has no image file.",
            where=f"film '{film.name}'",
            next_step="Add the image beside the case file, or work with the readings alone.",
        )
    folder = case_path.parent.resolve()
    path = (folder / film.file).resolve()
    if not path.is_relative_to(folder):
        raise Refused(
            f"the file {film.file!r} does not lie in the folder of the case.",
            where=f"film '{film.name}'",
            next_step="Put the image beside the case file and name it relative to it.",
        )
    data = _bytes_of(path, most=LARGEST_FILM_BYTES, what=f"film '{film.name}'")
    digest = hashlib.sha256(data).hexdigest()
    if film.sha256 is not None and digest != film.sha256:
        raise Contradiction(
            f"the file {film.file!r} has SHA-256 {digest[:12]}…, the case recorded {film.sha256[:12]}….",
            where=f"film '{film.name}'",
            next_step="The image is not the one that was read. Find the original, or read this film again.",
        )
    return data


def _bytes_of(path: Path, *, most: int, what: str) -> bytes:
    where = f"{what}, {path}"
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise Unreadable("this is no ordinary file.", where=where, next_step="Name a file.")
        if status.st_size > most:
            raise Unreadable(
                f"{status.st_size:,} bytes, expected at most {most:,}.",
                where=where,
                next_step="Check that this is the right file.",
            )
        with path.open("rb") as file:
            return file.read(most + 1)
    except OSError as error:
        raise Unreadable(
            f"the file cannot be read ({error.strerror or error}).",
            where=where,
            next_step="Check its name, and that you may read it.",
        ) from error


def _sync_folder(folder: Path) -> None:
    """Force the new name to disk; systems that cannot open a folder keep it in their own way."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _cannot_write(path: Path, error: OSError) -> Unreadable:
    return Unreadable(
        f"the file cannot be written ({error.strerror or error}); what was there is unchanged.",
        where=str(path),
        next_step="Check the folder, its free space, and that you may write to it.",
    )
