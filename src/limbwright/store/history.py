"""Versions of a case as rows: adding one, and reading one back checked against its digest."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, insert, select

from limbwright.case.case import SCHEMA_VERSION
from limbwright.quantity import Value
from limbwright.store.conflict import Version
from limbwright.store.packed import digest_of, packed, unpacked
from limbwright.store.schema import CASE_RECORD, CASE_VERSION
from limbwright.store.wording import require_who, require_why

NOTHING_BESIDE = "{}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Saved(Value):
    """One version of a case with its document."""

    case_id: str
    """The case."""
    document: str
    """JSON document, as it was saved."""
    schema_version: int = SCHEMA_VERSION
    """Version of the document's shape."""
    version: Version
    """Number, who, when, why."""
    beside: str = NOTHING_BESIDE
    """JSON object of what goes with this version and has no place in the document."""


def version_of(
    number: int,
    *,
    saved_at: datetime,
    who: str,
    why: str,
    parts: tuple[str, ...] = (),
    restored_from: int | None = None,
) -> Version:
    """A version whose user and reason may be stored.

    Raises
    ------
    Missing, OutOfRange
        If nobody is named, or a text is too long or not printable.
    """
    return Version(
        number=number,
        saved_at=saved_at,
        who=require_who(who),
        why=require_why(why),
        parts=parts,
        restored_from=restored_from,
    )


def add_version(connection: Connection, saved: Saved) -> None:
    """Add a row; the database refuses to ever change it."""
    row = {
        "case_id": saved.case_id,
        "version": saved.version.number,
        "document": packed(saved.document),
        "sha256": digest_of(saved.document),
        "schema_version": saved.schema_version,
        "saved_at": saved.version.saved_at,
        "who": saved.version.who,
        "why": saved.version.why,
        "parts": " ".join(saved.version.parts),
        "beside": saved.beside,
        "restored_from": saved.version.restored_from,
    }
    connection.execute(insert(CASE_VERSION).values(row))


def newest_number(connection: Connection, case_id: str, *, lock: bool = False) -> int | None:
    """Number of the newest version, None without such a case; `lock` keeps other writers waiting."""
    query = select(CASE_RECORD.c.version).where(CASE_RECORD.c.id == case_id)
    found: int | None = connection.execute(query.with_for_update() if lock else query).scalar_one_or_none()
    return found


def saved_version(connection: Connection, case_id: str, number: int) -> Saved | None:
    """One version with its document, None when there is none of that number.

    Raises
    ------
    Contradiction
        If the document is no longer the one that was stored.
    """
    c = CASE_VERSION.c
    query = select(CASE_VERSION).where(c.case_id == case_id, c.version == number)
    row = connection.execute(query).one_or_none()
    if row is None:
        return None
    return Saved(
        case_id=case_id,
        document=unpacked(row.document, row.sha256, where=version_named(case_id, number)),
        schema_version=row.schema_version,
        version=_version_in(row),
        beside=row.beside,
    )


def all_versions(connection: Connection, case_id: str) -> tuple[Version, ...]:
    """Every version of a case without its document, oldest first; empty without such a case."""
    c = CASE_VERSION.c
    query = select(c.version, c.saved_at, c.who, c.why, c.parts, c.restored_from)
    rows = connection.execute(query.where(c.case_id == case_id).order_by(c.version)).all()
    return tuple(_version_in(row) for row in rows)


def version_named(case_id: str, number: int) -> str:
    """A version of a case, for messages."""
    return f"case {case_id!r}, version {number}"


def _version_in(row: Any) -> Version:
    return Version(
        number=row.version,
        saved_at=row.saved_at,
        who=row.who,
        why=row.why,
        parts=tuple(row.parts.split()),
        restored_from=row.restored_from,
    )
