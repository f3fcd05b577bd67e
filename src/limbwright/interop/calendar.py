"""The schedule as an iCalendar file (RFC 5545): steps for each run of days, films, last day of lengthening.

Days are calendar days and times are the patient's own clock (dates, and date-times without a time zone,
RFC 5545 section 3.3.5, form 1): a patient who travels turns at eight in the morning wherever that is.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from itertools import groupby
from typing import TYPE_CHECKING
from uuid import UUID, uuid5

from limbwright import __version__
from limbwright.case.caution import CAUTION
from limbwright.course.course import Treatment
from limbwright.course.patient.translation import Translation, translation
from limbwright.course.schedule import Day, DayKind, film_days, last_distraction_day
from limbwright.error import OutOfRange
from limbwright.limb.anatomy import Bone
from limbwright.quantity import Value

if TYPE_CHECKING:
    from icalendar import Event

UID_NAMESPACE = UUID("5f0f6c1e-3c0b-5b7e-9d52-0f3b6f1f7a11")
"""Namespace of the event identifiers; the same case, bone and role always give the same one."""
PRODUCT = f"-//Limbwright//Lengthening schedule {__version__}//EN"
BONE_WORDS = {Bone.FEMUR: "femur", Bone.TIBIA: "tibia"}
STEP_TAKES = timedelta(minutes=15)


class Method(StrEnum):
    """What a calendar file asks of the calendar that reads it (RFC 5546)."""

    PUBLISH = "PUBLISH"
    CANCEL = "CANCEL"


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarEvent(Value):
    """One entry of the patient's calendar, on one or more days in a row."""

    uid: str
    """Stable identifier: an update or a cancellation finds the entry by it."""
    summary: str
    """One line."""
    description: str
    """What to do, and the caution."""
    first_day: date
    """First day."""
    days: int
    """Number of days in a row."""
    at: time | None = None
    """Time of day on the patient's clock; None for the whole day."""


def schedule_events(
    case_id: str, treatment: Treatment, *, step_times: tuple[time, ...] = (), language: str = "en"
) -> tuple[CalendarEvent, ...]:
    """Calendar entries of one bone's schedule.

    Parameters
    ----------
    case_id : str
        Identifier of the case; it enters the identifiers of the entries only as a digest.
    treatment : Treatment
        Operation date and prescription.
    step_times : tuple of time, optional
        Times of day of the first, second, … step. Without them the steps of a day are one whole-day entry.
    language : str
        ISO 639-1 code of a language of `course.patient.translation`.

    Raises
    ------
    OutOfRange
        If a day has more steps than there are times, or there is no such language.

    Notes
    -----
    A bone whose lengthening ended before its first step has no entry for a last day.
    """
    days = treatment.days()
    bone = treatment.prescription.bone
    t = translation(language)
    named = t.gettext(BONE_WORDS[bone])

    def uid(role: str) -> str:
        return str(uuid5(UID_NAMESPACE, f"{case_id}\n{bone}\n{role}"))

    events: list[CalendarEvent] = []
    for index, run in enumerate(_runs(days)):
        most = max(day.steps for day in run)
        if step_times and most > len(step_times):
            raise OutOfRange(
                f"{most} steps a day and {len(step_times)} times of day.",
                where=f"calendar, {bone}, day {run[0].number}",
                next_step="Give a time for every step of the day.",
            )
        times: tuple[time | None, ...] = step_times[:most] or (None,)
        events += (
            CalendarEvent(
                uid=uid(f"steps {index}" if at is None else f"steps {index} {rank}"),
                summary=_step_summary(t, named, run[0], None if at is None else rank),
                description=_described(t, _step_words(t, run)),
                first_day=run[0].on,
                days=len(run),
                at=at,
            )
            for rank, at in enumerate(times, start=1)
        )
    for index, day in enumerate(film_days(days)):
        events.append(
            CalendarEvent(
                uid=uid(f"film {index}"),
                summary=t.said("Film of the {bone}", bone=named),
                description=_described(
                    t,
                    t.said(
                        "Day {day} after the operation. If every step was made the {bone} has gained {mm} mm "
                        "by the end of this day.",
                        day=str(day.number),
                        bone=named,
                        mm=_mm(t, day.gained_mm),
                    ),
                ),
                first_day=day.on,
                days=1,
            )
        )
    if any(day.change_mm > 0 for day in days):
        events.append(_last_day(t, named, last_distraction_day(days), uid("last day")))
    return tuple(events)


def _last_day(t: Translation, named: str, last: Day, uid: str) -> CalendarEvent:
    return CalendarEvent(
        uid=uid,
        summary=t.said("Last day of lengthening the {bone}", bone=named),
        description=_described(
            t,
            t.said(
                "Day {day} after the operation. After today's steps the {bone} has gained {mm} mm. Make no "
                "more steps unless your surgeon says so.",
                day=str(last.number),
                bone=named,
                mm=_mm(t, last.gained_mm),
            ),
        ),
        first_day=last.on,
        days=1,
    )


def dropped_events(
    before: tuple[CalendarEvent, ...], after: tuple[CalendarEvent, ...]
) -> tuple[CalendarEvent, ...]:
    """Entries that a changed prescription no longer has; send them with `Method.CANCEL`."""
    kept = {event.uid for event in after}
    return tuple(event for event in before if event.uid not in kept)


def calendar_file(
    events: tuple[CalendarEvent, ...],
    *,
    stamped_at: datetime,
    sequence: int = 0,
    method: Method = Method.PUBLISH,
    organizer_email: str | None = None,
) -> bytes:
    """The entries as the bytes of an .ics file.

    Parameters
    ----------
    events : tuple of CalendarEvent
        What to publish, or to cancel.
    stamped_at : datetime
        When the file is made, with its time zone; it is written in UTC.
    sequence : int
        0 for the first publication, one more for every update and for the cancellation (RFC 5545,
        section 3.8.7.4).
    method : Method
        Publish (also to update), or cancel.
    organizer_email : str, optional
        The practice's address; RFC 5546 wants it in files that are sent by mail.

    Raises
    ------
    OutOfRange
        If `stamped_at` has no time zone, or `sequence` is negative.
    """
    from icalendar import Calendar

    if stamped_at.tzinfo is None:
        raise OutOfRange(
            f"{stamped_at.isoformat()} has no time zone.",
            where="calendar, time stamp",
            next_step="Give the moment with its time zone, for example in UTC.",
        )
    if sequence < 0:
        raise OutOfRange(
            f"sequence {sequence}, expected 0 or more.",
            where="calendar, sequence",
            next_step="Count publications of this schedule from 0 upward.",
        )
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", method.value)
    for event in events:
        entry = _component(event)
        entry.add("dtstamp", stamped_at.astimezone(UTC).replace(microsecond=0))
        entry.add("sequence", sequence)
        entry.add("status", "CANCELLED" if method is Method.CANCEL else "CONFIRMED")
        if organizer_email is not None:
            entry.add("organizer", f"mailto:{organizer_email}")
        calendar.add_component(entry)
    return bytes(calendar.to_ical())


def _component(event: CalendarEvent) -> "Event":
    from icalendar import Event

    entry = Event()
    entry.add("uid", event.uid)
    entry.add("summary", event.summary)
    entry.add("description", event.description)
    entry.add("class", "PRIVATE")
    if event.at is None:
        entry.add("dtstart", event.first_day)
        entry.add("dtend", event.first_day + timedelta(days=1))
        entry.add("transp", "TRANSPARENT")
    else:
        start = datetime.combine(event.first_day, event.at)
        entry.add("dtstart", start)
        entry.add("dtend", start + STEP_TAKES)
    if event.days > 1:
        entry.add("rrule", {"freq": "daily", "count": event.days})
    return entry


def _runs(days: tuple[Day, ...]) -> Iterator[tuple[Day, ...]]:
    """Runs of days of a phase on which the patient does the same."""
    phases = (day for day in days if day.kind in {DayKind.LENGTHENING, DayKind.HOLD, DayKind.REVERSE})
    for _, run in groupby(phases, key=lambda day: (day.kind, day.phase, day.steps, day.step_mm)):
        yield tuple(run)


def _step_summary(t: Translation, named: str, day: Day, rank: int | None) -> str:
    if day.kind is DayKind.HOLD:
        return t.said("No steps today ({bone})", bone=named)
    shorten = day.kind is DayKind.REVERSE
    if rank is not None:
        words = (
            t.gettext("Shorten the {bone}: step {rank} of {count}, {step} mm")
            if shorten
            else t.gettext("Lengthen the {bone}: step {rank} of {count}, {step} mm")
        )
        step = _mm(t, day.step_mm)
        return words.format(bone=named, rank=str(rank), count=str(day.steps), step=step)
    words = t.gettext("Shorten the {bone}: {steps}") if shorten else t.gettext("Lengthen the {bone}: {steps}")
    return words.format(bone=named, steps=_steps(t, day))


def _steps(t: Translation, day: Day) -> str:
    if day.steps == 1:
        return t.said("1 step of {step} mm", step=_mm(t, day.step_mm))
    return t.said("{count} steps of {step} mm", count=str(day.steps), step=_mm(t, day.step_mm))


def _step_words(t: Translation, run: tuple[Day, ...]) -> str:
    first, last = run[0], run[-1]
    one = first is last
    span = (
        t.said("Day {day} after the operation", day=str(first.number))
        if one
        else t.said(
            "Days {first} to {last} after the operation", first=str(first.number), last=str(last.number)
        )
    )
    what = t.gettext("no steps")
    if first.steps:
        daily = t.gettext("{steps} ({mm} mm)") if one else t.gettext("{steps} a day ({mm} mm a day)")
        what = daily.format(steps=_steps(t, first), mm=_mm(t, abs(first.change_mm)))
    return t.said(
        "{span}, phase '{phase}': {what}. If every step is made, {mm} mm are gained by the end of {on}.",
        span=span,
        phase=t.gettext(first.phase),
        what=what,
        mm=_mm(t, last.gained_mm),
        on=last.on.isoformat(),
    )


def _mm(t: Translation, value: float) -> str:
    return t.number(value, 3)


def _described(t: Translation, words: str) -> str:
    return f"{words}\n\n{t.gettext(CAUTION)}"
