"""Called by the migration library; runs the revisions on the connection that `store.revision` hands over."""

from alembic import context

connection = context.config.attributes["connection"]
context.configure(connection=connection, transactional_ddl=True, transaction_per_migration=False)
# The caller's transaction holds all steps together; none is begun here.
context.run_migrations()
