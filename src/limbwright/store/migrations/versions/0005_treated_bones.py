"""Rows of the practice audit beside each case, so that asking all cases does not read every document.

They are filled when a case is saved; those of cases that are there already, when they are first asked for.
"""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"

_NUMBERS = (
    "age_years",
    "followed_days",
    "planned_mm",
    "gained_mm",
    "frontal_error_deg",
    "sagittal_error_deg",
    "mad_error_mm",
    "frontal_drift_deg",
    "sagittal_drift_deg",
)
_COUNTS = (
    "blocking_screws",
    "calf_release",
    "problems",
    "obstacles",
    "minor_complications",
    "major_complications",
)


def upgrade() -> None:
    """Apply."""
    op.create_table(
        "treated_bone",
        sa.Column("case_id", sa.Text, sa.ForeignKey("case_record.id"), nullable=False),
        sa.Column("position", sa.Integer, nullable=False),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("bone", "entry", "level")),
        sa.Column("operated_on", sa.Date),
        sa.Column("healed", sa.Boolean, nullable=False),
        *(sa.Column(name, sa.Float) for name in _NUMBERS),
        *(sa.Column(name, sa.Integer) for name in _COUNTS),
        sa.PrimaryKeyConstraint("case_id", "position"),
    )
    op.add_column("case_record", sa.Column("audit_mark", sa.Text, nullable=False, server_default=""))
    op.add_column("case_record", sa.Column("audit_left_out", sa.Text))
