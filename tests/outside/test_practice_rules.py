"""Defaults of the practice profile against published figures and common practice."""

import pint
import pytest

from limbwright.limb.anatomy import Bone
from limbwright.practice.by_bone import healing_index_days_per_cm, latency_days, rhythm, weight_limit_kg
from limbwright.practice.profile import Profile
from limbwright.quantity import kg_from_lb, lb_from_kg, mm_from_inch

UNITS = pint.UnitRegistry()


@pytest.mark.parametrize(("diameter_mm", "limit_lb"), [(8.5, 30), (10.7, 50), (12.5, 70)])
def test_weight_limits_by_diameter(diameter_mm: float, limit_lb: float) -> None:
    """30, 50 and 70 lb at 8.5, 10.7 and 12.5 mm: common practice, no source. Pounds by pint."""
    expected_kg = UNITS.Quantity(limit_lb, "pound").to("kg").magnitude
    assert weight_limit_kg(Profile(), thick_diameter_mm=diameter_mm) == pytest.approx(expected_kg, abs=0.01)
    assert kg_from_lb(limit_lb) == pytest.approx(expected_kg, rel=1e-12)
    assert lb_from_kg(expected_kg) == pytest.approx(limit_lb, rel=1e-12)


@pytest.mark.parametrize("inches", [0.25, 3 / 8, 1, 12])
def test_inches_by_pint(inches: float) -> None:
    assert mm_from_inch(inches) == pytest.approx(UNITS.Quantity(inches, "inch").to("mm").magnitude, rel=1e-12)


def test_tibial_distraction() -> None:
    """7 days' latency, 0.25 mm four times a day for 4 days, then three times: common practice, no source."""
    assert latency_days(Profile(), bone=Bone.TIBIA, age_years=30) == 7
    tibia = rhythm(Profile(), bone=Bone.TIBIA)
    assert tibia.step_mm == 0.25
    assert (tibia.fast_start_days, tibia.fast_start_steps_per_day, tibia.steady_steps_per_day) == (4, 4, 3)


def test_femoral_distraction_is_one_millimetre_a_day_in_four_steps() -> None:
    """1 mm a day: Fragomen et al., HSS J 2018 (14:166), read. Four steps: Ilizarov 1989 (239:263), read."""
    femur = rhythm(Profile(), bone=Bone.FEMUR)
    assert femur.step_mm * femur.steady_steps_per_day == 1.0
    assert femur.steady_steps_per_day == 4


def test_rates_lie_between_early_bridging_and_poor_new_bone() -> None:
    """0.5 mm a day often bridges early (Ilizarov 1989, dog tibia, read); above 1.5 mm a day new bone is
    insufficient 9.1 times as often (Kenawey et al. 2011, PMC3008908, read)."""
    profile = Profile()
    assert profile.premature_consolidation_rate_mm_per_day == 0.5
    assert profile.max_rate_mm_per_day == 1.5
    for bone in (Bone.FEMUR, Bone.TIBIA):
        found = rhythm(profile, bone=bone)
        for steps in (found.fast_start_steps_per_day, found.steady_steps_per_day):
            assert 0.5 < steps * found.step_mm <= 1.5


@pytest.mark.parametrize(
    ("bone", "retrograde", "lengthening_mm", "mean_days", "sd_days"),
    [
        (Bone.FEMUR, False, 50, 122.5, 47.5),
        (Bone.FEMUR, True, 50, 167.5, 72.5),
        (Bone.TIBIA, False, 50, 205.0, 87.0),
    ],
)
def test_days_to_consolidation(
    bone: Bone, retrograde: bool, lengthening_mm: float, mean_days: float, sd_days: float
) -> None:
    """24.5 ± 9.5, 33.5 ± 14.5 and 41.0 ± 17.4 days/cm: Bone healing index and complications of a magnetic
    internal lengthening nail: a retrospective series of 286 bone lengthening events (abstract read)."""
    index = healing_index_days_per_cm(Profile(), bone=bone, retrograde=retrograde, age_years=30)
    assert index.value * lengthening_mm / 10 == pytest.approx(mean_days, abs=0.1)
    assert index.sd * lengthening_mm / 10 == pytest.approx(sd_days, abs=0.1)


def test_a_calf_release_is_foreseen_before_its_odds_rise() -> None:
    """Odds 4.13 above 42 mm and 3.88 above 13 % of the tibia; equinus over 10 degrees while lengthening, over
    0 before or after: Rozbruch et al., Clin Orthop Relat Res 2014 (read). 40 mm: common practice, no source.
    """
    profile = Profile()
    assert profile.calf_release_lengthening_mm == 40
    assert profile.calf_release_percent_of_tibia == 13
    assert profile.calf_release_percent_of_tibia < 100 * 45 / 340  # both flags at 45 mm of a 340 mm tibia
    assert (profile.equinus_limit_lengthening_deg, profile.equinus_limit_resting_deg) == (10, 0)


def test_malleolus_alert() -> None:
    """5 mm of proximal migration goes with valgus tilt of the talus: Park et al. 2011 (93:294), read."""
    assert Profile().malleolus_migration_alert_mm == 5


def test_healed_cortex() -> None:
    """Pixel value ratio 0.90 healed, 0.82 at the visit before: Vulcano et al. 2018 (26:e388), read."""
    profile = Profile()
    assert profile.pixel_value_ratio_healed == 0.90
    assert profile.pixel_value_ratio_immature < 0.82 < profile.pixel_value_ratio_healed


def test_planning_margins_and_ages() -> None:
    """Overlap 50 mm, exposed thin part 30 mm, films every 14 days, tibial nail from 14 (girls) and 16 years
    (boys): common practice, no source."""
    profile = Profile()
    assert (profile.overlap_mm, profile.exposed_thin_mm) == (50, 30)
    assert profile.film_interval_lengthening_days == 14
    assert (profile.tibial_nail_min_age_girl_years, profile.tibial_nail_min_age_boy_years) == (14, 16)
