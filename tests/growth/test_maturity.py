"""May a nail pass the physis."""

from typing import Any

import pytest

from limbwright.error import OutOfRange
from limbwright.finding import Severity, worst
from limbwright.growth.growth import Physis, Sex
from limbwright.growth.maturity import Basis, Maturity, PhysisReading, maturity
from limbwright.limb.anatomy import Bone


def judged(**changes: Any) -> Maturity:
    given_values: dict[str, Any] = {
        "bone": Bone.TIBIA,
        "retrograde": False,
        "sex": Sex.FEMALE,
        "age_years": 17,
        "limit_years": 14,
        "disagreement_years": 1,
    }
    return maturity(**(given_values | changes))


def ids(found: Maturity) -> list[str]:
    return [f.id for f in found.findings]


def test_grown_by_calendar_age() -> None:
    found = judged()
    assert (found.open, found.basis, found.physis) == (False, Basis.CALENDAR_AGE, Physis.PROXIMAL_TIBIA)
    assert found.findings == ()
    assert [g.by_rate_mm for g in found.growth] == [0, 0, 0, 0]


def test_too_young_by_calendar_age_is_a_stop() -> None:
    found = judged(age_years=11)
    assert found.open
    assert ids(found) == ["physis-open"]
    assert worst(found.findings) is Severity.STOP
    assert "proximal tibia physis" in found.findings[0].words
    assert "the calendar age is 11.0 years, below 14 years (female)" in found.findings[0].words
    assert found.growth[2].by_rate_mm == pytest.approx(18)


def test_near_the_limit_a_skeletal_age_is_wanted() -> None:
    assert ids(judged(age_years=14.5)) == ["skeletal-age-wanted"]
    assert ids(judged(age_years=14.5, skeletal_age_years=14.5)) == []


def test_skeletal_age_wins_both_ways() -> None:
    young = judged(age_years=15, skeletal_age_years=12.5)
    assert young.open
    assert young.basis is Basis.SKELETAL_AGE
    assert ids(young) == ["physis-open", "skeletal-age-differs"]
    assert "2.5 years behind the calendar age" in young.findings[1].words
    old = judged(age_years=13.2, skeletal_age_years=14.4)
    assert not old.open
    assert ids(old) == ["skeletal-age-differs"]
    assert "1.2 years ahead of the calendar age" in old.findings[0].words
    assert ids(judged(age_years=13.5, skeletal_age_years=14.4)) == []


def test_a_film_of_the_physis_wins_over_ages() -> None:
    still_open = judged(age_years=17, physis_reading=PhysisReading.OPEN)
    assert still_open.open
    assert still_open.basis is Basis.FILM
    assert ids(still_open) == ["physis-open", "physis-film-against-age"]
    assert "a film shows it open" in still_open.findings[0].words
    closed = judged(age_years=13.5, skeletal_age_years=13.5, physis_reading=PhysisReading.CLOSED)
    assert not closed.open
    assert ids(closed) == ["physis-film-against-age"]
    assert "but the skeletal age is 13.5 years" in closed.findings[0].words
    assert ids(judged(physis_reading=PhysisReading.CLOSED)) == []


def test_a_femoral_nail_passes_its_own_physis() -> None:
    retrograde = judged(bone=Bone.FEMUR, retrograde=True, age_years=12)
    assert retrograde.physis is Physis.DISTAL_FEMUR
    antegrade = judged(bone=Bone.FEMUR, age_years=12)
    assert antegrade.physis is Physis.PROXIMAL_FEMUR
    assert "beside the physis" in antegrade.findings[0].next_step


def test_growth_left_follows_the_bones_that_are_known() -> None:
    found = judged(age_years=12, skeletal_age_years=12, tibia_length_mm=320)
    by_multiplier = [g.by_multiplier_mm for g in found.growth]
    assert by_multiplier[:2] == [None, None]
    assert by_multiplier[2:] == pytest.approx([0.57 * 320 * 0.07, 0.43 * 320 * 0.07])


def test_impossible_ages_are_refused() -> None:
    with pytest.raises(OutOfRange, match="skeletal age is -2 years"):
        judged(skeletal_age_years=-2)
    with pytest.raises(OutOfRange, match="age limit is 5 years, expected 8 to 20 years"):
        judged(limit_years=5)
