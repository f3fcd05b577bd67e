from dataclasses import replace

import pytest

from limbwright.course import change
from limbwright.course.prescription import PhaseKind
from limbwright.course.schedule import DayKind, last_distraction_day, side_by_side
from limbwright.error import Refused
from limbwright.limb.anatomy import Bone


def test_missed_doses_are_made_up_at_the_end(tibia):
    """10 mm are prescribed by day 19; 8.5 mm are there: two days more at 0.75 mm."""
    assert tibia.days()[19].gained_mm == 10.0
    assert last_distraction_day(tibia.days()).number == 53
    late = change.amended(tibia, change.continued(tibia, from_day=20, gained_mm=8.5))
    assert last_distraction_day(late.days()).number == 55
    assert late.days()[55].gained_mm == 35.0


def test_doubled_doses_shorten_the_rest(tibia):
    early = change.amended(tibia, change.continued(tibia, from_day=20, gained_mm=11.5))
    assert last_distraction_day(early.days()).number == 51


def test_the_running_phase_goes_on_with_the_days_it_has_left(tibia):
    """Day 10 is the third of four days of the fast start."""
    left = change.phases_left(tibia, 10)
    assert [(p.kind, p.days) for p in left] == [(PhaseKind.FAST_START, 2), (PhaseKind.STEADY, None)]
    assert [p.kind for p in change.phases_left(tibia, 30)] == [PhaseKind.STEADY]


def test_a_change_within_latency_keeps_the_rest_of_it(tibia):
    left = change.phases_left(tibia, 5)
    assert [(p.kind, p.days) for p in left] == [
        (PhaseKind.LATENCY, 3),
        (PhaseKind.FAST_START, 4),
        (PhaseKind.STEADY, None),
    ]
    same = change.amended(tibia, change.continued(tibia, from_day=5, gained_mm=0.0))
    assert [d.gained_mm for d in same.days()] == [d.gained_mm for d in tibia.days()]


def test_a_hold_moves_the_end_by_its_days(tibia):
    rested = change.amended(tibia, change.held(tibia, from_day=20, gained_mm=10.0, days=7))
    assert [d.kind for d in rested.days()[20:28]] == [DayKind.HOLD] * 7 + [DayKind.LENGTHENING]
    assert last_distraction_day(rested.days()).number == 60


def test_two_changes_in_turn(tibia, profile):
    slow = change.at_rate(tibia, profile, from_day=20, gained_mm=10.0, rate_mm_per_day=0.5)
    slowed = change.amended(tibia, slow)
    assert slow.phases[0].steps_per_day == 2
    assert last_distraction_day(slowed.days()).number == 69
    again = change.amended(slowed, change.held(slowed, from_day=30, gained_mm=15.0, days=5))
    assert [p.steps_per_day for p in again.amendments[-1].phases] == [0, 2]
    # 20 mm at 0.5 mm a day from day 35 on
    assert last_distraction_day(again.days()).number == 74


def test_a_change_replaces_those_that_were_to_begin_later(tibia):
    later = change.amended(tibia, change.ended(from_day=40, gained_mm=25.0))
    sooner = change.amended(later, change.ended(from_day=30, gained_mm=17.5))
    assert [a.from_day for a in sooner.amendments] == [30]


def test_reversal_stops_after_its_millimetres(tibia, profile):
    back = change.amended(tibia, change.reversed_by(tibia, profile, from_day=20, gained_mm=10.0, back_mm=3.0))
    assert [d.gained_mm for d in back.days()[19:25]] == [10.0, 9.25, 8.5, 7.75, 7.0, 7.0]
    assert back.target_mm == 7.0


def test_the_accordion_turns_and_ends_where_it_began(tibia, profile):
    one = change.accordion(tibia, profile, from_day=54, gained_mm=35.0, turn_days=7)
    # 47 days in turns of 7 and 7: three pairs
    assert [p.kind for p in one.phases] == [PhaseKind.ACCORDION_SHORTER, PhaseKind.ACCORDION_LONGER] * 3
    days = change.amended(tibia, one).days()
    assert min(d.gained_mm for d in days[54:]) == pytest.approx(35.0 - 7 * 0.75)
    assert days[-1].gained_mm == 35.0
    assert max(d.gained_mm for d in days) == 35.0


def test_an_accordion_deeper_than_the_gap_is_refused(tibia, profile):
    with pytest.raises(Refused, match=r"14 days at 0.75 mm shorten by 10.5 mm, and only 5 mm"):
        change.accordion(tibia, profile, from_day=20, gained_mm=5.0, turn_days=14)


@pytest.mark.parametrize(("rate", "steps"), [(0.5, 2), (0.75, 3), (1.25, 5), (0.1, 1), (0.99, 3)])
def test_steps_come_nearest_from_below(profile, rate, steps):
    assert change.steps_for(rate, profile) == steps


def test_two_bones_one_of_them_changed(tibia):
    femur = replace(tibia, prescription=replace(tibia.prescription, bone=Bone.FEMUR))
    stopped = change.amended(femur, change.ended(from_day=20, gained_mm=10.0))
    both = side_by_side(((Bone.TIBIA, tibia.days()), (Bone.FEMUR, stopped.days())))
    assert both[19].gained_mm == 20.0
    assert both[-1].gained_mm == 45.0
