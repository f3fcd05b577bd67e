"""The calendar file against RFC 5545 and general-purpose readers."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from dateutil.rrule import rrulestr
from icalendar import Calendar

from limbwright.course.course import Treatment
from limbwright.course.prescription import default_prescription
from limbwright.course.schedule import DayKind, film_days, schedule
from limbwright.interop.calendar import calendar_file, schedule_events
from limbwright.limb.anatomy import Bone
from limbwright.practice.profile import Profile

STAMP = datetime(2026, 2, 20, 9, 30, tzinfo=UTC)
TREATMENTS = [
    Treatment(
        # Both the short month and, where clocks change, the short day lie within the lengthening.
        operated_on=date(2028, 2, 21),
        prescription=default_prescription(Profile(), bone=bone, age_years=30, target_mm=target_mm),
    )
    for bone, target_mm in ((Bone.TIBIA, 35.0), (Bone.TIBIA, 10.1), (Bone.FEMUR, 62.3))
]


def expanded(event):
    """Days of an event by dateutil's recurrence rules (an independent implementation of RFC 5545, 3.3.10)."""
    start = event["dtstart"].dt
    moment = start if isinstance(start, datetime) else datetime.combine(start, time())
    if "rrule" not in event:
        return [moment]
    return list(rrulestr(event["rrule"].to_ical().decode(), dtstart=moment))


@pytest.mark.parametrize("treatment", TREATMENTS)
def test_the_steps_of_every_day_are_those_of_the_table(treatment):
    """Reader: icalendar; recurrence: python-dateutil."""
    data = calendar_file(schedule_events("demo", treatment), stamped_at=STAMP)
    steps, films = {}, []
    for event in Calendar.from_ical(data).walk("VEVENT"):
        summary = str(event["summary"])
        if summary.startswith("Film"):
            films += [day.date() for day in expanded(event)]
        elif summary.startswith("Lengthen"):
            count = int(summary.split(": ")[1].split(maxsplit=1)[0])
            assert not steps.keys() & {day.date() for day in expanded(event)}
            steps |= {day.date(): count for day in expanded(event)}
    days = schedule(treatment.prescription, treatment.operated_on)
    assert steps == {day.on: day.steps for day in days if day.kind is DayKind.LENGTHENING}
    assert films == [day.on for day in film_days(days)]


@pytest.mark.parametrize("treatment", TREATMENTS)
def test_timed_steps_are_as_many_as_the_table_has(treatment):
    """Reader: icalendar; recurrence: python-dateutil. Times keep to the patient's clock."""
    times = (time(7, 30), time(12), time(17), time(21, 45))
    data = calendar_file(schedule_events("demo", treatment, step_times=times), stamped_at=STAMP)
    moments = [
        moment
        for event in Calendar.from_ical(data).walk("VEVENT")
        if str(event["summary"]).startswith("Lengthen")
        for moment in expanded(event)
    ]
    days = schedule(treatment.prescription, treatment.operated_on)
    assert sorted(moments) == [
        datetime.combine(day.on, times[rank]) for day in days for rank in range(day.steps)
    ]


def test_lines_are_folded_and_ended_as_the_standard_says():
    """RFC 5545, section 3.1: lines end with CRLF and hold at most 75 octets without it; a folded line goes on
    after one blank (from memory; the icalendar library reads the result back above)."""
    data = calendar_file(schedule_events("demo", TREATMENTS[0]), stamped_at=STAMP)
    assert data.endswith(b"END:VCALENDAR\r\n")
    assert data.count(b"\n") == data.count(b"\r\n") == data.count(b"\r")
    lines = data.split(b"\r\n")
    assert max(len(line) for line in lines) <= 75
    assert any(line.startswith(b" ") for line in lines)
    for line in lines:
        line.decode("utf-8")  # no character is cut in two


def test_required_properties_and_forms():
    """RFC 5545, sections 3.6 and 3.6.1 (from memory): PRODID and VERSION once; UID, DTSTAMP in every event,
    DTSTAMP in UTC; a date as DTSTART has a date as DTEND, which is exclusive."""
    calendar = Calendar.from_ical(calendar_file(schedule_events("demo", TREATMENTS[0]), stamped_at=STAMP))
    assert calendar["version"] == "2.0"
    assert calendar["prodid"]
    events = calendar.walk("VEVENT")
    assert events
    for event in events:
        assert event["uid"]
        assert event["dtstamp"].to_ical() == b"20260220T093000Z"
        assert event["dtend"].dt - event["dtstart"].dt == timedelta(days=1)
        assert event["dtstart"].params["VALUE"] == "DATE"
        assert event["sequence"] == 0
