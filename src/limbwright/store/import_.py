"""An archive taken into a store: everything in it or nothing, and no history is ever rewritten.

A case that is there already is continued when one history begins with the other; two histories that part are
refused, so that neither is lost.
"""

import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection

from limbwright.case.case import SCHEMA_VERSION
from limbwright.case.text import parsed
from limbwright.error import Contradiction, Unreadable
from limbwright.quantity import Value
from limbwright.store.audit import Action
from limbwright.store.cases import beside_text, case_of
from limbwright.store.conflict import Version
from limbwright.store.engine import writing
from limbwright.store.films import LARGEST_FILM_BYTES
from limbwright.store.history import Saved, add_version, newest_number, saved_version, version_of
from limbwright.store.manifest import (
    ArchivedCase,
    ArchivedDocument,
    ArchivedVersion,
    case_entry,
    document_entry,
)
from limbwright.store.packed import digest_of
from limbwright.store.practice import READERS, PracticeDocument, add_document, documents_on
from limbwright.store.store import Store
from limbwright.store.unzip import OpenArchive, open_archive

_PART = re.compile(r"[a-z][a-z0-9_]{0,40}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported(Value):
    """What came of an import."""

    new_cases: tuple[str, ...]
    """Cases that were not here."""
    continued_cases: tuple[str, ...]
    """Cases that were here with an older history; the newer versions were added."""
    known_cases: tuple[str, ...]
    """Cases that were here already, with as many versions or more."""
    new_films: int
    """Films that were not here."""
    new_documents: int
    """Versions of the practice's own documents that were not here."""


def import_archive(store: Store, path: Path, *, who: str) -> Imported:
    """Take an archive in.

    Parameters
    ----------
    store : Store
        Where to.
    path : Path
        ZIP file that `export_archive` wrote; what it says is checked, whoever wrote it.
    who : str
        User, for the audit log; the history keeps the names it came with.

    Raises
    ------
    Unreadable
        If the archive cannot be read safely, or what it holds is not what its list of contents says.
    UnreadableCase
        If the newest version of a case is none that this program reads.
    Contradiction
        If a case or document is here with another history. Nothing was imported then.
    """
    with open_archive(path) as archive:
        new_films = sum(_film_taken(store, archive, film.sha256) for film in archive.manifest.films)
        with writing(store.engine) as connection:
            reader = _Reader(store, archive, connection, path.name)
            outcome = {
                case.id: reader.case(number, case)
                for number, case in enumerate(archive.manifest.cases, start=1)
            }
            new_documents = sum(reader.document(one) for one in archive.manifest.documents)
            for case_id, added in outcome.items():
                if added.from_version != added.to_version:
                    subject = f"versions {added.from_version + 1} to {added.to_version}"
                    store.audit.note_on(connection, who, Action.IMPORTED, case_id=case_id, subject=subject)
    return Imported(
        new_cases=tuple(name for name, added in outcome.items() if not added.from_version),
        continued_cases=tuple(n for n, a in outcome.items() if 0 < a.from_version < a.to_version),
        known_cases=tuple(name for name, added in outcome.items() if added.from_version == added.to_version),
        new_films=new_films,
        new_documents=new_documents,
    )


def _film_taken(store: Store, archive: OpenArchive, sha256: str) -> bool:
    if store.films.has(sha256) and store.films.is_whole(sha256):
        return False
    stored = store.films.put(archive.film(sha256), most_bytes=LARGEST_FILM_BYTES)
    if stored.sha256 != sha256:
        # It lies under its own digest, named by nothing; the store is none the worse for it.
        raise Unreadable(
            f"the film {sha256[:12]}… has other bytes than its list of contents says.",
            where="archive",
            next_step="Export it again where it came from; no case was imported.",
        )
    return stored.is_new


@dataclass(frozen=True, slots=True, kw_only=True)
class _Added:
    from_version: int
    to_version: int


class _Reader:
    """Reads documents out of an archive into one transaction."""

    def __init__(self, store: Store, archive: OpenArchive, connection: Connection, where: str) -> None:
        self._store = store
        self._archive = archive
        self._connection = connection
        self._where = where

    def case(self, number: int, archived: ArchivedCase) -> _Added:
        """Add what is new of a case."""
        there = newest_number(self._connection, archived.id, lock=True) or 0
        for version in archived.versions[:there]:
            self._require_same(archived.id, version)
        missing = archived.versions[there:]
        if missing:
            newest = self._saved(number, archived.id, missing[-1])
            case = case_of(newest.document, where=f"{self._where}, case {archived.id!r}")
            cases = self._store.cases
            (cases.list_on if there else cases.add_on)(self._connection, case, newest.version)
        for version in missing:
            add_version(self._connection, self._saved(number, archived.id, version))
        return _Added(from_version=there, to_version=there + len(missing))

    def document(self, archived: ArchivedDocument) -> int:
        """Add what is new of a document of the practice."""
        there = documents_on(self._connection, archived.kind)
        for mine, version in zip(there, archived.versions, strict=False):
            if digest_of(mine.text) != version.sha256:
                raise _parted(f"the {archived.kind}", version.number)
        added = 0
        for version in archived.versions[len(there) :]:
            text = self._archive.text(document_entry(archived.kind, version.number), version.sha256)
            if version is archived.versions[-1]:
                READERS[archived.kind](text)
            document = PracticeDocument(kind=archived.kind, text=text, version=_version(version))
            add_document(self._connection, document)
            added += 1
        return added

    def _require_same(self, case_id: str, version: ArchivedVersion) -> None:
        mine = saved_version(self._connection, case_id, version.number)
        if mine is None or digest_of(mine.document) != version.sha256:
            raise _parted(f"case {case_id!r}", version.number)

    def _saved(self, number: int, case_id: str, version: ArchivedVersion) -> Saved:
        where = f"{self._where}, case {case_id[:64]!r}, version {version.number}"
        document = self._archive.text(case_entry(number, version.number), version.sha256)
        # Any JSON object of that identifier may be an old version; only the newest has to be readable now.
        if parsed(document.encode(), where=where).get("id") != case_id:
            raise _wrong("the document is of another case", where)
        if not 1 <= version.schema_version <= SCHEMA_VERSION:
            raise _wrong(f"schema version {version.schema_version}, expected 1 to {SCHEMA_VERSION}", where)
        if not all(_PART.fullmatch(part) for part in version.parts):
            raise _wrong("a changed part has no name of one", where)
        return Saved(
            case_id=case_id,
            document=document,
            schema_version=version.schema_version,
            version=_version(version),
            beside=beside_text(_object(version.beside, where)),
        )


def _version(archived: ArchivedVersion) -> Version:
    return version_of(
        archived.number,
        saved_at=archived.saved_at,
        who=archived.who,
        why=archived.why,
        parts=archived.parts,
        restored_from=archived.restored_from,
    )


def _object(text: str, where: str) -> dict[str, Any]:
    try:
        value = json.loads(text)
    except (ValueError, RecursionError):
        value = None
    if not isinstance(value, dict):
        raise _wrong("what goes beside the document is no JSON object", where)
    return value


def _wrong(reason: str, where: str) -> Unreadable:
    return Unreadable(
        f"{reason}.", where=where, next_step="Export it again where it came from; nothing was imported."
    )


def _parted(what: str, number: int) -> Contradiction:
    return Contradiction(
        f"version {number} here is another one than in the archive; both histories were left as they are.",
        where=what,
        next_step="Export the case that is here, import the archive into a new folder, and compare the two.",
    )
