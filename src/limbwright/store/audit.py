"""The audit log: who read or wrote what, and when. Entries are only ever added; no patient's name is in them.

An entry names the case by its identifier and what was touched by a version, a digest or a user name. Every
change writes its entry in its own transaction, so that there is no change without one; reads are noted by
whoever serves them.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import Connection, Engine, Select, insert, select

from limbwright.quantity import Value
from limbwright.store.engine import reading, writing
from limbwright.store.moment import Clock
from limbwright.store.schema import AUDIT_ENTRY
from limbwright.store.wording import require_who


class Action(StrEnum):
    """What was done."""

    CASE_READ = "case read"
    CASE_CREATED = "case created"
    CASE_SAVED = "case saved"
    CASE_RESTORED = "case restored"
    FILM_READ = "film read"
    FILM_STORED = "film stored"
    EXPORTED = "exported"
    EXPORTED_WITHOUT_IDENTITY = "exported without identity"
    IMPORTED = "imported"
    BACKED_UP = "backed up"
    DOCUMENT_SAVED = "practice document saved"
    USER_ADDED = "user added"
    USER_CHANGED = "user changed"
    SIGNED_IN = "signed in"
    SIGN_IN_REFUSED = "sign-in refused"
    SIGNED_OUT = "signed out"


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry(Value):
    """One line of the audit log."""

    number: int
    """Rising from line to line."""
    at: datetime
    """When."""
    who: str
    """User or program."""
    action: Action
    """What was done."""
    case_id: str | None
    """Case it was done to; None when to no single one."""
    subject: str
    """What of it: a version, the digest of a film, a user's name."""


class AuditLog:
    """The audit log of a store."""

    def __init__(self, engine: Engine, now: Clock) -> None:
        self._engine = engine
        self._now = now

    def note(self, who: str, action: Action, *, case_id: str | None = None, subject: str = "") -> None:
        """Add an entry of its own, for what changes nothing: a case or film that was read, an export."""
        with writing(self._engine) as connection:
            self.note_on(connection, who, action, case_id=case_id, subject=subject)

    def note_on(
        self,
        connection: Connection,
        who: str,
        action: Action,
        *,
        case_id: str | None = None,
        subject: str = "",
    ) -> None:
        """Add an entry to the transaction of the change it tells of."""
        row = {
            "at": self._now(),
            "who": require_who(who),
            "action": action.value,
            "case_id": case_id,
            "subject": subject[:200],
        }
        connection.execute(insert(AUDIT_ENTRY).values(row))

    def entries(self, *, case_id: str | None = None, after: int = 0, most: int = 1000) -> tuple[Entry, ...]:
        """Entries in the order they were made.

        Parameters
        ----------
        case_id : str, optional
            Those of one case alone.
        after : int
            Those with a higher number.
        most : int
            How many at most.
        """
        query = select(AUDIT_ENTRY).where(AUDIT_ENTRY.c.number > after)
        return self._read(query.order_by(AUDIT_ENTRY.c.number), case_id, most)

    def _read(self, query: Select[Any], case_id: str | None, most: int) -> tuple[Entry, ...]:
        if case_id is not None:
            query = query.where(AUDIT_ENTRY.c.case_id == case_id)
        with reading(self._engine) as connection:
            rows = connection.execute(query.limit(most)).all()
        return tuple(
            Entry(
                number=row.number,
                at=row.at,
                who=row.who,
                action=Action(row.action),
                case_id=row.case_id,
                subject=row.subject,
            )
            for row in rows
        )

    def newest(
        self, *, case_id: str | None = None, before: int | None = None, most: int = 200
    ) -> tuple[Entry, ...]:
        """Entries backwards, the newest first.

        Parameters
        ----------
        case_id : str, optional
            Those of one case alone.
        before : int, optional
            Those with a lower number; the newest ones without it.
        most : int
            How many at most.
        """
        query = select(AUDIT_ENTRY)
        if before is not None:
            query = query.where(AUDIT_ENTRY.c.number < before)
        return self._read(query.order_by(AUDIT_ENTRY.c.number.desc()), case_id, most)

    def all(self, *, case_id: str | None = None) -> Iterator[Entry]:
        """Every entry, read in portions."""
        after = 0
        while portion := self.entries(case_id=case_id, after=after):
            yield from portion
            after = portion[-1].number
