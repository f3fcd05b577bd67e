from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from limbwright.course import state_model
from limbwright.course.alignment import Alignment
from limbwright.course.diary import DiaryEntry
from limbwright.course.kalman import predicted
from limbwright.course.ledger import ledger
from limbwright.course.new_bone import CortexReading, NewBone
from limbwright.course.state import estimate
from limbwright.course.state_model import Expectation, moved, over_days, start_of_course
from limbwright.course.visit import GainedLength, Visit
from limbwright.error import Missing
from limbwright.limb.anatomy import Bone
from limbwright.limb.view import Border
from limbwright.plan.drift import Drift
from limbwright.quantity import VARUS_VALGUS, directed

OPERATION = date(2026, 3, 2)
EXPECTED = Expectation(bone=Bone.TIBIA, age_years=30, target_mm=35)


def visit(number, *, mm=None, varus=None, ratio=None, **more):
    return Visit(
        seen_on=OPERATION + timedelta(days=number),
        gained=() if mm is None else (GainedLength(bone=Bone.TIBIA, measured_mm=mm),),
        alignment=()
        if varus is None
        else (Alignment(bone=Bone.TIBIA, frontal=directed(varus, unit="deg", senses=VARUS_VALGUS)),),
        new_bone=()
        if ratio is None
        else (
            NewBone(
                bone=Bone.TIBIA,
                cortices=(CortexReading(cortex=Border.MEDIAL, pixel_value_ratio=ratio),),
            ),
        ),
        **more,
    )


def estimated(treatment, visits, profile, *, until, expected=EXPECTED):
    book = ledger(treatment, visits, until=OPERATION + timedelta(days=until), profile=profile)
    return estimate(treatment, visits, book, profile, expected)


def test_before_any_visit_the_diary_is_believed(tibia, profile):
    found = estimated(tibia, (), profile, until=28)
    assert found.now.length.value == pytest.approx(16.75)
    assert found.now.length.sd == pytest.approx(np.hypot(0.04 * 16.75, 0.08 * np.sqrt(16.75)), rel=1e-6)
    assert (found.now.varus.value, found.at_visits) == (0.0, ())
    assert found.now.varus.sd > 1


def test_a_film_is_weighed_against_the_diary(tibia, profile):
    found = estimated(tibia, (visit(28, mm=14.75),), profile, until=28)
    assert 14.75 < found.now.length.value < 16.75
    assert found.now.given_per_mm.value < 0.98
    assert found.now.length.sd < 0.6


def test_a_nail_that_keeps_giving_too_little_is_found(tibia, profile):
    visits = tuple(visit(n, mm=0.85 * tibia.days()[n].gained_mm) for n in (14, 28, 42))
    found = estimated(tibia, visits, profile, until=42)
    assert 0.85 < found.now.given_per_mm.value < 0.93
    assert found.now.given_per_mm.interval95()[1] < 1


def test_growing_valgus_is_found_although_each_reading_is_noisy(tibia, profile):
    visits = tuple(visit(n, varus=v) for n, v in ((14, -0.5), (28, -2.0), (42, -3.2)))
    found = estimated(tibia, visits, profile, until=42)
    assert found.now.varus.value == pytest.approx(-1.85, abs=0.2)
    assert found.now.varus_per_mm.value < -0.05
    # drawn toward none, which is what most bones do; the error of the first film never goes away
    assert found.now.varus.sd > 0.8


def test_looking_back_knows_more_than_was_known(tibia, profile):
    visits = tuple(visit(n, varus=v) for n, v in ((14, 1.0), (28, -2.0), (42, -3.2)))
    found = estimated(tibia, visits, profile, until=42)
    assert [s.day for s in found.looking_back] == [14, 28, 42]
    assert found.looking_back[0].varus.value < found.at_visits[0].varus.value
    assert found.looking_back[0].varus.sd < found.at_visits[0].varus.sd
    assert found.looking_back[-1].varus.value == pytest.approx(found.at_visits[-1].varus.value)


def test_new_bone_rises_with_what_is_seen(tibia, profile):
    slow = estimated(tibia, (visit(42, ratio=0.70), visit(56, ratio=0.70)), profile, until=56)
    good = estimated(tibia, (visit(42, ratio=0.80), visit(56, ratio=0.84)), profile, until=56)
    assert slow.now.ratio_per_day.value < good.now.ratio_per_day.value
    assert slow.now.ratio.value < 0.75 < good.now.ratio.value


def test_the_first_expectation_is_the_healing_index_and_the_plan_s_drift(profile):
    start = start_of_course(replace(EXPECTED, drift=Drift(varus_deg=-3.5, procurvatum_deg=1.75)), profile)
    assert start.mean[state_model.VARUS_PER_MM] == pytest.approx(-0.1)
    assert start.mean[state_model.PROCURVATUM_PER_MM] == pytest.approx(0.05)
    # 41 days/cm, 3.5 cm: from 0.74 to 0.90 in 143.5 days
    assert start.mean[state_model.RISE] == pytest.approx(0.16 / 143.5)
    assert start.covariance[9, 9] ** 0.5 == pytest.approx(0.16 / 143.5 * 17.4 / 41)


@pytest.mark.parametrize("retrograde", [False, True])
def test_a_femur_has_its_own_drift_and_healing(profile, retrograde):
    femur = replace(EXPECTED, bone=Bone.FEMUR, retrograde=retrograde)
    assert state_model.drift_per_mm_sd(femur)[0] == (0.058 if retrograde else 0.063)
    rise = start_of_course(femur, profile).mean[state_model.RISE]
    assert rise > start_of_course(EXPECTED, profile).mean[state_model.RISE]


def test_days_taken_together_are_days_taken_one_by_one(profile):
    start = start_of_course(EXPECTED, profile)
    changes = (0.0, 1.0, 1.0, 0.75, -0.75, -0.75, 0.0, 0.5)
    whole = predicted(start, over_days(changes))
    belief = start
    for change in changes:
        belief = predicted(belief, moved(change, 1))
    assert whole.mean == pytest.approx(belief.mean)
    assert whole.covariance == pytest.approx(belief.covariance)


def test_the_diary_moves_the_estimate(tibia, profile):
    missed = tuple(DiaryEntry(on=OPERATION + timedelta(days=n), steps=0) for n in range(20, 24))
    found = estimated(replace(tibia, diary=missed), (), profile, until=28)
    assert found.now.length.value == pytest.approx(16.75 - 3.0)


def test_later_visits_wait(tibia, profile):
    found = estimated(tibia, (visit(14, mm=6.0), visit(42, mm=20.0)), profile, until=28)
    assert [s.day for s in found.at_visits] == [14]


def test_an_unknown_number_is_named():
    with pytest.raises(Missing, match=r"no number 'drift_per_mm_sd' for fibula"):
        state_model.model_number("drift_per_mm_sd", Bone.FIBULA)


def test_the_drift_rows_are_derived_as_their_readme_says():
    from statistics import NormalDist

    for share, bone, entry in (
        (5 / 55, Bone.TIBIA, ""),
        (8 / 164, Bone.FEMUR, "antegrade"),
        (2 / 67, Bone.FEMUR, "retrograde"),
    ):
        z = NormalDist().inv_cdf(1 - share / 2)
        found = state_model.model_number("drift_per_mm_sd", bone, entry)[0]
        assert found == pytest.approx(5 / (40 * z), abs=0.0006)
