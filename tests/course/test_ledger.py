from dataclasses import replace
from datetime import date, timedelta

import pytest

from limbwright.course import change
from limbwright.course.course import Treatment
from limbwright.course.diary import DiaryEntry
from limbwright.course.ledger import ledger
from limbwright.course.visit import GainedLength, Visit
from limbwright.error import Contradiction, OutOfRange
from limbwright.limb.anatomy import Bone

OPERATION = date(2026, 3, 2)


def day(number):
    return OPERATION + timedelta(days=number)


def test_without_a_diary_reported_is_prescribed_and_planned(tibia, profile):
    book = ledger(tibia, (), until=day(60), profile=profile)
    assert len(book.days) == 61
    assert all(d.planned_mm == d.prescribed_mm == d.reported_mm for d in book.days)
    assert (book.missed_steps, book.extra_steps, book.wrong_direction_days) == (0, 0, ())
    assert book.last_measured() is None


def test_missed_doubled_and_wrong_doses(tibia, profile):
    diary = (
        DiaryEntry(on=day(12), steps=0),
        DiaryEntry(on=day(13), steps=6),
        DiaryEntry(on=day(14), steps=-3),
    )
    book = ledger(replace(tibia, diary=diary), (), until=day(14), profile=profile)
    # by day 11: 4 mm; days 12 to 14: 0, +1.5, -0.75
    assert [d.reported_mm for d in book.days[11:]] == [4.0, 4.0, 5.5, 4.75]
    assert book.last.prescribed_mm == 6.25
    assert (book.missed_steps, book.extra_steps) == (3 + 6, 3)
    assert [d.number for d in book.wrong_direction_days] == [14]
    assert [d.written_down for d in book.days[11:]] == [False, True, True, True]


def test_planned_stays_when_the_prescription_changes(tibia, profile):
    slowed = change.amended(
        tibia, change.at_rate(tibia, profile, from_day=20, gained_mm=9.0, rate_mm_per_day=0.5)
    )
    book = ledger(slowed, (), until=day(22), profile=profile)
    assert [d.planned_mm for d in book.days[19:]] == [10.0, 10.75, 11.5, 12.25]
    assert [d.prescribed_mm for d in book.days[19:]] == [10.0, 9.5, 10.0, 10.5]
    assert [d.reported_mm for d in book.days[19:]] == [10.0, 10.5, 11.0, 11.5]


def test_a_reversal_as_prescribed_is_not_the_wrong_direction(tibia, profile):
    back = change.amended(tibia, change.reversed_by(tibia, profile, from_day=20, gained_mm=10.0, back_mm=1.5))
    book = ledger(back, (), until=day(23), profile=profile)
    assert [d.reported_mm for d in book.days[19:]] == [10.0, 9.25, 8.5, 8.5, 8.5]
    assert (book.missed_steps, book.extra_steps, book.wrong_direction_days) == (0, 0, ())


def test_steps_after_the_end_have_the_last_size(tibia, profile):
    more = replace(tibia, diary=(DiaryEntry(on=day(70), steps=2),))
    book = ledger(more, (), until=day(71), profile=profile)
    assert book.last.reported_mm == 35.5
    assert book.extra_steps == 2


def test_films_stand_on_their_day_with_their_uncertainty(tibia, profile):
    visits = (
        Visit(seen_on=day(14), gained=(GainedLength(bone=Bone.TIBIA, measured_mm=5.6),)),
        Visit(seen_on=day(28), gained=(GainedLength(bone=Bone.TIBIA, measured_mm=16.0, measured_sd_mm=0.5),)),
        Visit(seen_on=day(30)),
    )
    book = ledger(tibia, visits, until=day(30), profile=profile)
    assert (book.days[14].measured.value, book.days[14].measured.sd) == (5.6, profile.gap_reading_sd_mm)
    last = book.last_measured()
    assert (last.number, last.measured.sd) == (28, 0.5)


def test_a_diary_out_of_order_or_before_the_operation_is_refused(tibia):
    with pytest.raises(Contradiction, match=r"diary\[1\].on: the diary's 2026-03-12 is listed after"):
        replace(tibia, diary=(DiaryEntry(on=day(11), steps=3), DiaryEntry(on=day(10), steps=3)))
    with pytest.raises(Contradiction, match=r"2026-03-01 lies before the operation"):
        replace(tibia, diary=(DiaryEntry(on=day(-1), steps=3),))
    with pytest.raises(Contradiction, match=r"consolidated_on: 2026-02-25 lies before"):
        replace(tibia, consolidated_on=day(-5))
    with pytest.raises(OutOfRange, match=r"steps is 9999 steps"):
        DiaryEntry(on=day(3), steps=9999)


def test_changes_out_of_order_are_refused(tibia):
    with pytest.raises(Contradiction, match=r"the change for day 20 is listed after the one for day 30"):
        Treatment(
            operated_on=OPERATION,
            prescription=tibia.prescription,
            amendments=(change.ended(from_day=30, gained_mm=9), change.ended(from_day=20, gained_mm=9)),
        )


def test_what_a_visit_says_was_reported_corrects_the_diary(tibia, profile):
    visits = (Visit(seen_on=day(28), gained=(GainedLength(bone=Bone.TIBIA, reported_mm=15.0),)),)
    book = ledger(tibia, visits, until=day(30), profile=profile)
    assert [d.reported_mm for d in book.days[27:]] == [16.0, 15.0, 15.75, 16.5]
    assert (book.days[28].corrected_mm, book.days[28].change_mm) == (-1.75, -1.0)
    assert book.missed_steps == 0
