import re
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta, timezone
from pathlib import Path
from types import SimpleNamespace

import pytest
from icalendar import Calendar

from limbwright.case.caution import CAUTION
from limbwright.course import change
from limbwright.course.course import Treatment
from limbwright.course.prescription import Phase, PhaseKind, Prescription
from limbwright.error import OutOfRange
from limbwright.interop.calendar import Method, calendar_file, dropped_events, schedule_events
from limbwright.limb.anatomy import Bone

STAMP = datetime(2026, 2, 20, 9, 30, tzinfo=UTC)


def treatment(target_mm=35.0, bone=Bone.TIBIA, phases=None):
    return Treatment(
        operated_on=date(2026, 3, 2),
        prescription=Prescription(
            bone=bone,
            latency_days=7,
            phases=phases
            or (
                Phase(kind=PhaseKind.FAST_START, days=4, step_mm=0.25, steps_per_day=4),
                Phase(kind=PhaseKind.STEADY, step_mm=0.25, steps_per_day=3),
            ),
            target_mm=target_mm,
            film_interval_days=14,
        ),
    )


def events(**changes):
    return schedule_events("case-1", treatment(**changes))


def parsed(data):
    return [Calendar.from_ical(data), Calendar.from_ical(data).walk("VEVENT")][1]


def test_each_run_of_days_is_one_entry_and_the_last_day_stands_out():
    first, second, third, *films, last = events()
    assert (first.summary, first.first_day, first.days) == (
        "Lengthen the tibia: 4 steps of 0.25 mm",
        date(2026, 3, 10),
        4,
    )
    assert (second.summary, second.first_day, second.days) == (
        "Lengthen the tibia: 3 steps of 0.25 mm",
        date(2026, 3, 14),
        41,
    )
    assert (third.summary, third.first_day, third.days) == (
        "Lengthen the tibia: 1 step of 0.25 mm",
        date(2026, 4, 24),
        1,
    )
    assert [film.first_day for film in films] == [
        date(2026, 3, 2) + timedelta(days=n) for n in (14, 28, 42, 56)
    ]
    assert (last.summary, last.first_day) == ("Last day of lengthening the tibia", date(2026, 4, 24))


def test_every_entry_carries_the_caution_and_no_word_about_the_patient():
    for event in parsed(calendar_file(events(), stamped_at=STAMP)):
        assert CAUTION in event["description"]
        assert "case-1" not in event.to_ical().decode()
        assert event["class"] == "PRIVATE"


def test_holds_and_reverses_are_said_in_words():
    phases = (
        Phase(kind=PhaseKind.STEADY, days=4, step_mm=0.25, steps_per_day=4),
        Phase(kind=PhaseKind.HOLD, days=3),
        Phase(kind=PhaseKind.REVERSE, days=2, step_mm=0.25, steps_per_day=2),
        Phase(kind=PhaseKind.STEADY, step_mm=0.25, steps_per_day=3),
    )
    summaries = [event.summary for event in events(phases=phases, target_mm=6.0)]
    assert summaries[1] == "No steps today (tibia)"
    assert summaries[2] == "Shorten the tibia: 2 steps of 0.25 mm"


def test_steps_with_times_are_entries_of_their_own():
    times = (time(8), time(12), time(16), time(20))
    timed = schedule_events("case-1", treatment(), step_times=times)
    assert [(e.at, e.days) for e in timed[:8]] == [
        (time(8), 4),
        (time(12), 4),
        (time(16), 4),
        (time(20), 4),
        (time(8), 41),
        (time(12), 41),
        (time(16), 41),
        (time(8), 1),
    ]
    first = parsed(calendar_file(timed, stamped_at=STAMP))[0]
    assert first["dtstart"].dt == datetime(2026, 3, 10, 8)
    assert first["dtstart"].dt.tzinfo is None
    assert first["summary"] == "Lengthen the tibia: step 1 of 4, 0.25 mm"


def test_too_few_times_are_refused():
    with pytest.raises(OutOfRange, match=r"4 steps a day and 3 times of day.*a time for every step"):
        schedule_events("case-1", treatment(), step_times=(time(8), time(14), time(20)))


def test_identifiers_are_stable_and_differ_by_case_bone_and_role():
    uids = [event.uid for event in events()]
    assert uids == [event.uid for event in events()]
    assert len(set(uids)) == len(uids)
    assert not set(uids) & {event.uid for event in events(bone=Bone.FEMUR)}
    assert not set(uids) & {event.uid for event in schedule_events("case-2", treatment())}
    # Written into calendars that exist: changing how they are made would orphan every entry sent before.
    assert uids[0] == "7130d5a8-578a-5947-9715-e298fe30551b"


def test_a_longer_goal_keeps_the_identifiers_of_what_both_schedules_have():
    before, after = events(target_mm=35.0), events(target_mm=50.0)
    assert {event.uid for event in before} <= {event.uid for event in after}
    assert dropped_events(before, after) == ()
    assert {event.summary for event in dropped_events(after, before)} == {"Film of the tibia"}


def test_updates_count_up_and_cancellations_say_so():
    update = parsed(calendar_file(events(), stamped_at=STAMP, sequence=3))[0]
    assert (update["sequence"], update["status"]) == (3, "CONFIRMED")
    data = calendar_file(events(), stamped_at=STAMP, sequence=4, method=Method.CANCEL)
    assert Calendar.from_ical(data)["method"] == "CANCEL"
    assert {(e["sequence"], e["status"]) for e in parsed(data)} == {(4, "CANCELLED")}
    assert [e["uid"] for e in parsed(data)] == [e.uid for e in events()]


def test_the_time_stamp_is_written_in_utc():
    eastern = datetime(2026, 2, 20, 4, 30, 15, 250_000, tzinfo=timezone(timedelta(hours=-5)))
    assert b"DTSTAMP:20260220T093015Z" in calendar_file(events(), stamped_at=eastern)


def test_an_organizer_is_named_when_the_file_is_sent():
    data = calendar_file(events(), stamped_at=STAMP, organizer_email="clinic@example.org")
    assert {str(event["organizer"]) for event in parsed(data)} == {"mailto:clinic@example.org"}


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"stamped_at": STAMP.replace(tzinfo=None)}, r"2026-02-20T09:30:00 has no time zone"),
        ({"stamped_at": STAMP, "sequence": -1}, r"sequence -1, expected 0 or more"),
    ],
)
def test_impossible_arguments_are_refused(arguments, message):
    with pytest.raises(OutOfRange, match=message):
        calendar_file(events(), **arguments)


def test_importing_the_room_does_not_import_the_calendar_library():
    command = "import sys, limbwright.interop.calendar; sys.exit('icalendar' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", command], check=False).returncode == 0


def test_the_example_of_the_page_runs():
    page = (Path(__file__).parents[2] / "docs" / "calendar.md").read_text(encoding="utf-8")
    names = {"case": SimpleNamespace(id="case-1"), "treatment": treatment()}
    exec(re.search(r"```python\n(.*?)```", page, re.DOTALL)[1], names)
    assert names["events"] == events()
    assert names["data"].startswith(b"BEGIN:VCALENDAR")


def test_a_bone_that_was_never_lengthened_has_no_last_day():
    ended = replace(treatment(), amendments=(change.ended(from_day=3, gained_mm=0.0),))
    assert schedule_events("case-1", ended) == ()


def test_entries_in_german():
    times = (time(8), time(12), time(16), time(20))
    made = schedule_events("case-1", treatment(), step_times=times, language="de")
    first, film, last = made[0], next(e for e in made if "Röntgen" in e.summary), made[-1]
    assert first.summary == "Verlängern, Schienbein: Schritt 1 von 4, 0,25 mm"
    assert "Abschnitt „rascher Beginn“: 4 Schritte von je 0,25 mm am Tag (1 mm am Tag)" in first.description
    assert film.summary == "Röntgenbild: Schienbein"
    assert last.summary == "Letzter Tag der Verlängerung: Schienbein"
    assert all("kein Medizinprodukt" in e.description for e in made)
    # the same entries, whatever the language
    in_english = schedule_events("case-1", treatment(), step_times=times)
    assert [e.uid for e in made] == [e.uid for e in in_english]
    with pytest.raises(OutOfRange, match="language 'xx'"):
        schedule_events("case-1", treatment(), language="xx")
