"""Triggers by which the database itself refuses to change or remove rows of a table."""

from alembic import op


def make_append_only(table: str) -> None:
    """Refuse UPDATE and DELETE on a table, on either kind of database."""
    words = f"rows of {table} are only ever added"
    if op.get_bind().dialect.name == "sqlite":
        for verb in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{words}'); END"
            )
        return
    op.execute(
        f"CREATE FUNCTION {table}_kept() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{words}'; END $$"
    )
    op.execute(
        f"CREATE TRIGGER {table}_kept BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
        f"FOR EACH STATEMENT EXECUTE FUNCTION {table}_kept()"
    )
