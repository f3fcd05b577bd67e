"""Every row of one database written into another, empty one, of either kind."""

from sqlalchemy import Connection, Engine, func, insert, select, text

from limbwright.error import Refused
from limbwright.store.engine import reading, writing
from limbwright.store.revision import migrate, revision_of
from limbwright.store.schema import AUDIT_ENTRY, METADATA

AT_A_TIME = 200
"""Rows that are held in memory together."""


def copy_rows(source: Engine, target: Engine, *, where: str) -> None:
    """Copy a whole database, as it was at one moment, into one that holds nothing.

    Parameters
    ----------
    source : Engine
        A database of the newest revision; it may be in use.
    target : Engine
        An empty database; it is brought to the newest revision first.
    where : str
        What the target is, for messages.

    Raises
    ------
    Refused
        If the target holds anything; it is left as it is.
    """
    if revision_of(target) is not None:
        raise Refused(
            "the database holds a practice already; it was left as it is.",
            where=where,
            next_step="Restore into an empty database, look at it, and then work with that one.",
        )
    migrate(target)
    with reading(_at_one_moment(source)) as from_, writing(target) as into:
        for table in METADATA.sorted_tables:
            rows = from_.execution_options(stream_results=True).execute(select(table)).mappings()
            for portion in rows.partitions(AT_A_TIME):
                into.execute(insert(table), [dict(row) for row in portion])
        _count_on(into)


def _at_one_moment(source: Engine) -> Engine:
    """An SQLite transaction sees one moment by itself; PostgreSQL is asked to."""
    if source.dialect.name != "postgresql":
        return source
    return source.execution_options(isolation_level="REPEATABLE READ")


def _count_on(into: Connection) -> None:
    """New lines of the audit log are numbered after those that were copied."""
    last = into.execute(select(func.max(AUDIT_ENTRY.c.number))).scalar()
    if into.dialect.name == "postgresql" and last is not None:
        into.execute(
            text("SELECT setval(pg_get_serial_sequence('audit_entry', 'number'), :last)"), {"last": last}
        )
