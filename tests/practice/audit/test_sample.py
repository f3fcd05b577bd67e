"""Intervals and what stands in their place."""

import pytest

from limbwright.practice.audit.sample import Interval, TooFew


@pytest.mark.parametrize(
    ("low", "high", "value", "holds"),
    [(1, 2, 1, True), (1, 2, 2.1, False), (None, 2, -9, True), (1, None, 9, True), (1, None, 0, False)],
)
def test_an_open_end_holds_everything_on_its_side(low, high, value, holds) -> None:
    assert Interval(low=low, high=high).holds(value) is holds


def test_too_few_in_words() -> None:
    assert TooFew(n=7, needed=10, of="tibiae").words == "7 of 10 needed (tibiae)"
