"""The practice's own documents, users, sessions, the audit log, and the key of de-identified exports."""

import sqlalchemy as sa
from alembic import op

from limbwright.store.migrations.append_only import make_append_only

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Apply."""
    op.create_table(
        "practice_document",
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("text", sa.Text, nullable=False),
        sa.Column("saved_at", sa.Text, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("why", sa.Text, nullable=False),
        sa.Column("restored_from", sa.Integer),
        sa.PrimaryKeyConstraint("kind", "version"),
    )
    make_append_only("practice_document")
    _users()
    op.create_table(
        "audit_entry",
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("action", sa.Text, nullable=False),
        sa.Column("case_id", sa.Text),
        sa.Column("subject", sa.Text, nullable=False),
    )
    op.create_index("audit_entry_by_case", "audit_entry", ["case_id"])
    op.create_index("audit_entry_by_moment", "audit_entry", ["at"])
    make_append_only("audit_entry")
    op.create_table(
        "practice_secret",
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("secret", sa.LargeBinary, nullable=False),
    )


def _users() -> None:
    op.create_table(
        "user_account",
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("role", sa.Text, nullable=False),
        sa.Column("password_hash", sa.Text, nullable=False),
        sa.Column("active", sa.Boolean, nullable=False),
        sa.Column("created_at", sa.Text, nullable=False),
        sa.Column("failures", sa.Integer, nullable=False),
        sa.Column("locked_until", sa.Text),
    )
    op.create_table(
        "user_session",
        sa.Column("token_sha256", sa.Text, primary_key=True),
        sa.Column("user_name", sa.Text, sa.ForeignKey("user_account.name"), nullable=False),
        sa.Column("opened_at", sa.Text, nullable=False),
        sa.Column("used_at", sa.Text, nullable=False),
        sa.Column("ends_at", sa.Text, nullable=False),
    )
    op.create_index("user_session_by_user", "user_session", ["user_name"])
