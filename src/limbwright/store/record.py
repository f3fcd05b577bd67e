"""The list of cases: a row filled from the document, and the question that a page asks of all rows."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import Engine, Row, Select, func, or_, select

from limbwright.case.case import Case
from limbwright.limb.anatomy import Side
from limbwright.practice.profile import Profile
from limbwright.quantity import Value
from limbwright.store.conflict import Version
from limbwright.store.engine import reading
from limbwright.store.listing import (
    LISTING_VERSION,
    Due,
    Milestones,
    Stage,
    Step,
    due_on,
    listing,
    stage_on,
)
from limbwright.store.schema import CASE_RECORD

MOST_ROWS = 500


class Order(StrEnum):
    """How the list is sorted."""

    NEWEST_CHANGE = "newest change first"
    NEXT_DUE = "next due first"
    IDENTIFIER = "by identifier"


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseLine(Value):
    """One line of the list of cases, as seen on a day."""

    id: str
    """Identifier of the case."""
    version: int
    """Newest version."""
    side: Side
    """Treated leg."""
    invented: bool
    """True for a demo case."""
    patient: str
    """The patient's pseudonym."""
    diagnosis: str
    """The diagnosis, on one line and shortened."""
    stage: Stage
    """Where the case stands on its time axis on that day."""
    milestones: Milestones
    """Days after the operation."""
    next_due: Due
    """What is due next."""
    next_due_on: date | None
    """When; earlier than the day asked for when it is overdue."""
    stops: int
    """Findings of the accepted plan that have to be resolved."""
    cautions: int
    """Findings of the accepted plan to weigh."""
    notes: int
    """Findings of the accepted plan to know."""
    updated_at: datetime
    """When the newest version was saved."""
    updated_by: str
    """Who saved it."""


def record_of(case: Case, profile: Profile, version: Version) -> dict[str, Any]:
    """The columns of `case_record` for a version of a case, except its identifier."""
    shown = listing(case, profile)
    return {
        "version": version.number,
        "listing_version": LISTING_VERSION,
        "side": shown.side.value,
        "invented": shown.invented,
        "patient": shown.patient,
        "diagnosis": shown.diagnosis,
        "step": shown.step.value,
        "operated_on": shown.milestones.operated_on,
        "first_step_on": shown.milestones.first_step_on,
        "last_step_on": shown.milestones.last_step_on,
        "consolidated_on": shown.milestones.consolidated_on,
        "ended_on": shown.milestones.ended_on,
        "next_due_on": shown.next_due_on,
        "next_due": shown.next_due.value,
        "stops": shown.stops,
        "cautions": shown.cautions,
        "notes": shown.notes,
        "updated_at": version.saved_at,
        "updated_by": version.who,
    }


def case_lines(
    engine: Engine,
    *,
    today: date,
    search: str = "",
    due_by: date | None = None,
    order: Order = Order.NEWEST_CHANGE,
    most: int = MOST_ROWS,
    skip: int = 0,
) -> tuple[CaseLine, ...]:
    """The list of cases as seen on a day.

    Parameters
    ----------
    engine : Engine
        Database.
    today : date
        The day that stages and what is due are told for.
    search : str
        Words that all have to be found in identifier, pseudonym or diagnosis, in any case of letters.
    due_by : date, optional
        Only cases with something due on or before that day.
    order : Order
        How the lines are sorted.
    most, skip : int
        How many lines, after how many.
    """
    c = CASE_RECORD.c
    query: Select[Any] = select(CASE_RECORD)
    for word in search.split():
        pattern = f"%{_escaped(word.lower())}%"
        places = (c.id, c.patient, c.diagnosis)
        query = query.where(or_(*(func.lower(place).like(pattern, escape="\\") for place in places)))
    if due_by is not None:
        query = query.where(or_(c.next_due_on <= due_by, (c.operated_on > today) & (c.operated_on <= due_by)))
    query = query.order_by(*_sorting(order)).limit(min(most, MOST_ROWS)).offset(skip)
    with reading(engine) as connection:
        rows: Sequence[Row[Any]] = connection.execute(query).all()
    return tuple(_line(row, today) for row in rows)


def _sorting(order: Order) -> tuple[Any, ...]:
    c = CASE_RECORD.c
    match order:
        case Order.NEXT_DUE:
            return (c.next_due_on.is_(None), c.next_due_on, c.id)
        case Order.IDENTIFIER:
            return (c.id,)
        case Order.NEWEST_CHANGE:
            return (c.updated_at.desc(), c.id)


def _escaped(word: str) -> str:
    return word.replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_")


def _line(row: Row[Any], today: date) -> CaseLine:
    days = Milestones(
        operated_on=row.operated_on,
        first_step_on=row.first_step_on,
        last_step_on=row.last_step_on,
        consolidated_on=row.consolidated_on,
        ended_on=row.ended_on,
    )
    due, day = due_on(Due(row.next_due), row.next_due_on, days, today)
    return CaseLine(
        id=row.id,
        version=row.version,
        side=Side(row.side),
        invented=row.invented,
        patient=row.patient,
        diagnosis=row.diagnosis,
        stage=stage_on(Step(row.step), days, today),
        milestones=days,
        next_due=due,
        next_due_on=day,
        stops=row.stops,
        cautions=row.cautions,
        notes=row.notes,
        updated_at=row.updated_at,
        updated_by=row.updated_by,
    )
