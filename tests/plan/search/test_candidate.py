from dataclasses import replace

import pytest

from limbwright.plan.search.candidate import NO_NUMBER_DEG, Parts, compared, described, sentence

FIRST = Parts(
    end_off_deg=2.0,
    start_off_deg=0.0,
    mad_off_mm=3.0,
    length_off_mm=0.0,
    overlap_short_mm=5.0,
    level_cost_mm=10.0,
    shift_mm=1.0,
    contact_lost_percent=8.0,
    reamed_mm=1.0,
    screws=1,
)


def test_words_say_what_is_bought_and_what_it_costs() -> None:
    other = replace(FIRST, end_off_deg=1.4, reamed_mm=1.5, screws=3, contact_lost_percent=9.0)
    assert sentence(*compared(other, FIRST)) == (
        "Buys 0.6 deg nearer to the wanted angle at full length; costs 0.5 mm more bone reamed on one side, "
        "2 blocking screws more."
    )
    assert sentence(*compared(FIRST, FIRST)) == "Much the same as the plan."


def test_one_screw_and_the_draws_are_said_in_words() -> None:
    other = replace(FIRST, screws=0, outside_percent=20.0)
    buys, costs = compared(replace(FIRST, outside_percent=32.0), other)
    assert buys == ()
    assert costs == ("1 blocking screw more", "12 of 100 draws fewer inside all tolerances")


def test_a_plan_by_itself_is_described_with_its_numbers() -> None:
    assert "Ends 2.0 deg beside the wanted angle" in described(FIRST)
    assert "with 1 blocking screw; 92 % of the bone ends in contact" in described(FIRST)
    assert described(replace(FIRST, end_off_deg=NO_NUMBER_DEG)).startswith("No number for the drift")


def test_contact_that_is_not_known_is_not_told_and_the_shift_stands_for_it() -> None:
    bare = replace(FIRST, contact_lost_percent=None)
    assert "bone ends shifted by 1.0 mm" in described(bare)
    assert "contact" not in described(bare)
    buys, costs = compared(replace(bare, shift_mm=2.0), FIRST)
    assert (buys, costs) == ((), ("1.0 mm more shift of the bone ends",))
    # Ranked as a bone of usual width would lose it.
    assert bare.array()[6] == pytest.approx(4.0)


def test_what_is_turned_against_a_forecast_is_a_cost() -> None:
    turned = replace(FIRST, end_off_deg=0.8, start_off_deg=1.2)
    buys, costs = compared(turned, FIRST)
    assert buys == ("1.2 deg nearer to the wanted angle at full length",)
    assert costs == ("1.2 deg more turned beyond the aim",)
