"""The tables of the database, as of the newest revision; a test compares them with what the revisions make.

A case is a row of `case_record` (what the list of cases needs, filled from the document by `store.listing`),
the rows of `treated_bone` (what the practice audit needs, filled by `store.treated`) and the rows of
`case_version`, which are only ever added.
"""

from sqlalchemy import (
    Boolean,
    Column,
    Date,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    PrimaryKeyConstraint,
    Table,
    Text,
)

from limbwright.store.moment import Moment

METADATA = MetaData()

CASE_RECORD = Table(
    "case_record",
    METADATA,
    Column("id", Text, primary_key=True),
    Column("version", Integer, nullable=False),
    Column("listing_version", Integer, nullable=False),
    Column("side", Text, nullable=False),
    Column("invented", Boolean, nullable=False),
    Column("patient", Text, nullable=False),
    Column("diagnosis", Text, nullable=False),
    Column("step", Text, nullable=False),
    Column("operated_on", Date),
    Column("first_step_on", Date),
    Column("last_step_on", Date),
    Column("consolidated_on", Date),
    Column("ended_on", Date),
    Column("next_due_on", Date),
    Column("next_due", Text, nullable=False),
    Column("stops", Integer, nullable=False),
    Column("cautions", Integer, nullable=False),
    Column("notes", Integer, nullable=False, server_default="0"),
    Column("updated_at", Moment, nullable=False),
    Column("updated_by", Text, nullable=False),
    Column("audit_mark", Text, nullable=False, server_default=""),
    Column("audit_left_out", Text),
    Index("case_record_by_update", "updated_at"),
    Index("case_record_by_due", "next_due_on"),
    Index("case_record_by_step", "step", "side"),
)

CASE_VERSION = Table(
    "case_version",
    METADATA,
    Column("case_id", Text, ForeignKey("case_record.id"), nullable=False),
    Column("version", Integer, nullable=False),
    Column("document", LargeBinary, nullable=False),
    Column("sha256", Text, nullable=False),
    Column("schema_version", Integer, nullable=False),
    Column("saved_at", Moment, nullable=False),
    Column("who", Text, nullable=False),
    Column("why", Text, nullable=False),
    Column("parts", Text, nullable=False),
    Column("beside", Text, nullable=False),
    Column("restored_from", Integer),
    PrimaryKeyConstraint("case_id", "version"),
)

TREATED_BONE = Table(
    "treated_bone",
    METADATA,
    Column("case_id", Text, ForeignKey("case_record.id"), nullable=False),
    Column("position", Integer, nullable=False),
    Column("bone", Text, nullable=False),
    Column("entry", Text, nullable=False),
    Column("level", Text, nullable=False),
    Column("operated_on", Date),
    Column("healed", Boolean, nullable=False),
    Column("age_years", Float),
    Column("followed_days", Float),
    Column("planned_mm", Float),
    Column("gained_mm", Float),
    Column("frontal_error_deg", Float),
    Column("sagittal_error_deg", Float),
    Column("mad_error_mm", Float),
    Column("frontal_drift_deg", Float),
    Column("sagittal_drift_deg", Float),
    Column("blocking_screws", Integer),
    Column("calf_release", Integer),
    Column("problems", Integer),
    Column("obstacles", Integer),
    Column("minor_complications", Integer),
    Column("major_complications", Integer),
    PrimaryKeyConstraint("case_id", "position"),
)

PRACTICE_DOCUMENT = Table(
    "practice_document",
    METADATA,
    Column("kind", Text, nullable=False),
    Column("version", Integer, nullable=False),
    Column("text", Text, nullable=False),
    Column("saved_at", Moment, nullable=False),
    Column("who", Text, nullable=False),
    Column("why", Text, nullable=False),
    Column("restored_from", Integer),
    PrimaryKeyConstraint("kind", "version"),
)

USER_ACCOUNT = Table(
    "user_account",
    METADATA,
    Column("name", Text, primary_key=True),
    Column("role", Text, nullable=False),
    Column("password_hash", Text, nullable=False),
    Column("active", Boolean, nullable=False),
    Column("created_at", Moment, nullable=False),
    Column("failures", Integer, nullable=False),
    Column("locked_until", Moment),
)

USER_SESSION = Table(
    "user_session",
    METADATA,
    Column("token_sha256", Text, primary_key=True),
    Column("user_name", Text, ForeignKey("user_account.name"), nullable=False),
    Column("opened_at", Moment, nullable=False),
    Column("used_at", Moment, nullable=False),
    Column("ends_at", Moment, nullable=False),
    Index("user_session_by_user", "user_name"),
)

AUDIT_ENTRY = Table(
    "audit_entry",
    METADATA,
    Column("number", Integer, primary_key=True, autoincrement=True),
    Column("at", Moment, nullable=False),
    Column("who", Text, nullable=False),
    Column("action", Text, nullable=False),
    Column("case_id", Text),
    Column("subject", Text, nullable=False),
    Index("audit_entry_by_case", "case_id"),
    Index("audit_entry_by_moment", "at"),
)

PRACTICE_SECRET = Table(
    "practice_secret",
    METADATA,
    Column("name", Text, primary_key=True),
    Column("secret", LargeBinary, nullable=False),
)
