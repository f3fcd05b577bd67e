"""Own results offered to the profile, and applied only when asked."""

from dataclasses import replace

import numpy as np
import pytest

from limbwright.error import Contradiction
from limbwright.practice.audit.audit import practice_audit
from limbwright.practice.audit.offer import offered_settings, with_offers
from limbwright.practice.profile import Profile


def offers_of(columns, profile=None):
    profile = profile or Profile()
    return {o.setting: o for o in offered_settings(practice_audit(columns, profile), profile)}


def test_what_is_offered_rests_on_adults_and_names_both_values(practice) -> None:
    columns = practice(1500)
    offers = offers_of(columns)
    assert set(offers) == {
        "healing_index_tibia_days_per_cm",
        "healing_index_tibia_sd_days_per_cm",
        "healing_index_femur_antegrade_days_per_cm",
        "healing_index_femur_antegrade_sd_days_per_cm",
        "healing_index_femur_retrograde_days_per_cm",
        "healing_index_femur_retrograde_sd_days_per_cm",
        "calf_release_lengthening_mm",
    }
    tibia = offers["healing_index_tibia_days_per_cm"]
    rows = (columns.bone == "tibia") & columns.healed & (columns.age_years >= 16)
    index = columns.followed_days[rows] / columns.gained_mm[rows] * 10
    assert tibia.n == len(tibia.cases) == int(rows.sum())
    assert tibia.own == pytest.approx(index.mean(), abs=0.05)
    assert tibia.present == Profile().healing_index_tibia_days_per_cm
    assert tibia.interval.holds(float(index.mean()))
    assert f"your {tibia.n} bones (tibia, 16 years and over)" in tibia.why
    assert "not seen to heal are left out" in tibia.why
    calf = offers["calf_release_lengthening_mm"]
    assert calf.own == round(calf.own)
    assert abs(calf.own - 45) <= 2
    assert not calf.present_is_plausible
    assert "lies outside its interval" in calf.why


def test_a_present_value_inside_the_interval_is_said_to_be_plausible(practice) -> None:
    columns = practice(1500)
    own = offers_of(columns)["healing_index_tibia_days_per_cm"].own
    again = offers_of(columns, replace(Profile(), healing_index_tibia_days_per_cm=own))
    assert again["healing_index_tibia_days_per_cm"].present_is_plausible
    assert "do not speak against it" in again["healing_index_tibia_days_per_cm"].why


def test_too_few_bones_offer_nothing(practice) -> None:
    assert offers_of(practice(40)) == {}
    columns = practice(1500)
    assert offers_of(columns, replace(Profile(), audit_min_bones_offer=500)).keys() <= {
        "healing_index_tibia_days_per_cm",
        "healing_index_tibia_sd_days_per_cm",
        "calf_release_lengthening_mm",
    }


def test_offering_leaves_the_profile_as_it_is(practice) -> None:
    profile = Profile()
    offers_of(practice(1500), profile)
    assert profile == Profile()


def test_accepted_offers_make_a_new_profile(practice) -> None:
    profile = Profile()
    offers = offers_of(practice(1500), profile)
    calf = offers["calf_release_lengthening_mm"]
    new = with_offers(profile, [calf])
    assert new.differences() == {"calf_release_lengthening_mm": (calf.own, calf.present)}
    assert profile == Profile()
    assert with_offers(profile, []) == profile


def test_an_offer_made_for_another_value_is_refused(practice) -> None:
    calf = offers_of(practice(1500))["calf_release_lengthening_mm"]
    changed = replace(Profile(), calf_release_lengthening_mm=50.0)
    with pytest.raises(Contradiction, match=r"calf_release_lengthening_mm is 50 mm now; the offer was made"):
        with_offers(changed, [calf])


def test_the_same_setting_twice_is_refused(practice) -> None:
    calf = offers_of(practice(1500))["calf_release_lengthening_mm"]
    with pytest.raises(Contradiction, match="calf_release_lengthening_mm is offered twice"):
        with_offers(Profile(), [calf, calf])


def test_a_release_that_grows_rarer_with_length_offers_no_length(blank) -> None:
    rng = np.random.Generator(np.random.PCG64(8))
    gained = rng.uniform(20, 70, 400)
    rarer = rng.random(400) < 1 / (1 + np.exp((gained - 45) / 5))
    assert offers_of(blank(400, gained_mm=gained, calf_release=rarer.astype(float))) == {}


def test_a_result_that_no_setting_accepts_is_not_offered(blank) -> None:
    rng = np.random.Generator(np.random.PCG64(8))
    columns = blank(60, healed=True, age_years=30, gained_mm=10.0, followed_days=rng.uniform(900, 1500, 60))
    assert offers_of(columns) == {}
