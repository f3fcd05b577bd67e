"""Which revision the database has, and bringing it up to date.

A database of the current revision is opened without the migration library.
"""

from collections.abc import Sequence
from pathlib import Path

from sqlalchemy import Connection, Engine, inspect, text

from limbwright.error import Unreadable
from limbwright.store.engine import reading, writing

REVISIONS: Sequence[str] = ("0001", "0002", "0003", "0004", "0005", "0006")
"""Every revision, oldest first; a test compares them with the files in `migrations/versions`."""
NEWEST = REVISIONS[-1]
_SCRIPTS = Path(__file__).parent / "migrations"
_VERSION_TABLE = "alembic_version"
# Any number serves that no other program takes on the same PostgreSQL database.
_MIGRATION_LOCK = 7_302_511_649


def revision_of(engine: Engine) -> str | None:
    """The revision of the database; None when it is empty.

    Raises
    ------
    Unreadable
        If it was written by a newer program, or is no Limbwright database at all.
    """
    with reading(engine) as connection:
        return _revision_on(connection)


def migrate(engine: Engine, *, to: str = NEWEST) -> bool:
    """Bring the database up to a revision; True when anything was done.

    All steps are one transaction: a migration that is interrupted leaves the database as it was. Two programs
    that open an old database at once take turns.

    Raises
    ------
    Unreadable
        If the database is newer than this program, or not ours; it is left as it is.
    """
    with writing(engine) as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _MIGRATION_LOCK})
        before = _revision_on(connection)
        if before == to:
            return False
        from alembic import command
        from alembic.config import Config

        config = Config()
        config.set_main_option("script_location", str(_SCRIPTS))
        config.attributes["connection"] = connection
        command.upgrade(config, to)
    return True


def _revision_on(connection: Connection) -> str | None:
    tables = set(inspect(connection).get_table_names())
    if not tables:
        return None
    found = (
        connection.execute(text(f"SELECT version_num FROM {_VERSION_TABLE}")).scalars().all()
        if _VERSION_TABLE in tables
        else []
    )
    if not found:
        raise Unreadable(
            f"a database of another program (tables {', '.join(sorted(tables)[:3])}).",
            where="database",
            next_step="Choose another folder or database; this one was left as it is.",
        )
    if found[0] not in REVISIONS:
        raise Unreadable(
            f"the database has revision {found[0]}; this program knows revisions up to {NEWEST}.",
            where="database",
            next_step="Update this program; the database was left as it is.",
        )
    return str(found[0])
