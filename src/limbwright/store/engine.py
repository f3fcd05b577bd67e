"""A connection to the database with the promises the store makes: what was acknowledged is on disk."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError, OperationalError

from limbwright.error import Missing, Unreadable
from limbwright.store.trouble import Unavailable

BUSY_SECONDS = 30
"""How long a change waits for another one that is being written."""
SQLITE_FILE = "limbwright.sqlite"


def sqlite_url(path: Path) -> URL:
    """The address of an SQLite file."""
    return URL.create("sqlite+pysqlite", database=str(path))


def make_engine(address: str | URL) -> Engine:
    """An engine for an SQLite file or a PostgreSQL database; nothing is connected yet.

    Raises
    ------
    Unreadable
        If the address is of another kind. A password in it is not repeated.
    Missing
        If PostgreSQL is asked for and its driver is not installed.
    """
    try:
        url = make_url(address)
    except ArgumentError:
        raise _no_address("the address of the database cannot be read.") from None
    match url.get_backend_name():
        case "sqlite":
            return _sqlite_engine(url)
        case "postgresql" | "postgres":
            return _postgresql_engine(url)
        case other:
            raise _no_address(f"a database of the kind {other[:40]!r}.")


def _no_address(found: str) -> Unreadable:
    return Unreadable(
        found,
        where="address of the database",
        next_step="Give the folder of the practice, or postgresql://user@host/name.",
    )


def _sqlite_engine(url: URL) -> Engine:
    if not url.database or url.database == ":memory:":
        raise _no_address("an SQLite address without a file.")
    engine = create_engine(
        url.set(drivername="sqlite+pysqlite"),
        connect_args={"timeout": BUSY_SECONDS, "check_same_thread": False},
    )
    event.listen(engine, "connect", _sqlite_promises)
    event.listen(engine, "begin", _sqlite_begin)
    return engine


def _sqlite_promises(connection: Any, _record: Any) -> None:
    # The driver's own notion of transactions is switched off; `_sqlite_begin` says how each one begins.
    connection.isolation_level = None
    cursor = connection.cursor()
    try:
        mode = cursor.execute("PRAGMA journal_mode=WAL").fetchone()[0]
        # FULL: the log is forced to disk before a commit returns, so power loss keeps what was acknowledged.
        cursor.execute("PRAGMA synchronous=FULL")
        cursor.execute("PRAGMA foreign_keys=ON")
        cursor.execute("PRAGMA trusted_schema=OFF")
    finally:
        cursor.close()
    if mode != "wal":
        raise Unavailable(
            f"the database file cannot keep a write-ahead log (journal mode {mode}).",
            where="folder of the practice",
            next_step="Put the folder on a local disk that can be written to, not on a network share.",
        )


def _sqlite_begin(connection: Connection) -> None:
    # A change takes the write lock first, so that what it read is still true when it writes.
    writes = connection.get_execution_options().get("limbwright_writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _postgresql_engine(url: URL) -> Engine:
    try:
        engine = create_engine(url.set(drivername="postgresql+psycopg"), pool_pre_ping=True)
    except (ModuleNotFoundError, NoSuchModuleError):
        raise Missing(
            "the PostgreSQL driver is not installed.",
            where="address of the database",
            next_step="Install it with: pip install 'limbwright[postgres]'.",
        ) from None
    event.listen(engine, "connect", _postgresql_promises)
    return engine


def _postgresql_promises(connection: Any, _record: Any) -> None:
    # A server may be set to acknowledge before the log is on disk; this store never is.
    with connection.cursor() as cursor:
        cursor.execute("SET synchronous_commit TO on")
    connection.commit()


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """One consistent view of the database."""
    with _plain_errors(), engine.connect() as connection, connection.begin():
        yield connection


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """One change: all of it is on disk when the block ends, or none of it when anything is raised."""
    with (
        _plain_errors(),
        engine.connect().execution_options(limbwright_writes=True) as connection,
        connection.begin(),
    ):
        yield connection


@contextmanager
def _plain_errors() -> Iterator[None]:
    try:
        yield
    except OperationalError as error:
        raise Unavailable(
            f"the database did not answer ({_first_line(error)}); the change was not saved.",
            where="database",
            next_step="Check free space and that it is running, then save again.",
        ) from error
    except DBAPIError as error:
        if "malformed" in str(error) or "not a database" in str(error):
            raise Unreadable(
                f"the database file is damaged ({_first_line(error)}).",
                where="database",
                next_step="Keep the file as it is and restore the latest backup into a new folder.",
            ) from error
        raise


def _first_line(error: DBAPIError) -> str:
    lines = str(error.orig).strip().splitlines()
    return lines[0][:200] if lines else type(error.orig).__name__
