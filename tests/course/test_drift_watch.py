from datetime import date, timedelta

import pytest

from limbwright.course.alignment import Alignment
from limbwright.course.drift_watch import drift_watch
from limbwright.course.forecast import forecast
from limbwright.course.ledger import ledger
from limbwright.course.state import estimate
from limbwright.course.state_model import Expectation
from limbwright.course.visit import Visit
from limbwright.limb.anatomy import Bone, Projection
from limbwright.quantity import PROCURVATUM_RECURVATUM, VARUS_VALGUS, Sense, directed

OPERATION = date(2026, 3, 2)


def watched(treatment, profile, until, *readings):
    """Readings as (day, varus, procurvatum)."""
    visits = tuple(
        Visit(
            seen_on=OPERATION + timedelta(days=n),
            alignment=(
                Alignment(
                    bone=Bone.TIBIA,
                    frontal=directed(v, unit="deg", senses=VARUS_VALGUS),
                    sagittal=directed(p, unit="deg", senses=PROCURVATUM_RECURVATUM),
                ),
            ),
        )
        for n, v, p in readings
    )
    book = ledger(treatment, visits, until=OPERATION + timedelta(days=until), profile=profile)
    expected = Expectation(bone=Bone.TIBIA, age_years=30, target_mm=35)
    found = estimate(treatment, visits, book, profile, expected)
    ahead = forecast(found.belief, until, treatment.days(), profile, target_mm=35)
    return drift_watch(found.now, ahead, profile)


def test_one_reading_of_two_degrees_is_not_told_from_noise(tibia, profile):
    frontal, sagittal = watched(tibia, profile, 14, (14, -2.0, 0.0))
    assert frontal.projection is Projection.FRONTAL
    assert frontal.direction is Sense.VALGUS
    assert not frontal.real
    assert frontal.real_probability < 0.9
    assert not sagittal.real
    assert sagittal.real_probability == pytest.approx(0.5, abs=0.01)


def test_the_same_growing_from_film_to_film_is_real_and_names_its_day(tibia, profile):
    frontal, _ = watched(tibia, profile, 28, (14, -1.0, 0.0), (28, -3.0, 0.0))
    assert not frontal.real
    frontal, sagittal = watched(tibia, profile, 42, (14, -1.0, 0.0), (28, -3.0, 0.0), (42, -5.0, 0.5))
    assert frontal.real
    assert frontal.crossing_earliest_day == 42
    assert 42 <= frontal.crossing_day <= 53
    assert frontal.crossing_latest_day is None or frontal.crossing_latest_day >= frontal.crossing_day
    assert 25 < frontal.crossing_length_mm <= 35
    assert frontal.beyond_at_end > frontal.beyond_now
    assert frontal.at_end.value < frontal.now.value < 0
    assert sagittal.crossing_day is None
    assert sagittal.beyond_at_end < 0.2


def test_a_steady_leg_crosses_nothing(tibia, profile):
    readings = ((14, 0.4, -0.3), (28, -0.5, 0.2), (42, 0.2, 0.1))
    for plane in watched(tibia, profile, 42, *readings):
        assert not plane.real
        assert (plane.crossing_day, plane.crossing_length_mm) == (None, None)
        assert plane.beyond_at_end < 0.12


def test_not_knowing_is_not_drift(tibia, profile):
    """Before any reading 35 mm of tibia may drift by more than 3 degrees either way, one in eight each."""
    for plane in watched(tibia, profile, 0):
        assert plane.beyond_at_end == pytest.approx(0.13, abs=0.01)
        assert plane.real_probability == 0.5
