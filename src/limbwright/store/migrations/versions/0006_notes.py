"""How many notes the accepted plan carries, beside its stops and cautions, in the list of cases.

Cases that are there already are read again when the store is opened next, as in revision 0002.
"""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    """Apply."""
    op.add_column("case_record", sa.Column("notes", sa.Integer, nullable=False, server_default="0"))
    op.execute("UPDATE case_record SET listing_version = 0")
