"""Healing index of groups."""

import numpy as np
import pytest

from limbwright.practice.audit.group import By
from limbwright.practice.audit.healing_index import healing_index, healing_indices
from limbwright.practice.audit.sample import TooFew
from limbwright.practice.audit.spread import Spread


def asked(columns, *by, min_n=6, confidence=0.95, among=None):
    return healing_index(
        columns,
        by=by,
        age_cuts_years=(16.0,),
        min_gained_mm=10,
        min_n=min_n,
        confidence=confidence,
        among=among,
    )


def test_index_is_days_over_centimetres(blank) -> None:
    columns = blank(
        4,
        healed=[True, True, False, True],
        followed_days=[205, 122.5, 300, 100],
        gained_mm=[50, 50, 50, 9.9],
    )
    index = healing_indices(columns, min_gained_mm=10)
    assert index[:2].tolist() == [41.0, 24.5]
    assert np.isnan(index[2:]).all()


def test_a_length_that_was_not_read_gives_no_index(blank) -> None:
    columns = blank(1, healed=[True], followed_days=[200])
    assert np.isnan(healing_indices(columns, min_gained_mm=10)).all()


def test_too_few_says_how_many_are_needed_and_gives_no_number(blank) -> None:
    columns = blank(7, healed=[True] * 5 + [False] * 2, followed_days=200, gained_mm=50)
    (only,) = asked(columns, By.BONE, min_n=10)
    assert isinstance(only.days_per_cm, TooFew)
    assert only.days_per_cm.words == "5 of 10 needed (tibia, healed)"
    assert (only.n, only.not_healed) == (5, 2)
    assert only.cases == tuple(f"case {i}" for i in range(5))


def test_one_more_bone_than_too_few_gives_numbers(blank) -> None:
    ten = blank(10, healed=True, followed_days=np.arange(100, 200, 10), gained_mm=50)
    (only,) = asked(ten, By.BONE, min_n=10)
    assert isinstance(only.days_per_cm, Spread)
    assert only.days_per_cm.median == pytest.approx(29)
    assert "10 mm or more" in only.method


def test_a_confidence_that_needs_more_bones_than_the_profile_asks_for(blank) -> None:
    ten = blank(10, healed=True, followed_days=200, gained_mm=50)
    (only,) = asked(ten, By.BONE, min_n=6, confidence=0.999)
    assert isinstance(only.days_per_cm, TooFew)
    assert only.days_per_cm.needed == 11


def test_groups_hold_their_own_bones_only(practice) -> None:
    columns = practice(800)
    for found in asked(columns, By.BONE, By.AGE):
        place = {case: i for i, case in enumerate(columns.case_id.tolist())}
        rows = [place[case] for case in found.cases]
        assert set(columns.bone[rows].tolist()) == {found.group.bone}
        young = columns.age_years[rows] < 16
        assert young.all() if found.group.age.startswith("under") else not young.any()
        index = columns.followed_days[rows] / columns.gained_mm[rows] * 10
        assert found.days_per_cm.median == pytest.approx(np.median(index))


def test_bones_can_be_left_out(practice) -> None:
    columns = practice(400)
    adults = columns.age_years >= 16
    for found in asked(columns, By.BONE, By.AGE, among=adults):
        assert found.group.age == "16 years and over"
