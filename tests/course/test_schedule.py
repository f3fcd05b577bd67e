from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.course.prescription import Phase, PhaseKind, Prescription
from limbwright.course.schedule import DayKind, film_days, last_distraction_day, schedule, side_by_side
from limbwright.error import Missing, Refused
from limbwright.limb.anatomy import Bone

OPERATION = date(2026, 3, 2)
STEADY = Phase(kind=PhaseKind.STEADY, step_mm=0.25, steps_per_day=3)
STEP_SIZES = (0.05, 0.1, 0.25, 0.33, 0.3333333333333333, 0.5, 1.0)


def prescription(*phases, target_mm=35.0, latency_days=7, film_interval_days=14, bone=Bone.TIBIA):
    return Prescription(
        bone=bone,
        latency_days=latency_days,
        phases=phases or (STEADY,),
        target_mm=target_mm,
        film_interval_days=film_interval_days,
    )


@st.composite
def prescriptions(draw):
    lengthening = st.builds(
        Phase,
        kind=st.sampled_from([PhaseKind.FAST_START, PhaseKind.STEADY]),
        days=st.integers(1, 20),
        step_mm=st.sampled_from(STEP_SIZES),
        steps_per_day=st.integers(1, 6),
    )
    last = st.builds(
        Phase,
        kind=st.just(PhaseKind.STEADY),
        step_mm=st.sampled_from(STEP_SIZES),
        steps_per_day=st.integers(2, 6),
    )
    phases = (*draw(st.lists(lengthening, max_size=3)), draw(last))
    return prescription(
        *phases,
        target_mm=draw(st.integers(10, 800)) / 10,
        latency_days=draw(st.integers(0, 14)),
        film_interval_days=draw(st.integers(1, 30)),
    )


@given(prescriptions())
def test_steps_add_up_to_the_target_within_one_step_and_never_pass_it(prescribed):
    days = schedule(prescribed, OPERATION)
    total = sum(Decimal(str(day.step_mm)) * day.steps for day in days)
    target = Decimal(str(prescribed.target_mm))
    assert 0 <= target - total < Decimal(str(prescribed.phases[-1].step_mm))
    assert days[-1].gained_mm == float(total)


@given(prescriptions())
def test_length_only_grows_and_no_day_is_faster_than_its_phase(prescribed):
    days = schedule(prescribed, OPERATION)
    fastest = max(phase.rate_mm_per_day for phase in prescribed.phases)
    for earlier, later in pairwise(days):
        assert later.gained_mm >= earlier.gained_mm
        assert later.gained_mm - earlier.gained_mm == pytest.approx(later.change_mm)
    assert all(day.change_mm <= fastest + 1e-12 for day in days)


@given(prescriptions())
def test_days_follow_each_other_and_films_keep_their_interval(prescribed):
    days = schedule(prescribed, OPERATION)
    assert [day.number for day in days] == list(range(len(days)))
    assert all(day.on == OPERATION + timedelta(days=day.number) for day in days)
    films = film_days(days)
    last = last_distraction_day(days)
    assert [film.number for film in films] == [
        prescribed.film_interval_days * (i + 1) for i in range(len(films))
    ]
    assert films[-1].number >= last.number > films[-1].number - prescribed.film_interval_days


@given(prescriptions())
def test_nothing_moves_before_the_latency_is_over(prescribed):
    days = schedule(prescribed, OPERATION)
    first = next(day for day in days if day.steps)
    assert first.number == prescribed.latency_days + 1
    assert days[0].kind is DayKind.OPERATION
    assert {day.kind for day in days[1 : first.number]} <= {DayKind.LATENCY}


def test_the_last_day_of_lengthening_carries_only_what_is_left():
    days = schedule(prescription(target_mm=10.0), OPERATION)
    last = last_distraction_day(days)
    assert (last.steps, last.change_mm, last.gained_mm) == (1, 0.25, 10.0)
    assert [day.kind for day in days if day.number > last.number] == [DayKind.AFTER] * (28 - last.number)


def test_a_rest_smaller_than_a_step_is_left():
    days = schedule(prescription(target_mm=10.2), OPERATION)
    assert days[-1].gained_mm == 10.0


def test_phases_that_end_by_days_may_end_short():
    short = Phase(kind=PhaseKind.STEADY, days=5, step_mm=0.25, steps_per_day=3)
    assert schedule(prescription(short), OPERATION)[-1].gained_mm == 3.75


def test_a_hold_waits_and_a_reverse_gives_back():
    days = schedule(
        prescription(
            Phase(kind=PhaseKind.STEADY, days=4, step_mm=0.25, steps_per_day=4),
            Phase(kind=PhaseKind.HOLD, days=3, name="wait"),
            Phase(kind=PhaseKind.REVERSE, days=2, step_mm=0.25, steps_per_day=2),
            STEADY,
            target_mm=6.0,
            latency_days=0,
        ),
        OPERATION,
    )
    assert [day.gained_mm for day in days[:10]] == [0, 1, 2, 3, 4, 4, 4, 4, 3.5, 3]
    assert [day.phase for day in days[5:9]] == ["wait", "wait", "wait", "reverse"]
    assert days[8].change_mm == -0.5
    assert last_distraction_day(days).gained_mm == 6.0


def test_a_reverse_stops_at_the_length_of_the_operation():
    days = schedule(
        prescription(
            Phase(kind=PhaseKind.STEADY, days=1, step_mm=0.25, steps_per_day=2),
            Phase(kind=PhaseKind.REVERSE, days=9, step_mm=0.25, steps_per_day=4),
            latency_days=0,
        ),
        OPERATION,
    )
    assert min(day.gained_mm for day in days) == 0
    assert sum(day.kind is DayKind.REVERSE for day in days) == 1


def test_a_target_below_one_step_lengthens_on_no_day():
    days = schedule(prescription(target_mm=0.2), OPERATION)
    assert not film_days(days)
    with pytest.raises(Missing, match=r"no day of lengthening among 8 days"):
        last_distraction_day(days)


def test_an_endless_schedule_is_refused():
    slow = Phase(kind=PhaseKind.STEADY, step_mm=0.001, steps_per_day=1)
    with pytest.raises(Refused, match=r"longer than 2000 days.*larger steps"):
        schedule(prescription(slow), OPERATION)


def test_two_bones_stand_side_by_side():
    tibia = schedule(prescription(target_mm=10.0), OPERATION)
    femur = schedule(
        prescription(bone=Bone.FEMUR, target_mm=5.0, latency_days=5), OPERATION + timedelta(days=30)
    )
    table = side_by_side(((Bone.TIBIA, tibia), (Bone.FEMUR, femur)))
    assert table[0].on == OPERATION
    assert table[-1].on == max(tibia[-1].on, femur[-1].on)
    assert table[0].days == (tibia[0], None)
    assert table[30].days[1] == femur[0]
    assert table[30].gained_mm == 10.0
    assert table[-1].gained_mm == 15.0
    assert [row.on for row in table] == [OPERATION + timedelta(days=i) for i in range(len(table))]


def test_no_bones_make_an_empty_table():
    assert side_by_side(()) == ()
