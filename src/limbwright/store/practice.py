"""The practice's own documents as versions: practice profile and hardware catalogue, as TOML texts.

A text is kept as its owner wrote it, comments included; it is read once before it is kept, so that what is
kept can be used.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import Any

from sqlalchemy import Connection, Engine, func, insert, select
from sqlalchemy.exc import IntegrityError

from limbwright.error import LimbwrightError, Missing, OutOfRange
from limbwright.implant.reading import catalogue_from_toml
from limbwright.practice.document import profile_from_toml
from limbwright.practice.profile import Profile
from limbwright.quantity import Value
from limbwright.store.audit import Action, AuditLog
from limbwright.store.conflict import Version
from limbwright.store.engine import reading, writing
from limbwright.store.history import version_of
from limbwright.store.moment import Clock
from limbwright.store.schema import PRACTICE_DOCUMENT

LARGEST_TEXT_BYTES = 2_000_000


class Kind(StrEnum):
    """Which document of the practice."""

    PROFILE = "practice profile"
    CATALOGUE = "hardware catalogue"


READERS: Mapping[Kind, Callable[[str], object]] = {
    Kind.PROFILE: profile_from_toml,
    Kind.CATALOGUE: catalogue_from_toml,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeDocument(Value):
    """One version of a document of the practice."""

    kind: Kind
    """Which document."""
    text: str
    """TOML, as its owner wrote it."""
    version: Version
    """Number, who, when, why."""


class Outdated(LimbwrightError):
    """Somebody else saved the document in the meantime; nothing was saved.

    Parameters
    ----------
    newest : PracticeDocument
        Theirs, so that both texts can be shown side by side.
    based_on : int
        The version that my change was made on.
    """

    def __init__(self, newest: PracticeDocument, *, based_on: int) -> None:
        self.newest = newest
        self.based_on = based_on
        super().__init__(
            f"{newest.version.who} saved version {newest.version.number} while you worked on version "
            f"{based_on}. Your text was not saved and is still with you.",
            where=newest.kind.value,
            next_step="Compare both texts, then save yours on top of theirs or keep theirs.",
        )


class PracticeShelf:
    """The practice's own documents."""

    def __init__(self, engine: Engine, audit: AuditLog, now: Clock) -> None:
        self._engine = engine
        self._audit = audit
        self._now = now

    def current(self, kind: Kind) -> PracticeDocument | None:
        """The newest version; None while the practice uses ours."""
        with reading(self._engine) as connection:
            return _newest_on(connection, kind)

    def at(self, kind: Kind, version: int) -> PracticeDocument:
        """One version.

        Raises
        ------
        Missing
            If there is none of that number.
        """
        c = PRACTICE_DOCUMENT.c
        query = select(PRACTICE_DOCUMENT).where(c.kind == kind.value, c.version == version)
        with reading(self._engine) as connection:
            row = connection.execute(query).one_or_none()
        if row is None:
            raise Missing(
                f"there is no version {version}.",
                where=kind.value,
                next_step="Choose a version from its list.",
            )
        return _document_in(row)

    def versions(self, kind: Kind) -> tuple[Version, ...]:
        """Every version, oldest first; empty while the practice uses ours."""
        with reading(self._engine) as connection:
            return tuple(document.version for document in documents_on(connection, kind))

    def save(self, kind: Kind, text: str, *, based_on: int, who: str, why: str) -> int:
        """Keep a text as a new version; returns its number.

        Parameters
        ----------
        kind : Kind
            Which document.
        text : str
            TOML.
        based_on : int
            Version that was changed; 0 when there was none.
        who, why : str
            User and reason.

        Raises
        ------
        LimbwrightError
            If the text cannot be read as that document; names the line.
        Outdated
            If a newer version than `based_on` is there and says something else.
        """
        if len(text.encode()) > LARGEST_TEXT_BYTES:
            raise OutOfRange(
                f"{len(text.encode()):,} bytes, expected at most {LARGEST_TEXT_BYTES:,}.",
                where=kind.value,
                next_step="Check that this is the right text.",
            )
        READERS[kind](text)
        return self._save(kind, text, based_on=based_on, who=who, why=why, restored_from=None)

    def restore(self, kind: Kind, version: int, *, based_on: int, who: str, why: str) -> int:
        """Bring an older version back, as a new one; returns its number.

        Raises
        ------
        Outdated
            If a newer version than `based_on` is there.
        """
        text = self.at(kind, version).text
        return self._save(kind, text, based_on=based_on, who=who, why=why, restored_from=version)

    def _save(
        self, kind: Kind, text: str, *, based_on: int, who: str, why: str, restored_from: int | None
    ) -> int:
        version = version_of(
            based_on + 1, saved_at=self._now(), who=who, why=why, restored_from=restored_from
        )
        document = PracticeDocument(kind=kind, text=text, version=version)
        try:
            with writing(self._engine) as connection:
                newest = _newest_on(connection, kind)
                if (newest.version.number if newest is not None else 0) == based_on:
                    add_document(connection, document)
                    subject = f"{kind.value}, version {version.number}"
                    self._audit.note_on(connection, who, Action.DOCUMENT_SAVED, subject=subject)
                    return version.number
        except IntegrityError:  # another writer was faster, on a database that lets both begin
            newest = self.current(kind)
        if newest is None or based_on > newest.version.number:
            raise Missing(
                f"there is no version {based_on} to be based on.",
                where=kind.value,
                next_step="Base the change on the newest version; the first one on 0.",
            )
        if newest.version.number > based_on and newest.text == text:
            return newest.version.number
        raise Outdated(newest, based_on=based_on)


def add_document(connection: Connection, document: PracticeDocument) -> None:
    """Add a row; the database refuses to ever change it."""
    version = document.version
    row = {
        "kind": document.kind.value,
        "version": version.number,
        "text": document.text,
        "saved_at": version.saved_at,
        "who": version.who,
        "why": version.why,
        "restored_from": version.restored_from,
    }
    connection.execute(insert(PRACTICE_DOCUMENT).values(row))


def documents_on(connection: Connection, kind: Kind) -> tuple[PracticeDocument, ...]:
    """Every version of a document, oldest first."""
    c = PRACTICE_DOCUMENT.c
    query = select(PRACTICE_DOCUMENT).where(c.kind == kind.value).order_by(c.version)
    return tuple(_document_in(row) for row in connection.execute(query).all())


def profile_on(connection: Connection) -> Profile:
    """The practice profile in force: the newest version, or ours."""
    newest = _newest_on(connection, Kind.PROFILE)
    return Profile() if newest is None else _profile_of(newest.text)


@lru_cache(maxsize=4)
def _profile_of(text: str) -> Profile:
    try:
        return profile_from_toml(text)
    except LimbwrightError:
        # What an older program accepted and this one refuses is said where the profile is opened.
        return Profile()


def _newest_on(connection: Connection, kind: Kind) -> PracticeDocument | None:
    c = PRACTICE_DOCUMENT.c
    newest = select(func.max(c.version)).where(c.kind == kind.value).scalar_subquery()
    query = select(PRACTICE_DOCUMENT).where(c.kind == kind.value, c.version == newest)
    row = connection.execute(query).one_or_none()
    return None if row is None else _document_in(row)


def _document_in(row: Any) -> PracticeDocument:
    return PracticeDocument(
        kind=Kind(row.kind),
        text=row.text,
        version=Version(
            number=row.version,
            saved_at=row.saved_at,
            who=row.who,
            why=row.why,
            restored_from=row.restored_from,
        ),
    )
