"""Cases and their versions, with what the list of cases needs."""

import sqlalchemy as sa
from alembic import op

from limbwright.store.migrations.append_only import make_append_only

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Apply."""
    op.create_table(
        "case_record",
        sa.Column("id", sa.Text, primary_key=True),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("side", sa.Text, nullable=False),
        sa.Column("invented", sa.Boolean, nullable=False),
        sa.Column("updated_at", sa.Text, nullable=False),
        sa.Column("updated_by", sa.Text, nullable=False),
    )
    op.create_index("case_record_by_update", "case_record", ["updated_at"])
    op.create_table(
        "case_version",
        sa.Column("case_id", sa.Text, sa.ForeignKey("case_record.id"), nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("document", sa.LargeBinary, nullable=False),
        sa.Column("sha256", sa.Text, nullable=False),
        sa.Column("schema_version", sa.Integer, nullable=False),
        sa.Column("saved_at", sa.Text, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("why", sa.Text, nullable=False),
        sa.Column("parts", sa.Text, nullable=False),
        sa.Column("beside", sa.Text, nullable=False),
        sa.Column("restored_from", sa.Integer),
        sa.PrimaryKeyConstraint("case_id", "version"),
    )
    make_append_only("case_version")
