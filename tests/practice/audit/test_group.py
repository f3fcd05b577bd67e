"""Groups of treated bones."""

import numpy as np
import pytest

from limbwright.practice.audit.group import By, Group, age_labels, groups


def found(columns, *by, cuts=(16.0, 30.0)):
    rows = np.arange(len(columns))
    return {
        group.words: members.tolist() for group, members in groups(columns, rows, by, age_cuts_years=cuts)
    }


def test_ages_meet_at_the_cuts_and_the_cut_belongs_to_the_older(blank) -> None:
    columns = blank(5, age_years=[15.9, 16, 29.9, 30, np.nan])
    assert found(columns, By.AGE) == {
        "under 16 years": [0],
        "16 to under 30 years": [1, 2],
        "30 years and over": [3],
    }


def test_every_combination_that_occurs_is_listed_once_in_order(blank) -> None:
    columns = blank(
        4,
        bone=["tibia", "femur", "femur", "tibia"],
        entry=["antegrade", "retrograde", "antegrade", ""],
        level=["middle shaft"] * 4,
    )
    assert found(columns, By.BONE, By.ENTRY) == {
        "femur, antegrade": [2],
        "femur, retrograde": [1],
        "tibia, antegrade": [0],
    }
    assert found(columns, By.BONE, By.LEVEL) == {"femur, middle shaft": [1, 2], "tibia, middle shaft": [0, 3]}
    assert found(columns) == {"all bones": [0, 1, 2, 3]}


def test_groups_part_the_rows_that_are_known(practice) -> None:
    columns = practice(500)
    parts = found(columns, By.BONE, By.AGE, By.LEVEL)
    assert sorted(row for members in parts.values() for row in members) == list(range(500))


def test_no_rows_no_groups(blank) -> None:
    assert found(blank(0), By.BONE) == {}


@pytest.mark.parametrize(
    ("cuts", "labels"),
    [((), ("all ages",)), ((18.0,), ("under 18 years", "18 years and over"))],
)
def test_age_labels(cuts, labels) -> None:
    assert age_labels(cuts) == labels


def test_a_group_without_respect_is_all_bones() -> None:
    assert Group().words == "all bones"
