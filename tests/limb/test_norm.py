import pytest

from limbwright.limb.norm import norm_for_age, norm_of
from limbwright.limb.reading import ABOVE_RANGE, Measure
from limbwright.published import Status


def test_out_of_range_is_signed_and_zero_inside():
    norm = norm_of("MPTA")
    assert norm.out_of_range(85) == 0
    assert norm.out_of_range(90) == 0
    assert norm.out_of_range(92.5) == pytest.approx(2.5)
    assert norm.out_of_range(80) == pytest.approx(-5)
    assert norm.source.status is Status.MEMORY


def test_a_norm_without_range_gives_no_deviation():
    assert norm_of("HKA").out_of_range(9) is None


def test_every_mean_lies_in_its_range():
    for measure in Measure:
        norm = norm_of(measure)
        if norm is not None and norm.low is not None:
            assert norm.low <= norm.mean <= norm.high
            assert measure in ABOVE_RANGE or measure is Measure.AMA


def test_lengths_have_no_norm_and_say_so():
    assert norm_for_age("femur length", age_years=40) == (None, "no normal range is published for it here")
