"""A copy of a whole practice in another folder, checked before it counts, and the way back.

A backup is a folder with `backup.json`, the database file that it names, and `films/`. The file is SQLite
whatever the practice is kept in, and is restored into either kind of database. A folder may be backed up into
again and again: films that are there are kept, and the note changes from the old database file to the new one
at once, so that at every moment the folder holds one whole backup.
"""

import hashlib
import json
import os
import re
import sqlite3
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from limbwright.error import Contradiction, Missing, Refused, Unreadable
from limbwright.finding import Finding, ordered
from limbwright.quantity import Value
from limbwright.store.audit import Action
from limbwright.store.check import check_records
from limbwright.store.copy import copy_rows
from limbwright.store.engine import SQLITE_FILE, make_engine, sqlite_url
from limbwright.store.films import FilmShelf, sync_folder
from limbwright.store.moment import Clock, utc_now
from limbwright.store.rules import remark
from limbwright.store.store import FILMS_FOLDER, Store
from limbwright.store.trouble import Unavailable

NOTE = "backup.json"
_PART = ".part"
_DATABASE = re.compile(r"limbwright-[0-9a-f]{16}\.sqlite")
# Names that a backup, whole or cut short, leaves in its folder.
_OURS = re.compile(
    rf"films|backup\.json(\.part)?|{SQLITE_FILE}\.part(-wal|-shm|-journal)?|{_DATABASE.pattern}"
)
_BROKEN_DATABASE = {"store-database-damaged", "store-document-damaged"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Backup(Value):
    """What a backup says of itself."""

    made_at: datetime
    """When it was made."""
    cases: int
    """Cases in it."""
    films: int
    """Films in it."""
    database: str
    """Name of its database file."""
    database_sha256: str
    """Digest of that file."""
    findings: tuple[Finding, ...] = ()
    """Films that are damaged or not there; empty when all is well."""


def backup(store: Store, into: Path, *, who: str, link_films: bool = False) -> Backup:
    """Copy a store into a folder while it is in use, and check the copy.

    Parameters
    ----------
    store : Store
        An open store, on SQLite or PostgreSQL.
    into : Path
        Folder; made when it is not there, used again when it holds an earlier backup.
    who : str
        User, for the audit log.
    link_films : bool
        True to link films instead of copying them, where both folders lie on one disk: it takes no space, but
        damage of the disk hits both.

    Raises
    ------
    Refused
        If the folder holds something else.
    Contradiction
        If the database is damaged; an earlier backup in the folder is left as it is then.
    Unavailable
        If the folder cannot be written to.
    """
    try:
        _require_backup_folder(into)
        films = FilmShelf(into / FILMS_FOLDER)
        part = into / f"{SQLITE_FILE}{_PART}"
        _copy_of(store, part)
        # Films are only ever added, so those that the copied database names are there now.
        damaged = _copied_films(store.films, films, link=link_films)
        cases, findings = _checked(part, into, store.now)
        digest = _digest(part)
        made = Backup(
            made_at=store.now(),
            cases=cases,
            films=sum(1 for _ in films.all()),
            database=f"limbwright-{digest[:16]}.sqlite",
            database_sha256=digest,
            findings=ordered((*damaged, *findings)),
        )
        part.replace(into / made.database)
        _write_note(into, made)
        for old in into.glob("limbwright-*.sqlite"):
            if old.name != made.database:
                old.unlink()
    except OSError as error:
        raise Unavailable(
            f"the backup cannot be written ({error.strerror or error}).",
            where=str(into),
            next_step="Check the folder, its free space, and that you may write to it; then back up again.",
        ) from error
    store.audit.note(who, Action.BACKED_UP, subject=f"{made.cases} cases, {made.films} films")
    return made


def restore_backup(source: Path, home: Path, *, database: str | None = None, now: Clock = utc_now) -> Backup:
    """Make a practice out of a backup, in a folder of its own; films that are damaged are left out and named.

    Parameters
    ----------
    source : Path
        Folder of the backup; it is left as it is.
    home : Path
        Folder of the practice to make; it must not hold one yet.
    database : str, optional
        Address of an empty PostgreSQL database; the films go into `home`. An SQLite file there unless given.

    Raises
    ------
    Missing
        If the folder holds no backup.
    Refused
        If `home` or the database holds a practice already.
    Contradiction
        If the database of the backup is no longer what was written.
    Unavailable
        If `home` cannot be written to.
    """
    note = _read_note(source)
    if (home / SQLITE_FILE).exists():
        raise Refused(
            "the folder holds a practice already; it was left as it is.",
            where=str(home),
            next_step="Restore into a new folder, look at it, and then work with that one.",
        )
    kept = source / note.database
    if not kept.is_file() or _digest(kept) != note.database_sha256:
        raise Contradiction(
            "the database of the backup is not the one that was written.",
            where=str(source),
            next_step="Use another backup.",
        )
    try:
        home.mkdir(mode=0o700, parents=True, exist_ok=True)
        films = FilmShelf(home / FILMS_FOLDER)
        damaged = _copied_films(FilmShelf(source / FILMS_FOLDER), films, link=False)
        part = home / f"{SQLITE_FILE}{_PART}"
        _copy_database(kept, part)
        _, findings = _checked(part, home, now)
        if database is None:
            part.replace(home / SQLITE_FILE)
        else:
            _into_database(part, database)
        sync_folder(home)
    except OSError as error:
        raise Unavailable(
            f"the practice cannot be written ({error.strerror or error}).",
            where=str(home),
            next_step="Check the folder, its free space, and that you may write to it.",
        ) from error
    return replace(note, findings=ordered((*damaged, *findings)))


def _into_database(part: Path, database: str) -> None:
    """The rows of a checked SQLite file written into an empty database; the file goes."""
    origin, target = make_engine(sqlite_url(part)), make_engine(database)
    try:
        copy_rows(origin, target, where="database to restore into")
    finally:
        origin.dispose()
        target.dispose()
        for tail in ("", "-wal", "-shm"):
            part.with_name(f"{part.name}{tail}").unlink(missing_ok=True)


def _copy_of(store: Store, part: Path) -> None:
    """The store's database as one SQLite file, as it was at one moment."""
    if store.address.get_backend_name() == "sqlite" and store.address.database is not None:
        _copy_database(Path(store.address.database), part)
        return
    _empty_file(part)
    target = make_engine(sqlite_url(part))
    try:
        copy_rows(store.engine, target, where=str(part))
    finally:
        target.dispose()


def _empty_file(part: Path) -> None:
    """A new file that only its owner reads; what a backup that was cut short left there goes."""
    for path in (part, *(part.with_name(f"{part.name}{tail}") for tail in ("-wal", "-shm", "-journal"))):
        path.unlink(missing_ok=True)
    part.touch(mode=0o600)


def _require_backup_folder(into: Path) -> None:
    """Make the folder; refuse one that holds anything but a backup."""
    into.mkdir(mode=0o700, parents=True, exist_ok=True)
    names = {path.name for path in into.iterdir()}
    strange = {name for name in names if not _OURS.fullmatch(name)}
    if strange:
        raise Refused(
            f"the folder holds other things ({', '.join(sorted(strange)[:3])}); it was left as it is.",
            where=str(into),
            next_step="Choose a new folder, or one with an earlier backup.",
        )


def _copy_database(source: Path, part: Path) -> None:
    _empty_file(part)
    origin = sqlite3.connect(f"{source.resolve().as_uri()}?mode=ro", uri=True)
    try:
        copy = sqlite3.connect(part)
        try:
            origin.backup(copy)
        finally:
            copy.close()
    except sqlite3.Error as error:
        raise Unreadable(
            f"the database cannot be copied ({error}).",
            where=str(source),
            next_step="Keep the file as it is and restore the latest backup into a new folder.",
        ) from error
    finally:
        origin.close()


def _checked(part: Path, folder: Path, now: Clock) -> tuple[int, tuple[Finding, ...]]:
    """Check a copied database, bring it up to date, close it to one file; its cases, and what is amiss."""
    with Store(sqlite_url(part), folder / FILMS_FOLDER, now=now) as copy:
        found = check_records(copy)
        cases = sum(1 for _ in copy.cases.ids())
    broken = next((finding for finding in found if finding.id in _BROKEN_DATABASE), None)
    if broken is not None:
        raise Contradiction(broken.words, where=str(folder), next_step=broken.next_step)
    closing = sqlite3.connect(part)
    try:
        closing.execute("PRAGMA journal_mode=DELETE")
    finally:
        closing.close()
    with part.open("rb") as file:
        os.fsync(file.fileno())
    return cases, found


def _copied_films(source: FilmShelf, target: FilmShelf, *, link: bool) -> tuple[Finding, ...]:
    """Copy what is not there whole; what is damaged in the source, whether or not the target has it whole."""
    damaged = []
    for sha256 in source.all():
        kept = target.is_whole(sha256)
        if not source.is_whole(sha256):
            fate = "the copy of earlier was kept" if kept else "it was not copied"
            words = f"Film {sha256[:12]}…: its bytes are not the ones that were stored; {fate}."
            damaged.append(remark("store-film-damaged", words))
        elif kept:
            continue
        elif not (link and _linked(source.path(sha256), target.path(sha256))):
            target.put(source.chunks(sha256))
    return tuple(damaged)


def _linked(source: Path, target: Path) -> bool:
    """Link a film; False on another disk, or one without links."""
    try:
        target.unlink(missing_ok=True)
        os.link(source, target)
    except OSError:
        return False
    sync_folder(target.parent)
    return True


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _write_note(into: Path, made: Backup) -> None:
    content = {
        "made_at": made.made_at.isoformat(),
        "cases": made.cases,
        "films": made.films,
        "database": made.database,
        "database_sha256": made.database_sha256,
    }
    part = into / f"{NOTE}{_PART}"
    with part.open("w", encoding="utf-8") as file:
        json.dump(content, file, indent=2)
        file.flush()
        os.fsync(file.fileno())
    part.replace(into / NOTE)
    sync_folder(into)


def _file_name(name: str) -> str:
    """The name of a database file of a backup; anything else in a note could lead elsewhere."""
    if not _DATABASE.fullmatch(name):
        raise ValueError(f"no database file is named {name[:40]!r}")
    return name


def _read_note(source: Path) -> Backup:
    try:
        content = json.loads((source / NOTE).read_text(encoding="utf-8"))
        return Backup(
            made_at=datetime.fromisoformat(content["made_at"]),
            cases=int(content["cases"]),
            films=int(content["films"]),
            database=_file_name(str(content["database"])),
            database_sha256=str(content["database_sha256"]),
        )
    except FileNotFoundError:
        raise Missing(
            f"the folder holds no {NOTE}.", where=str(source), next_step="Choose the folder of a backup."
        ) from None
    except (OSError, ValueError, TypeError, KeyError) as error:
        raise Unreadable(
            f"{NOTE} cannot be read ({error}).", where=str(source), next_step="Use another backup."
        ) from error
