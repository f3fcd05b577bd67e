"""Cases as versioned documents: every save is a new version, any two are compared, any one is restored.

Versions are only ever added. Whoever saves says which version the change was made on; when somebody else
saved in the meantime nothing is written, and `Conflict` carries what differs on both sides.
"""

import json
from collections.abc import Iterator, Mapping
from typing import Any

from sqlalchemy import Connection, Engine, insert, select, update
from sqlalchemy.exc import IntegrityError

from limbwright.case.case import SCHEMA_VERSION, Case
from limbwright.case.document import case_from_json
from limbwright.error import Contradiction, LimbwrightError, Missing, OutOfRange
from limbwright.practice.profile import Profile
from limbwright.store.audit import Action, AuditLog
from limbwright.store.conflict import Conflict, Version
from limbwright.store.difference import Change, applied, changes, only_mine, top_keys, touching
from limbwright.store.engine import reading, writing
from limbwright.store.history import (
    Saved,
    add_version,
    all_versions,
    newest_number,
    saved_version,
    version_named,
    version_of,
)
from limbwright.store.listing import LISTING_VERSION, Step
from limbwright.store.moment import Clock
from limbwright.store.packed import document_of, tree_of
from limbwright.store.practice import profile_on
from limbwright.store.record import record_of
from limbwright.store.schema import CASE_RECORD
from limbwright.store.treated import TreatedBones, bones_of, keep_bones, leave_out, mark_of
from limbwright.store.wording import require_addressable

Beside = Mapping[str, Any]

LARGEST_BESIDE_BYTES = 500_000


class CaseShelf:
    """The cases of a store."""

    def __init__(self, engine: Engine, audit: AuditLog, now: Clock) -> None:
        self._engine = engine
        self._audit = audit
        self._now = now

    def create(self, case: Case, *, who: str, why: str, beside: Beside | None = None) -> int:
        """Keep a new case; returns 1, the number of its first version. For `beside` see `save`.

        Raises
        ------
        OutOfRange, Contradiction
            As `add_on`; a case that is there already is left as it is.
        """
        first = version_of(1, saved_at=self._now(), who=who, why=why)
        saved = Saved(
            case_id=case.id, document=document_of(case), version=first, beside=beside_text(beside or {})
        )
        with writing(self._engine) as connection:
            self.add_on(connection, case, saved.version)
            add_version(connection, saved)
            self._audit.note_on(connection, who, Action.CASE_CREATED, case_id=case.id, subject="version 1")
        return 1

    def save(self, case: Case, *, based_on: int, who: str, why: str, beside: Beside | None = None) -> int:
        """Keep a changed case as a new version; returns its number once it is on disk.

        Parameters
        ----------
        case : Case
            The whole case as it should be now.
        based_on : int
            Number of the version that was changed.
        who : str
            User.
        why : str
            Reason, in the user's words.
        beside : mapping of str to JSON values, optional
            Small things that go with this version and have no place in the document, at most
            `LARGEST_BESIDE_BYTES`; those of version `based_on` are kept without it.

        Raises
        ------
        Missing
            If there is no case of that identifier, or no such version to be based on.
        Conflict
            If a newer version than `based_on` is there and says something else. A save that is sent again
            after its answer was lost finds its own version there and gets that number.
        """
        kept = beside_text(self.beside(case.id, based_on) if beside is None else beside)
        return self._save(case, kept, based_on=based_on, who=who, why=why, restored_from=None)

    def at(self, case_id: str, version: int | None = None) -> Case:
        """The case as of a version, the newest without one; documents of older programs are brought up to
        date.

        Raises
        ------
        Missing
            If there is no such case or version.
        """
        return self.current(case_id)[0] if version is None else self._read(case_id, version)

    def current(self, case_id: str) -> tuple[Case, int]:
        """The newest version of a case, with the number that a save has to be based on."""
        version = self.newest(case_id)
        return self._read(case_id, version), version

    def newest(self, case_id: str) -> int:
        """Number of the newest version."""
        with reading(self._engine) as connection:
            version = newest_number(connection, case_id)
        if version is None:
            raise _no_case(case_id)
        return version

    def document_at(self, case_id: str, version: int) -> str:
        """The JSON document exactly as it was saved, in the shape of the program that saved it."""
        return self._saved(case_id, version).document

    def beside(self, case_id: str, version: int) -> dict[str, Any]:
        """What was saved beside the document of a version."""
        return tree_of(self._saved(case_id, version).beside)

    def _saved(self, case_id: str, version: int) -> Saved:
        with reading(self._engine) as connection:
            saved = saved_version(connection, case_id, version)
            newest = newest_number(connection, case_id) if saved is None else None
        if saved is None:
            raise _no_case(case_id) if newest is None else _no_version(case_id, version, newest)
        return saved

    def versions(self, case_id: str, *, part: str | None = None) -> tuple[Version, ...]:
        """Every version, oldest first.

        Parameters
        ----------
        case_id : str
            The case.
        part : str, optional
            Top key of the document, such as `plan`: only versions that changed it, and the first.
        """
        with reading(self._engine) as connection:
            found = all_versions(connection, case_id)
        if not found:
            raise _no_case(case_id)
        return tuple(v for v in found if part is None or part in v.parts or v.number == 1)

    def compare(self, case_id: str, before: int, after: int) -> tuple[Change, ...]:
        """What differs between two versions, path by path; both in the shape of this program.

        What stands beside the documents follows under its own keys, as if it were a part of them.
        """
        return (
            *changes(self._tree(case_id, before), self._tree(case_id, after)),
            *changes(self.beside(case_id, before), self.beside(case_id, after)),
        )

    def restore(
        self, case_id: str, version: int, *, based_on: int, who: str, why: str, part: str | None = None
    ) -> int:
        """Bring an older version back, as a new one; returns its number.

        Parameters
        ----------
        case_id : str
            The case.
        version : int
            Version to bring back.
        based_on : int
            The newest version, as the user sees it.
        who, why : str
            User and reason.
        part : str, optional
            Top key of the document, such as `plan`: brings that part back and leaves the rest as it is.

        Raises
        ------
        Conflict
            If a newer version than `based_on` is there.
        UnreadableCase
            If the part does not fit the rest as it is now.
        """
        older = self._read(case_id, version)
        case = older if part is None else self._with_part(case_id, based_on, version, part)
        beside = beside_text(self.beside(case_id, version if part is None else based_on))
        return self._save(case, beside, based_on=based_on, who=who, why=why, restored_from=version)

    def ids(self) -> Iterator[str]:
        """Identifiers of all cases, in order."""
        with reading(self._engine) as connection:
            found = connection.execute(select(CASE_RECORD.c.id).order_by(CASE_RECORD.c.id)).scalars().all()
        yield from found

    def relist(self) -> int:
        """Fill the list's columns again for cases whose row an older program wrote; the number filled.

        A case that this program refuses is listed as one that cannot be read: it must not keep the others
        from being opened, and older versions of it can still be restored.
        """
        query = select(CASE_RECORD.c.id).where(CASE_RECORD.c.listing_version < LISTING_VERSION)
        with reading(self._engine) as connection:
            behind = connection.execute(query).scalars().all()
        for case_id in behind:
            with writing(self._engine) as connection:
                number = newest_number(connection, case_id, lock=True)
                saved = None if number is None else saved_version(connection, case_id, number)
                if saved is None:
                    continue
                try:
                    case = case_of(saved.document, where=version_named(case_id, saved.version.number))
                except LimbwrightError:
                    row = {"listing_version": LISTING_VERSION, "step": Step.UNREADABLE.value}
                    connection.execute(update(CASE_RECORD).where(CASE_RECORD.c.id == case_id).values(row))
                else:
                    self.list_on(connection, case, saved.version)
        return len(behind)

    def treated_bones(self, profile: Profile, *, invented: bool) -> TreatedBones:
        """The rows of the practice audit of all cases, as of their newest versions.

        Parameters
        ----------
        profile : Profile
            Reading errors and choice of template, for the alignment at the end. Rows that were filled by
            other ones, or by an older program, are filled again first.
        invented : bool
            Whether demo cases are among them.
        """
        query = select(CASE_RECORD.c.id).where(CASE_RECORD.c.audit_mark != mark_of(profile))
        with reading(self._engine) as connection:
            behind = connection.execute(query).scalars().all()
        for case_id in behind:
            with writing(self._engine) as connection:
                number = newest_number(connection, case_id, lock=True)
                saved = None if number is None else saved_version(connection, case_id, number)
                if saved is None:
                    continue
                try:
                    case = case_of(saved.document, where=version_named(case_id, saved.version.number))
                except LimbwrightError as error:
                    leave_out(connection, case_id, error, profile)
                else:
                    keep_bones(connection, case, profile)
        with reading(self._engine) as connection:
            return bones_of(connection, invented=invented)

    def add_on(self, connection: Connection, case: Case, version: Version) -> None:
        """Add the row of a new case to a transaction; its version is added after it.

        Raises
        ------
        OutOfRange
            If its identifier cannot stand in an address.
        Contradiction
            If a case of that identifier is there already.
        """
        require_addressable(case.id)
        taken = newest_number(connection, case.id) is not None
        profile = profile_on(connection)
        row = record_of(case, profile, version)
        try:
            if not taken:
                connection.execute(insert(CASE_RECORD).values(id=case.id, **row))
                keep_bones(connection, case, profile)
        except IntegrityError:  # another writer was faster, on a database that lets both begin
            taken = True
        if taken:
            raise Contradiction(
                "a case of that identifier is there already; it was left as it is.",
                where=f"case {case.id!r}",
                next_step="Choose another identifier, or open that case and change it.",
            )

    def list_on(self, connection: Connection, case: Case, version: Version) -> None:
        """Fill the row of a case anew in a transaction."""
        profile = profile_on(connection)
        row = record_of(case, profile, version)
        connection.execute(update(CASE_RECORD).where(CASE_RECORD.c.id == case.id).values(row))
        keep_bones(connection, case, profile)

    def _save(
        self, case: Case, beside: str, *, based_on: int, who: str, why: str, restored_from: int | None
    ) -> int:
        document = document_of(case)
        parts = top_keys(changes(self._shape_of_now(self._saved(case.id, based_on)), tree_of(document)))
        version = version_of(
            based_on + 1, saved_at=self._now(), who=who, why=why, parts=parts, restored_from=restored_from
        )
        action = Action.CASE_SAVED if restored_from is None else Action.CASE_RESTORED
        with writing(self._engine) as connection:
            if newest_number(connection, case.id, lock=True) == based_on:
                saved = Saved(case_id=case.id, document=document, version=version, beside=beside)
                add_version(connection, saved)
                self.list_on(connection, case, version)
                subject = f"version {version.number}"
                self._audit.note_on(connection, who, action, case_id=case.id, subject=subject)
                return version.number
        return self._answer_late(case.id, document, beside, based_on)

    def _answer_late(self, case_id: str, document: str, beside: str, based_on: int) -> int:
        """Somebody saved since `based_on`: the same content was this save already, else it is a conflict."""
        newest = self.versions(case_id)[-1]
        there = self._saved(case_id, newest.number)
        base, now, wanted = (
            self._tree(case_id, based_on),
            self._tree(case_id, newest.number),
            tree_of(document),
        )
        if not changes(now, wanted) and there.beside == beside:
            return newest.number
        base_beside, now_beside = self.beside(case_id, based_on), tree_of(there.beside)
        theirs_beside = changes(base_beside, now_beside)
        theirs = (*changes(base, now), *theirs_beside)
        mine = (*changes(base, wanted), *changes(base_beside, tree_of(beside)))
        both = touching(mine, theirs)
        raise Conflict(
            f"case {case_id!r}",
            based_on=based_on,
            current=newest,
            theirs=theirs,
            mine=mine,
            both=both,
            # A combined document would be saved with my side of what stands beside it.
            combined=None
            if both or theirs_beside
            else _combined(now, only_mine(changes(base, wanted), theirs)),
        )

    def _read(self, case_id: str, version: int) -> Case:
        return case_of(self.document_at(case_id, version), where=version_named(case_id, version))

    def _tree(self, case_id: str, version: int) -> dict[str, Any]:
        """A version in the shape in which this program writes it."""
        saved = self._saved(case_id, version)
        try:
            return tree_of(document_of(case_of(saved.document, where=version_named(case_id, version))))
        except LimbwrightError:
            # What an older program accepted and this one refuses is compared as it stands, so that a better
            # version can still be saved or restored on top of it.
            return tree_of(saved.document)

    def _shape_of_now(self, saved: Saved) -> dict[str, Any]:
        """The same, without reading the case where its shape is today's: every save waits for this."""
        if saved.schema_version == SCHEMA_VERSION:
            return tree_of(saved.document)
        return self._tree(saved.case_id, saved.version.number)

    def _with_part(self, case_id: str, onto: int, version: int, part: str) -> Case:
        newest, older = self._tree(case_id, onto), self._tree(case_id, version)
        if part not in newest and part not in older:
            raise OutOfRange(
                f"neither version {version} nor version {onto} has a part {part[:40]!r}.",
                where=f"case {case_id!r}",
                next_step=f"Choose one of: {', '.join(sorted({*newest, *older}))}.",
            )
        mixed = {key: value for key, value in newest.items() if key != part}
        if part in older:
            mixed[part] = older[part]
        return case_of(json.dumps(mixed), where=f"case {case_id!r}, {part} of version {version}")


def beside_text(beside: Beside) -> str:
    """What goes beside a document, as JSON.

    Raises
    ------
    OutOfRange
        If it is larger than `LARGEST_BESIDE_BYTES` or no JSON.
    """
    try:
        text = json.dumps(beside, allow_nan=False)
    except (TypeError, ValueError):
        text = ""
    if not text or len(text) > LARGEST_BESIDE_BYTES:
        raise OutOfRange(
            f"{len(text):,} bytes beside the document, expected JSON of at most {LARGEST_BESIDE_BYTES:,}.",
            where="beside",
            next_step="Keep large things in the case document or as files.",
        )
    return text


def case_of(document: str, *, where: str) -> Case:
    """A stored document as a case, complete or still being marked."""
    return case_from_json(document, complete=False, where=where)


def _combined(now: dict[str, Any], mine: tuple[Change, ...]) -> Case | None:
    try:
        return case_of(json.dumps(applied(now, mine)), where="combined case")
    except (LookupError, LimbwrightError):
        return None


def _no_case(case_id: str) -> Missing:
    return Missing(
        "there is no such case.", where=f"case {case_id[:64]!r}", next_step="Choose one from the list."
    )


def _no_version(case_id: str, version: int, newest: int) -> Missing:
    return Missing(
        f"there is no version {version}; the newest is {newest}.",
        where=f"case {case_id!r}",
        next_step=f"Choose a version from 1 to {newest}.",
    )
