"""Bands of the forecast against courses simulated day by day, by loops that share nothing with the model."""

from datetime import date, timedelta

import numpy as np
import pytest

from limbwright.course import change
from limbwright.course.forecast import forecast, healed_days
from limbwright.course.kalman import filtered, predicted
from limbwright.course.ledger import ledger
from limbwright.course.state import estimate
from limbwright.course.state_model import (
    LENGTH,
    PROCURVATUM,
    RATIO,
    VARUS,
    Expectation,
    over_days,
    reading,
    start_of_course,
)
from limbwright.course.visit import GainedLength, Visit
from limbwright.limb.anatomy import Bone

OPERATION = date(2026, 3, 2)
EXPECTED = Expectation(bone=Bone.TIBIA, age_years=30, target_mm=35)


def simulated(rng, steps_mm, count, profile):
    """Length, varus, procurvatum, ratio of `count` bones, day by day, as the table's numbers say."""
    days = len(steps_mm)
    given = rng.normal(1, 0.04, count)
    rate = rng.normal(0, 0.074, (2, count))
    ratio_rate = 0.16 / 143.5 * rng.normal(1, 17.4 / 41, count)
    length, angle, ratio = np.zeros(count), np.zeros((2, count)), rng.normal(0.74, 0.05, count)
    out = np.zeros((days, 4, count))
    for day, u in enumerate(steps_mm):
        if day:
            a = np.sqrt(abs(u))
            length = length + given * u + 0.08 * a * rng.normal(size=count)
            angle = angle + rate * u
            angle += np.hypot(0.05 * a, 0.02) * rng.normal(size=(2, count))
            rate = rate + 0.004 * a * rng.normal(size=(2, count))
            ratio = ratio + ratio_rate + 0.002 * rng.normal(size=count)
        out[day] = length, angle[0], angle[1], ratio
    return out


def test_bands_hold_what_they_promise_on_a_thousand_courses(tibia, profile):
    rng = np.random.Generator(np.random.PCG64(20260302))
    count, seen, horizon = 1000, (14, 28, 42), 600
    days = tibia.days()
    steps = [d.change_mm for d in days] + [0.0] * (horizon - len(days))
    end = 53
    truth = simulated(rng, steps, count, profile)
    first_error = rng.normal(0, profile.angle_reading_sd_deg, (2, count))
    between = tuple(over_days(tuple(steps[a + 1 : b + 1])) for a, b in ((0, 14), (14, 28), (28, 42)))
    to_end = over_days(tuple(steps[43 : end + 1]))
    start = start_of_course(EXPECTED, profile)
    inside = np.zeros(4)
    healed_inside = np.zeros(count, dtype=bool)
    middle_after = np.zeros(count, dtype=bool)
    for i in range(count):
        readings = [None]
        for day in seen:
            length, varus, procurvatum, ratio = truth[day, :, i]
            noise = rng.normal(size=4)
            readings.append(
                reading(
                    length=(length + 0.9 * noise[0], 0.9),
                    varus=(varus + first_error[0, i] + 1.4 * noise[1], 1.4),
                    procurvatum=(procurvatum + first_error[1, i] + 1.4 * noise[2], 1.4),
                    ratio=(ratio + 0.03 * noise[3], 0.03),
                )
            )
        belief = filtered(start, between, tuple(readings)).updated[-1]
        last = predicted(belief, to_end)
        for part, index in enumerate((LENGTH, VARUS, PROCURVATUM, RATIO)):
            sd = np.sqrt(last.covariance[index, index])
            inside[part] += abs(truth[end, part, i] - last.mean[index]) < 1.959964 * sd
        when = healed_days(belief, 42, end, profile)
        reached = np.flatnonzero(truth[end:, 3, i] >= 0.90)
        healed = end + reached[0] if len(reached) else 10_000
        healed_inside[i] = when.early <= healed <= (when.late or 20_000)
        middle_after[i] = healed <= (when.likely or 20_000)
    share = inside / count
    # four standard errors of a share of 0.95 in 1,000
    assert share == pytest.approx(np.full(4, 0.95), abs=0.0276)
    # a path crosses a level a little before its day-by-day mean does
    assert 0.92 < healed_inside.mean() < 0.98
    assert 0.44 < middle_after.mean() < 0.56


def test_bands_too_narrow_would_be_seen(tibia, profile):
    """The same bones, whose drift was underrated by half: the test above can fail."""
    rng = np.random.Generator(np.random.PCG64(1))
    steps = [d.change_mm for d in tibia.days()]
    truth = simulated(rng, steps, 1000, profile)
    belief = predicted(start_of_course(EXPECTED, profile), over_days(tuple(steps[1:54])))
    sd = np.sqrt(belief.covariance[VARUS, VARUS])
    assert np.mean(abs(truth[53, 1]) < 1.96 * sd) == pytest.approx(0.95, abs=0.0276)
    assert np.mean(abs(truth[53, 1]) < 1.96 * sd / 2) < 0.75


def ahead(treatment, profile, until, visits=()):
    book = ledger(treatment, visits, until=OPERATION + timedelta(days=until), profile=profile)
    found = estimate(treatment, visits, book, profile, EXPECTED)
    return forecast(found.belief, until, treatment.days(), profile, target_mm=treatment.target_mm)


def test_as_prescribed_the_target_is_reached_on_the_prescribed_day(tibia, profile):
    found = ahead(tibia, profile, 28)
    assert found.days[0].number == 28
    assert found.days[0].on == OPERATION + timedelta(days=28)
    assert (found.end.number, found.target_day.likely) == (53, 53)
    assert found.target_day.early < 53
    # the tibia's healing index: 143 days, and a wide band
    assert 125 < found.healed_day.likely < 160
    assert found.healed_day.early < 110
    assert found.healed_day.late > 250
    assert found.days[-1].number >= found.healed_day.likely


def test_a_short_nail_makes_the_target_unlikely(tibia, profile):
    visits = tuple(
        Visit(
            seen_on=OPERATION + timedelta(days=n),
            gained=(GainedLength(bone=Bone.TIBIA, measured_mm=0.8 * tibia.days()[n].gained_mm),),
        )
        for n in (14, 28, 42)
    )
    found = ahead(tibia, profile, 42, visits)
    assert found.target_day.likely is None
    assert found.end.length.interval95()[1] < 35


def test_healing_is_never_before_the_last_lengthening(tibia, profile):
    book = ledger(tibia, (), until=OPERATION, profile=profile)
    belief = estimate(tibia, (), book, profile, EXPECTED).belief
    belief.mean[RATIO] = 1.2
    assert healed_days(belief, 0, 53, profile).early == 53


def test_slower_means_later(tibia, profile):
    slowed = change.amended(
        tibia, change.at_rate(tibia, profile, from_day=29, gained_mm=16.75, rate_mm_per_day=0.5)
    )
    assert ahead(slowed, profile, 28).target_day.likely == 65
    assert ahead(slowed, profile, 28).end.number == 65


def test_after_lengthening_the_end_is_today(tibia, profile):
    found = ahead(tibia, profile, 100)
    assert found.end.number == 100
    assert found.end is found.days[0]
