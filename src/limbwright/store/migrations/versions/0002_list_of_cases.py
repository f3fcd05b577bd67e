"""What the list of cases shows: patient, stage, what is due, findings.

The new columns of cases that are there already are filled from their documents when the store is opened next
(`store.cases.CaseShelf.relist`): rows with an old `listing_version` are read again.
"""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

TEXTS = ("patient", "diagnosis", "step", "next_due")
COUNTS = ("listing_version", "stops", "cautions")
DAYS = ("operated_on", "first_step_on", "last_step_on", "next_due_on")


def upgrade() -> None:
    """Apply."""
    for name in TEXTS:
        op.add_column("case_record", sa.Column(name, sa.Text, nullable=False, server_default=""))
    for name in COUNTS:
        op.add_column("case_record", sa.Column(name, sa.Integer, nullable=False, server_default="0"))
    for name in DAYS:
        op.add_column("case_record", sa.Column(name, sa.Date))
    op.create_index("case_record_by_due", "case_record", ["next_due_on"])
    op.create_index("case_record_by_step", "case_record", ["step", "side"])
