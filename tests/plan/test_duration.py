import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.plan.duration import distraction_days, duration
from limbwright.practice.by_bone import Rhythm
from limbwright.quantity import Measured

TIBIA = Rhythm(step_mm=0.25, fast_start_days=4, fast_start_steps_per_day=4, steady_steps_per_day=3)
PLAIN = Rhythm(step_mm=0.25, fast_start_days=0, fast_start_steps_per_day=4, steady_steps_per_day=4)
INDEX = Measured(value=41.0, sd=17.4, unit="days/cm")


def test_fast_start_then_steady() -> None:
    # 35 mm are 140 steps: 16 in four days, 124 at three a day in 42 days.
    assert distraction_days(35, TIBIA) == 46
    assert distraction_days(3, TIBIA) == 3
    assert distraction_days(0, TIBIA) == 0


def test_whole_steps_but_for_rounding_take_no_extra_day() -> None:
    assert distraction_days(0.1 * 3 * 10 / 3, PLAIN) == 1
    assert distraction_days(50, PLAIN) == 50


@given(a=st.floats(0, 120), b=st.floats(0, 120))
def test_more_length_never_takes_fewer_days(a: float, b: float) -> None:
    low, high = sorted((a, b))
    assert distraction_days(low, TIBIA) <= distraction_days(high, TIBIA)


@given(length=st.floats(0.25, 120))
def test_the_days_gain_the_length_and_one_day_less_does_not(length: float) -> None:
    days = distraction_days(length, TIBIA)
    gained = [0.25 * (4 * min(d, 4) + 3 * max(0, d - 4)) for d in (days - 1, days)]
    assert gained[0] < length <= gained[1] + 1e-9


def test_the_healing_index_is_counted_from_the_operation() -> None:
    d = duration(lengthening_mm=50, latency_days=7, rhythm=TIBIA, healing_index=INDEX)
    assert d.healed_typical_day == pytest.approx(205)
    assert d.healed_high_day == pytest.approx(292)
    assert d.healed_low_day == pytest.approx(118)
    assert d.lengthened_day == 7 + d.distraction_days


def test_nothing_heals_before_the_last_step() -> None:
    quick = Measured(value=10, sd=8, unit="days/cm")
    d = duration(lengthening_mm=50, latency_days=7, rhythm=TIBIA, healing_index=quick)
    assert d.healed_low_day == d.healed_typical_day == d.lengthened_day
