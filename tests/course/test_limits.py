import re
from datetime import date
from pathlib import Path

import pytest

from limbwright.course.limits import prescription_findings
from limbwright.course.prescription import Phase, PhaseKind, Prescription, default_prescription
from limbwright.course.schedule import schedule
from limbwright.finding import Severity
from limbwright.limb.anatomy import Bone
from limbwright.practice.profile import Profile

OPERATION = date(2026, 3, 2)
PROFILE = Profile()


def findings(prescribed, **limits):
    limits = {"stroke_mm": 80.0, "nail_rate_limit_mm_per_day": 1.5} | limits
    return prescription_findings(prescribed, schedule(prescribed, OPERATION), profile=PROFILE, **limits)


def by_days(step_mm=0.25, steps_per_day=3, days=None, target_mm=35.0):
    return Prescription(
        bone=Bone.TIBIA,
        latency_days=7,
        phases=(Phase(kind=PhaseKind.STEADY, days=days, step_mm=step_mm, steps_per_day=steps_per_day),),
        target_mm=target_mm,
        film_interval_days=14,
    )


@pytest.mark.parametrize("bone", [Bone.FEMUR, Bone.TIBIA])
def test_the_default_prescription_keeps_every_limit(bone):
    assert findings(default_prescription(PROFILE, bone=bone, age_years=30, target_mm=50)) == ()


def test_more_than_the_stroke_stops_and_says_on_which_day():
    (found,) = findings(by_days(target_mm=35.0), stroke_mm=30.0)
    assert (found.id, found.severity) == ("prescription-beyond-stroke", Severity.STOP)
    # 40 full days of 0.75 mm give 30 mm on day 47; the next step is the first beyond.
    assert found.words.endswith("used up on day 48.")
    assert "prescribed 35 mm, and the nail has 30 mm" in found.words


def test_stroke_used_before_counts():
    assert findings(by_days(target_mm=35.0), stroke_mm=50.0, stroke_used_mm=15.0) == ()
    (found,) = findings(by_days(target_mm=35.0), stroke_mm=50.0, stroke_used_mm=20.0)
    assert found.id == "prescription-beyond-stroke"


def test_an_unknown_stroke_is_said():
    (found,) = findings(by_days(), stroke_mm=None)
    assert (found.id, found.severity) == ("prescription-stroke-unknown", Severity.CAUTION)


def test_faster_than_the_nail_and_faster_than_the_practice_stop():
    assert findings(by_days(steps_per_day=6)) == ()
    (nail,) = findings(by_days(steps_per_day=4), nail_rate_limit_mm_per_day=0.9)
    assert (nail.id, nail.severity) == ("prescription-faster-than-nail", Severity.STOP)
    assert "1 mm on one day; the nail's limit is 0.9 mm/day" in nail.words
    (practice,) = findings(by_days(steps_per_day=7), nail_rate_limit_mm_per_day=None)
    assert (practice.id, practice.severity) == ("prescription-faster-than-practice", Severity.STOP)
    assert practice.source.text


def test_a_slow_phase_is_pointed_out():
    (found,) = findings(by_days(steps_per_day=2))
    assert (found.id, found.severity) == ("prescription-slow", Severity.CAUTION)
    assert "0.5 mm/day" in found.words


def test_phases_that_end_short_are_pointed_out():
    (found,) = findings(by_days(days=10))
    assert (found.id, found.severity) == ("prescription-ends-short", Severity.CAUTION)
    assert "end at 7.5 mm, 27.5 mm short of the target of 35 mm" in found.words
    assert findings(by_days(target_mm=35.2)) == ()


def test_stops_stand_before_cautions():
    found = findings(by_days(steps_per_day=2, days=70, target_mm=60), stroke_mm=20.0)
    assert [one.severity for one in found] == [Severity.STOP, Severity.CAUTION, Severity.CAUTION]


def test_the_example_of_the_page_runs():
    page = (Path(__file__).parents[2] / "docs" / "prescription.md").read_text(encoding="utf-8")
    names = {}
    exec(re.search(r"```python\n(.*?)```", page, re.DOTALL)[1], names)
    assert names["last_distraction_day"](names["days"]).number == 53
    assert names["findings"] == ()
