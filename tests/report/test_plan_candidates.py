"""Plans worth comparing and how sure the end is, as the operation plan prints them."""

from datetime import date
from typing import Any

import pytest

from limbwright.case.candidates import case_candidates, case_uncertainty
from limbwright.case.forecast import case_ahead
from limbwright.course.schedule import schedule
from limbwright.implant.shipped import shipped_catalogue
from limbwright.plan.forecast.forecast import Sampling
from limbwright.plan.forecast.forecast_finding import NOT_VALIDATED
from limbwright.plan.uncertainty.uncertainty import Draws
from limbwright.practice.profile import Profile
from limbwright.report import words
from limbwright.report.operation_plan import printed_operation_plan
from limbwright.report.plan_candidates import comparison_table, sureness

FEW = Draws(count=256)


@pytest.fixture(scope="module")
def found(shown: Any) -> Any:
    made = case_candidates(shown.case, shown.planned, Profile(), shipped_catalogue(), draws_of=FEW)
    assert made is not None
    return made


@pytest.fixture(scope="module")
def sure(shown: Any) -> Any:
    ahead = case_ahead(shown.case, shown.planned, Profile(), sampling=Sampling(count=0))
    made = case_uncertainty(shown.case, shown.planned, ahead, Profile(), draws_of=FEW)
    assert made is not None
    return made


def test_the_plan_stands_first_and_each_candidate_says_what_it_buys_and_costs(found: Any) -> None:
    table = comparison_table(found)
    assert [row[0] for row in table.rows] == [
        "this plan",
        *(f"candidate {i + 1}" for i in range(len(found.candidates))),
    ]
    assert table.rows[0][3].startswith("Ends ")
    assert all(row[3].startswith("Buys ") for row in table.rows[1:])
    assert all("of 100" in row[2] for row in table.rows)
    assert NOT_VALIDATED in table.note


def test_every_tolerance_has_its_bar_and_what_its_spread_comes_from(sure: Any) -> None:
    made = sureness(sure)
    assert f"{100 * sure.inside_all:.0f} of 100" in made.title
    rows = {row.name: row for row in made.rows}
    assert set(rows) == set(sure.results)
    for criterion in sure.criteria:
        row = rows[criterion.name]
        assert row.inside == f"{100 * criterion.probability:.0f} of 100"
        assert row.bar is not None
        assert row.bar.low < row.bar.normal_low < row.bar.normal_high < row.bar.high
        assert row.comes_from
    assert made.again.startswith("Worth measuring again: ")
    assert NOT_VALIDATED in made.note


def test_very_many_are_told_in_powers_of_ten() -> None:
    assert words.count(1_234_567) == "1,234,567"
    assert words.count(23_600_000_000) == "2.4 × 10¹⁰"


def test_it_is_typeset(shown: Any, found: Any, sure: Any) -> None:
    day = date(2026, 3, 16)
    printed = {
        "schedules": tuple(schedule(p, day) for p in shown.planned.prescriptions),
        "pictures": {},
        "printed_on": day,
    }
    plain, full = (
        printed_operation_plan(shown.case, shown.planned, Profile(), **printed, **more)
        for more in ({}, {"found": found, "sure": sure})
    )
    assert full.startswith(b"%PDF-")
    assert len(full) > len(plain)
