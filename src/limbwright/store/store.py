"""A practice's store, opened: cases, films, the practice's own documents, users, audit log."""

import secrets
from contextlib import suppress
from datetime import date
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from sqlalchemy import URL, insert, select
from sqlalchemy.exc import IntegrityError

from limbwright.store.audit import AuditLog
from limbwright.store.cases import CaseShelf
from limbwright.store.engine import SQLITE_FILE, make_engine, sqlite_url, writing
from limbwright.store.films import FilmShelf
from limbwright.store.moment import Clock, utc_now
from limbwright.store.practice import PracticeShelf
from limbwright.store.pseudonym import KEY_BYTES, Pseudonyms
from limbwright.store.record import CaseLine, Order, case_lines
from limbwright.store.revision import NEWEST, migrate, revision_of
from limbwright.store.schema import PRACTICE_SECRET
from limbwright.store.sessions import SessionBook
from limbwright.store.trouble import Unavailable
from limbwright.store.users import UserBook

if TYPE_CHECKING:
    from argon2 import PasswordHasher

FILMS_FOLDER = "films"
_OLD_PART_SECONDS = 24 * 3600.0
_PSEUDONYM_KEY = "pseudonyms"


class Store:
    """An open store; a context manager that closes it.

    Parameters
    ----------
    address : str or URL
        SQLite file or PostgreSQL database; brought up to date if an older program wrote it.
    films_folder : Path
        Folder of the films.
    now : Clock
        Gives the present moment.
    hasher : PasswordHasher, optional
        argon2 with its own recommended cost unless another one is given.

    Raises
    ------
    Unreadable
        If the database is newer than this program or not ours; it is left as it is.
    Unavailable
        If it cannot be reached.
    """

    def __init__(
        self,
        address: str | URL,
        films_folder: Path,
        *,
        now: Clock = utc_now,
        hasher: "PasswordHasher | None" = None,
    ) -> None:
        self.engine = make_engine(address)
        self.address = self.engine.url
        try:
            if revision_of(self.engine) != NEWEST:
                migrate(self.engine)
            self.films = FilmShelf(films_folder)
            self.audit = AuditLog(self.engine, now)
            self.cases = CaseShelf(self.engine, self.audit, now)
            self.cases.relist()
            self.practice = PracticeShelf(self.engine, self.audit, now)
            self.users = UserBook(self.engine, self.audit, now, hasher=hasher)
            self.sessions = SessionBook(self.engine, self.audit, now)
        except BaseException:
            self.engine.dispose()
            raise
        self.now = now
        self.films.sweep(before_seconds=now().timestamp() - _OLD_PART_SECONDS)

    def listed(
        self,
        *,
        today: date,
        search: str = "",
        due_by: date | None = None,
        order: Order = Order.NEWEST_CHANGE,
        most: int = 500,
        skip: int = 0,
    ) -> tuple[CaseLine, ...]:
        """The list of cases as seen on a day; see `store.record.case_lines`."""
        return case_lines(
            self.engine, today=today, search=search, due_by=due_by, order=order, most=most, skip=skip
        )

    def pseudonyms(self) -> Pseudonyms:
        """Stand-ins of this practice, made with a key that is drawn once and stays in its database."""
        query = select(PRACTICE_SECRET.c.secret).where(PRACTICE_SECRET.c.name == _PSEUDONYM_KEY)
        with writing(self.engine) as connection:
            if connection.execute(query).scalar_one_or_none() is None:
                row = {"name": _PSEUDONYM_KEY, "secret": secrets.token_bytes(KEY_BYTES)}
                # Whoever is second, on a database that lets both begin, takes the key of the first.
                with suppress(IntegrityError), connection.begin_nested():
                    connection.execute(insert(PRACTICE_SECRET).values(row))
            return Pseudonyms(connection.execute(query).scalar_one())

    def close(self) -> None:
        """Give all connections back."""
        self.engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def open_store(
    home: Path,
    *,
    database: str | None = None,
    now: Clock = utc_now,
    hasher: "PasswordHasher | None" = None,
) -> Store:
    """Open the store of a practice; made when there is none yet.

    Parameters
    ----------
    home : Path
        Folder of the practice: `limbwright.sqlite` with `films/` beside it. Readable by its owner alone when
        it is made here.
    database : str, optional
        Address of a PostgreSQL database that is used in place of the SQLite file, such as
        postgresql://user@host/name; the films stay in `home`.
    now : Clock
        Gives the present moment.
    hasher : PasswordHasher, optional
        argon2 with its own recommended cost unless another one is given.
    """
    try:
        home.mkdir(mode=0o700, parents=True, exist_ok=True)
        if database is None:
            # Made here, because SQLite would make one that others can read.
            (home / SQLITE_FILE).touch(mode=0o600, exist_ok=True)
    except OSError as error:
        raise Unavailable(
            f"the folder of the practice cannot be written to ({error.strerror or error}).",
            where=str(home),
            next_step="Choose another folder, or see that you may write to this one.",
        ) from error
    address = sqlite_url(home / SQLITE_FILE) if database is None else database
    return Store(address, home / FILMS_FOLDER, now=now, hasher=hasher)
