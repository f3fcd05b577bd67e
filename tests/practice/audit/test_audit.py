"""The whole audit."""

from dataclasses import fields, replace

import numpy as np
import pytest

from limbwright.finding import Severity
from limbwright.practice.audit.audit import practice_audit
from limbwright.practice.audit.funnel import Period
from limbwright.practice.audit.sample import TooFew
from limbwright.practice.profile import Profile


def results_of(audit):
    return (
        *audit.healing_index,
        *audit.adult_healing_index,
        *audit.healing_curves,
        *audit.accuracy,
        *audit.drift,
        audit.calf_release,
        *audit.complications,
    )


def test_every_result_names_its_number_its_cases_and_its_method(practice) -> None:
    columns = practice(600)
    audit = practice_audit(columns, Profile())
    known = set(columns.case_id.tolist())
    for result in results_of(audit):
        assert len(result.cases) == result.n, result
        assert set(result.cases) <= known
        assert len(result.method) > 40
    for funnel in audit.funnels:
        assert sum(p.n for p in funnel.periods) == funnel.n == len(funnel.cases)
    assert (audit.n, len(audit.cases), audit.confidence) == (600, 600, 0.95)


def test_a_small_practice_gets_no_number_at_all(practice) -> None:
    audit = practice_audit(practice(4), Profile())
    answers = [
        getattr(result, field.name)
        for result in results_of(audit)
        for field in fields(result)
        if field.name in {"days_per_cm", "curve", "agreement", "drift", "fit", "rate"}
    ]
    assert len(answers) > 20
    assert all(isinstance(answer, TooFew) for answer in answers)
    assert all(isinstance(funnel.pooled, TooFew) for funnel in audit.funnels)
    assert audit.calf_release.cases


def test_no_case_at_all(practice, blank) -> None:
    audit = practice_audit(blank(0), Profile())
    assert (audit.n, audit.cases, audit.findings) == (0, (), ())


def test_the_order_of_the_rows_does_not_matter(practice) -> None:
    columns = practice(300)
    names = [f.name for f in fields(columns) if not f.name.startswith("_")]
    order = np.random.Generator(np.random.PCG64(9)).permutation(300)
    shuffled = type(columns)(**{name: getattr(columns, name)[order] for name in names})
    one, other = practice_audit(columns, Profile()), practice_audit(shuffled, Profile())
    for a, b in zip(one.healing_index, other.healing_index, strict=True):
        assert (a.group, a.n, set(a.cases)) == (b.group, b.n, set(b.cases))
        if not isinstance(a.days_per_cm, TooFew):
            assert a.days_per_cm.mean == pytest.approx(b.days_per_cm.mean)
    assert one.calf_release.fit.slope == pytest.approx(other.calf_release.fit.slope)


def test_groups_meet_at_the_ages_of_the_profile(practice) -> None:
    profile = replace(Profile(), child_below_age_years=18.0)
    audit = practice_audit(practice(300), profile)
    ages = {r.group.age for r in audit.healing_index if r.group.age}
    assert ages == {"under 18 years", "18 to under 30 years", "30 years and over"}
    assert {r.group.age for r in audit.adult_healing_index} == {"18 years and over"}


def findings(audit, name):
    return [f for f in audit.findings if f.id == name]


def test_unhealed_bones_are_said_to_be_left_out_and_not_said_when_there_are_none(practice, blank) -> None:
    told = findings(practice_audit(practice(300), Profile()), "audit-unhealed-left-out")
    assert [("femur" in f.words, "tibia" in f.words) for f in told] == [(True, False), (False, True)]
    healed = blank(12, healed=True, followed_days=200, gained_mm=50)
    assert findings(practice_audit(healed, Profile()), "audit-unhealed-left-out") == []


def test_separation_is_told_and_not_told_with_overlap(practice, blank) -> None:
    apart = blank(30, gained_mm=np.arange(30.0, 60), calf_release=[0.0] * 15 + [1.0] * 15)
    (told,) = findings(practice_audit(apart, Profile()), "audit-calf-release-separated")
    assert "separation" in told.words
    assert told.numbers[0].value == 44.5
    assert findings(practice_audit(practice(600), Profile()), "audit-calf-release-separated") == []


def test_a_bad_year_is_told_with_its_numbers_and_an_even_practice_is_not(blank) -> None:
    days = np.repeat(np.array(["2023-05-01", "2024-05-01", "2025-05-01"], dtype="datetime64[D]"), 40)
    even = [1.0 if i % 10 == 0 else 0.0 for i in range(120)]
    bad = [*even[:80], *([1.0] * 25 + [0.0] * 15)]
    calm = practice_audit(blank(120, operated_on=days, obstacles=even), Profile())
    assert findings(calm, "audit-period-outside-limits") == []
    told = findings(
        practice_audit(blank(120, operated_on=days, obstacles=bad), Profile()), "audit-period-outside-limits"
    )
    worst = told[0]
    assert worst.severity is Severity.CAUTION
    assert worst.words.startswith("2025: obstacle in 25 of 40 bones (62.5%), far above what chance explains")
    assert "99.8 %" in worst.rule
    assert {f.severity for f in told if "below" in f.words} == {Severity.NOTE}


def test_drift_in_either_plane_counts_and_quarters_are_asked_for(blank) -> None:
    columns = blank(
        24,
        operated_on=np.datetime64("2025-02-01"),
        frontal_drift_deg=[-4.0, 0.0, np.nan, np.nan, *[0.0] * 20],
        sagittal_drift_deg=[np.nan, 5.0, np.nan, 1.0, *[0.0] * 20],
    )
    audit = practice_audit(columns, Profile(), period=Period.QUARTER)
    (drift,) = [f for f in audit.funnels if f.event == "drift beyond 3 deg"]
    (quarter,) = drift.periods
    assert (quarter.period, quarter.n) == ("2025-Q1", 23)
    assert quarter.cases_with == ("case 0", "case 1")
