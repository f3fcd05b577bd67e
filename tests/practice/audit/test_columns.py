"""Columns: what they refuse, and that nothing is guessed."""

from dataclasses import fields
from datetime import date

import numpy as np
import pytest

from limbwright.error import Contradiction, OutOfRange
from limbwright.practice.audit.columns import LIMITS, AuditColumns, TreatedBone, columns_of, names


def test_columns_and_rows_have_the_same_names() -> None:
    public = [f.name for f in fields(AuditColumns) if not f.name.startswith("_")]
    assert sorted(public) == sorted(names())
    assert set(LIMITS) < set(names())


def test_what_is_not_recorded_stays_not_recorded() -> None:
    columns = columns_of([TreatedBone(case_id="a", bone="femur"), TreatedBone(case_id="b", bone="tibia")])
    assert len(columns) == 2
    assert np.isnat(columns.operated_on).all()
    for name in LIMITS:
        assert np.isnan(getattr(columns, name)).all(), name
    assert columns.cases(np.arange(2)) == ("a", "b")


def test_rows_become_columns_in_order() -> None:
    rows = [
        TreatedBone(case_id="a", bone="tibia", operated_on=date(2026, 3, 2), calf_release=True, problems=2),
        TreatedBone(case_id="a", bone="femur", healed=True, followed_days=120, gained_mm=-1.5),
    ]
    columns = columns_of(rows)
    assert columns.bone.tolist() == ["tibia", "femur"]
    assert columns.operated_on[0] == np.datetime64("2026-03-02")
    assert columns.healed.tolist() == [False, True]
    assert columns.calf_release[0] == 1
    assert columns.gained_mm[1] == -1.5
    assert columns.cases(np.array([True, True])) == ("a",)


def test_no_rows_are_columns_without_rows() -> None:
    assert len(columns_of([])) == 0


def test_columns_cannot_be_written_to_and_do_not_share_memory(blank) -> None:
    ages = np.array([20.0, 30.0])
    columns = blank(2, age_years=ages)
    ages[0] = 99
    assert columns.age_years[0] == 20
    with pytest.raises(ValueError, match="read-only"):
        columns.age_years[0] = 1


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"bone": ["tibia", "humerus"]}, r"column bone, case 'case 1': 'humerus', expected femur or tibia"),
        ({"entry": ["", "lateral"]}, r"column entry.*expected antegrade or retrograde"),
        ({"level": ["", "knee"]}, r"column level.*'knee'"),
        ({"age_years": [30, 130]}, r"column age_years, case 'case 1': 130 years, expected 0 to 120 years"),
        ({"followed_days": [-1, 10]}, r"column followed_days, case 'case 0': -1 days"),
        ({"gained_mm": [np.inf, 0]}, r"column gained_mm.*inf mm"),
        ({"blocking_screws": [1, 1.5]}, r"column blocking_screws.*a whole number, 0 to 20"),
        ({"healed": [True, False]}, r"column followed_days, case 'case 0': consolidated, but not after how"),
        ({"bone": "femur", "calf_release": [1, np.nan]}, r"a calf release entered for a femur"),
    ],
)
def test_what_cannot_be_is_refused_with_its_case(blank, given, words) -> None:
    with pytest.raises(OutOfRange, match=words):
        blank(2, **given)


def test_a_column_of_another_length_is_refused(blank) -> None:
    with pytest.raises(Contradiction, match=r"column age_years has shape \(3,\), the case ids have \(2,\)"):
        blank(2, age_years=np.array([1.0, 2.0, 3.0]))
