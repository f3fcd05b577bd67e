from datetime import date

import pytest

from limbwright.course.amendment import Amendment
from limbwright.course.prescription import Phase, PhaseKind, Prescription
from limbwright.course.schedule import DayKind, last_distraction_day, schedule
from limbwright.error import Contradiction, OutOfRange
from limbwright.limb.anatomy import Bone

OPERATION = date(2026, 3, 2)
STEADY = Phase(kind=PhaseKind.STEADY, step_mm=0.25, steps_per_day=4)


def prescribed(target_mm=20.0):
    return Prescription(
        bone=Bone.TIBIA, latency_days=5, phases=(STEADY,), target_mm=target_mm, film_interval_days=14
    )


def test_from_its_first_day_on_the_change_counts_and_before_it_nothing_changes():
    change = Amendment(
        from_day=11,
        phases=(Phase(kind=PhaseKind.STEADY, step_mm=0.25, steps_per_day=2),),
        target_mm=20.0,
        gained_mm=4.0,
    )
    plain, days = schedule(prescribed(), OPERATION), schedule(prescribed(), OPERATION, (change,))
    assert days[:11] == plain[:11]
    # one millimetre was missed: 16 mm are left at 0.5 mm a day, 32 days from day 11 on
    assert (days[10].gained_mm, days[11].gained_mm) == (5.0, 4.5)
    assert last_distraction_day(days).number == 42
    assert days[42].gained_mm == 20.0


def test_a_later_change_replaces_an_earlier_one():
    slow = Amendment(
        from_day=8,
        phases=(Phase(kind=PhaseKind.STEADY, step_mm=0.25, steps_per_day=2),),
        target_mm=20.0,
        gained_mm=2.0,
    )
    stop = Amendment(from_day=13, target_mm=4.5, gained_mm=4.5)
    days = schedule(prescribed(), OPERATION, (slow, stop))
    assert [d.gained_mm for d in days[7:14]] == [2.0, 2.5, 3.0, 3.5, 4.0, 4.5, 4.5]
    assert last_distraction_day(days).number == 12


def test_reverse_gives_back_what_was_gained_before_the_change():
    back = Amendment(
        from_day=11,
        phases=(Phase(kind=PhaseKind.REVERSE, days=3, step_mm=0.25, steps_per_day=4),),
        target_mm=2.0,
        gained_mm=5.0,
    )
    days = schedule(prescribed(), OPERATION, (back,))
    assert [(d.kind, d.gained_mm) for d in days[11:14]] == [
        (DayKind.REVERSE, 4.0),
        (DayKind.REVERSE, 3.0),
        (DayKind.REVERSE, 2.0),
    ]


def test_films_are_counted_anew_where_the_interval_changes():
    change = Amendment(from_day=15, phases=(STEADY,), target_mm=20.0, gained_mm=9.0, film_interval_days=7)
    days = schedule(prescribed(), OPERATION, (change,))
    assert [d.number for d in days if d.film] == [14, 21, 28]


def test_a_change_after_the_end_of_the_schedule_starts_on_its_day():
    change = Amendment(from_day=40, phases=(STEADY,), target_mm=22.0, gained_mm=20.0)
    days = schedule(prescribed(), OPERATION, (change,))
    assert [d.gained_mm for d in days[39:42]] == [20.0, 21.0, 22.0]
    assert {d.kind for d in days[29:40]} == {DayKind.AFTER}


@pytest.mark.parametrize(
    ("values", "error", "message"),
    [
        ({"from_day": 0}, OutOfRange, r"from_day is 0 days, expected 1"),
        ({"target_mm": 400.0}, OutOfRange, r"target_mm is 400 mm"),
        ({"gained_mm": -80.0}, OutOfRange, r"gained_mm is -80 mm"),
        ({"film_interval_days": 0}, OutOfRange, r"film_interval_days is 0 days"),
        ({"phases": (STEADY, STEADY)}, Contradiction, r"phase 1 of 2 has no end"),
    ],
)
def test_impossible_changes_are_refused(values, error, message):
    with pytest.raises(error, match=message):
        Amendment(**{"from_day": 10, "target_mm": 20.0, "gained_mm": 5.0} | values)
