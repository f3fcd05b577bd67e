"""Rows of the practice audit, kept with each case: asking all cases does not read every document."""

import hashlib
import json
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from sqlalchemy import Connection, delete, func, insert, select, update

from limbwright.case.audit_columns import LeftOut, treated_bones
from limbwright.case.case import Case
from limbwright.error import LimbwrightError
from limbwright.practice.audit.columns import AuditColumns, TreatedBone, columns_of, names
from limbwright.practice.profile import Profile
from limbwright.quantity import Value
from limbwright.store.schema import CASE_RECORD, TREATED_BONE

ROWS_VERSION = 1
"""Raised when a row is filled in another way; rows of an older number are filled again."""
DECIDING = (
    "centre_landmark_sd_mm",
    "joint_line_landmark_sd_mm",
    "landmark_sd_mm",
    "tip_landmark_sd_mm",
    "prefer_opposite_leg_template",
)
"""Settings that a row depends on: those that measuring a leg and choosing its template ask for."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TreatedBones(Value):
    """What a practice's audit starts from."""

    columns: AuditColumns
    """One row for each treated bone."""
    left_out: tuple[LeftOut, ...]
    """Cases with values that cannot be true."""
    invented_left_out: int
    """Invented cases that were not asked for."""


def mark_of(profile: Profile) -> str:
    """What rows were filled by: this program's way and the settings they depend on."""
    settings = json.dumps([getattr(profile, name) for name in DECIDING])
    return f"{ROWS_VERSION}-{hashlib.sha256(settings.encode()).hexdigest()[:16]}"


def keep_bones(connection: Connection, case: Case, profile: Profile) -> None:
    """Fill the rows of a case anew in a transaction; a case that contradicts itself has none."""
    try:
        rows = treated_bones(case, profile)
        columns_of(rows)
    except LimbwrightError as error:
        leave_out(connection, case.id, error, profile)
        return
    _replace(connection, case.id, rows, None, profile)


def leave_out(connection: Connection, case_id: str, error: LimbwrightError, profile: Profile) -> None:
    """Note why a case is not counted."""
    said = json.dumps({"found": f"{error.where}: {error.found}", "next_step": error.next_step})
    _replace(connection, case_id, (), said, profile)


def _replace(
    connection: Connection,
    case_id: str,
    rows: tuple[TreatedBone, ...],
    left_out: str | None,
    profile: Profile,
) -> None:
    connection.execute(delete(TREATED_BONE).where(TREATED_BONE.c.case_id == case_id))
    if rows:
        kept = [{"position": number, **_row(row)} for number, row in enumerate(rows)]
        connection.execute(insert(TREATED_BONE), kept)
    mark = {"audit_mark": mark_of(profile), "audit_left_out": left_out}
    connection.execute(update(CASE_RECORD).where(CASE_RECORD.c.id == case_id).values(mark))


def _row(bone: TreatedBone) -> dict[str, Any]:
    row = {f.name: getattr(bone, f.name) for f in fields(bone)}
    released = row["calf_release"]
    return {**row, "calf_release": None if released is None else int(released)}


def bones_of(connection: Connection, *, invented: bool) -> TreatedBones:
    """All rows as columns."""
    record, bone = CASE_RECORD.c, TREATED_BONE.c
    wanted = names()
    query = select(*(bone[name] for name in wanted)).order_by(bone.case_id, bone.position)
    refused = select(record.id, record.audit_left_out).where(record.audit_left_out.is_not(None))
    unwanted = 0
    if not invented:
        query = query.join(CASE_RECORD, record.id == bone.case_id).where(~record.invented)
        refused = refused.where(~record.invented)
        count = select(func.count()).select_from(CASE_RECORD).where(record.invented)
        unwanted = connection.execute(count).scalar_one()
    # As the driver has them: turning 50,000 rows into Python values one by one is most of the time.
    rows = connection.execute(query).cursor.fetchall()
    columns = dict(zip(wanted, zip(*rows, strict=True) if rows else ((),) * len(wanted), strict=True))
    made: dict[str, Any] = {name: np.array(columns.pop(name), dtype=np.str_) for name in _TEXTS}
    made["operated_on"] = np.array(columns.pop("operated_on"), dtype="datetime64[D]")
    made["healed"] = np.array(columns.pop("healed"), dtype=np.bool_)
    made |= {name: np.array(values, dtype=np.float64) for name, values in columns.items()}
    return TreatedBones(
        columns=AuditColumns(**made),
        left_out=tuple(
            LeftOut(case_id=case_id, **json.loads(said))
            for case_id, said in connection.execute(refused).all()
        ),
        invented_left_out=unwanted,
    )


_TEXTS = ("case_id", "bone", "entry", "level")
