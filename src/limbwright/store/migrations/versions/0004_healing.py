"""The end of a course in the list of cases: when the new bone was called consolidated, when treatment ended.

Cases that are there already are read again when the store is opened next, as in revision 0002.
"""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Apply."""
    for name in ("consolidated_on", "ended_on"):
        op.add_column("case_record", sa.Column(name, sa.Date))
    op.execute("UPDATE case_record SET listing_version = 0")
