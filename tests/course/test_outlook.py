import re
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from limbwright.course import change
from limbwright.course.advice.growth import GrowingLegs, growth, growth_again
from limbwright.course.advice.said import Pace
from limbwright.course.clinical import Clinical
from limbwright.course.course import Course
from limbwright.course.outlook import course_outlook
from limbwright.course.standing import BoneFacts
from limbwright.course.what_if import at_another_rate, what_if
from limbwright.finding import Severity
from limbwright.growth.discrepancy import DiscrepancyKind
from limbwright.growth.growth import Sex
from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import Examination

OPERATION = date(2026, 3, 2)


def day(number):
    return OPERATION + timedelta(days=number)


@pytest.fixture(scope="module")
def facts(nail):
    return {bone: BoneFacts(age_years=30, nail=nail) for bone in (Bone.TIBIA, Bone.FEMUR)}


def tight(up):
    return Clinical(nerves_examined=True, ankle_dorsiflexion_deg=up, knee_extension_loss_deg=0.0)


def test_history_knows_only_what_was_known_then(tibia, facts, profile, visit):
    """Slowed from day 29 on for a tight ankle, which then recovers."""
    slowed = change.amended(
        tibia, change.at_rate(tibia, profile, from_day=29, gained_mm=16.75, rate_mm_per_day=0.5)
    )
    visits = (visit(14, mm=6.2), visit(28, mm=16.6, clinical=tight(-5.0)), visit(42, mm=23.6))
    course = Course(treatments=(slowed,), visits=visits)
    found = course_outlook(course, on=day(45), facts=facts, profile=profile)
    (bone,) = found.bones
    assert [(on, said.pace) for on, said in bone.history] == [
        (day(14), Pace.KEEP),
        (day(28), Pace.SLOW),
        (day(42), Pace.KEEP),
    ]
    assert "0.75 mm a day" in next(f for f in bone.history[1][1].findings if f.id == "advice-slow").words
    assert bone.advice.pace is Pace.KEEP
    # the slower rate is itself worth a word
    assert [f.id for f in found.findings] == ["prescription-slow", "advice-keep"]


def test_a_lesser_goal_comes_with_the_second_troubled_visit(tibia, facts, profile, visit):
    visits = tuple(visit(n, mm=tibia.days()[n].gained_mm, clinical=tight(-5.0)) for n in (14, 28, 42))
    course = Course(treatments=(tibia,), visits=visits)
    (bone,) = course_outlook(course, on=day(42), facts=facts, profile=profile).bones
    assert [said.lesser_goal for _, said in bone.history] == [False, True, True]
    assert bone.advice.lesser_goal
    # on a day between visits the last one still counts once
    (later,) = course_outlook(course, on=day(20), facts=facts, profile=profile).bones
    assert not later.advice.lesser_goal


def test_two_bones_one_operated_on_later(tibia, facts, profile):
    femur = replace(tibia, operated_on=day(100), prescription=replace(tibia.prescription, bone=Bone.FEMUR))
    course = Course(treatments=(tibia, femur))
    first = course_outlook(course, on=day(60), facts=facts, profile=profile)
    assert [b.standing.bone for b in first.bones] == [Bone.TIBIA]
    both = course_outlook(course, on=day(120), facts=facts, profile=profile)
    assert [b.standing.bone for b in both.bones] == [Bone.TIBIA, Bone.FEMUR]
    assert both.together[-1].gained_mm == 70.0


def test_limits_of_the_nail_are_said_with_the_course(tibia, facts, profile, nail):
    short = {Bone.TIBIA: replace(facts[Bone.TIBIA], nail=replace(nail, stroke_mm=30.0))}
    found = course_outlook(Course(treatments=(tibia,)), on=day(10), facts=short, profile=profile)
    assert found.findings[0].id == "prescription-beyond-stroke"
    done = course_outlook(Course(treatments=(tibia,)), on=day(90), facts=short, profile=profile)
    assert done.findings == ()


# what-if


def test_another_rate_moves_target_day_and_not_the_angle_at_full_length(tibia, stand, visit):
    s = stand(tibia, 28, visit(14, mm=6.2, varus=-1.5), visit(28, mm=16.75, varus=-4.0))
    slow, fast = at_another_rate(s, 0.5), at_another_rate(s, 1.0)
    assert slow.before.target_day.likely == 53
    assert (slow.later_days, fast.later_days) == (12, -6)
    assert slow.after.end.varus.value == pytest.approx(slow.before.end.varus.value, abs=0.05)
    assert slow.drift_after[0].crossing_earliest_day > fast.drift_after[0].crossing_earliest_day
    assert [f.id for f in slow.findings] == ["prescription-slow"]
    assert fast.findings == ()
    assert at_another_rate(s, 1.75).findings[0].id == "prescription-faster-than-nail"


def test_a_lesser_goal_heals_sooner_and_drifts_less(tibia, stand, visit):
    s = stand(tibia, 28, visit(14, mm=6.2, varus=-1.5), visit(28, mm=16.75, varus=-4.0))
    less = what_if(s, change.ended(from_day=29, gained_mm=16.75))
    assert abs(less.after.end.varus.value) < abs(less.before.end.varus.value)
    assert less.healing_after.mean_day == pytest.approx(1.675 * 41)
    assert less.after.target_day.likely == 28


def test_nothing_gained_has_no_band(tibia, stand):
    assert what_if(stand(tibia, 3), change.ended(from_day=4, gained_mm=0.0)).healing_after is None


# growth


def legs(**values):
    return GrowingLegs(
        **{
            "treated_leg_mm": 760.0,
            "other_leg_mm": 800.0,
            "discrepancy_sd_mm": 3.0,
            "sex": Sex.MALE,
            "age_years": 14.0,
            "examination": Examination(discrepancy_kind=DiscrepancyKind.CONGENITAL),
        }
        | values
    )


def test_growth_still_to_come_is_projected_with_the_length_gained(profile):
    """Congenital, 40 mm at 14 years: 40 × 1.08 = 43.2 mm at maturity; 35 mm gained leave 8.2 mm."""
    (one,) = growth(legs(), target_mm=35.0, profile=profile)
    assert one.finding.severity is Severity.NOTE
    assert "foreseen 8 ± " in one.finding.words
    (far,) = growth(legs(), target_mm=10.0, profile=profile)
    assert far.finding.severity is Severity.CAUTION
    (over,) = growth(legs(), target_mm=50.0, profile=profile)
    assert "mm longer at maturity" in over.finding.words


def test_an_adult_has_no_growth_to_come(profile):
    assert list(growth(legs(age_years=30.0), target_mm=35.0, profile=profile)) == []


def test_growth_again_counts_what_is_there(profile):
    now = growth_again(legs(), gained_mm=20.0, profile=profile).prediction
    assert now.now_mm == pytest.approx(20.0)
    assert growth_again(legs(), gained_mm=60.0, profile=profile).prediction is None


def test_a_change_decided_at_a_later_visit_is_not_seen_on_the_days_before(tibia, facts, profile, visit):
    slowed = change.amended(
        tibia, change.at_rate(tibia, profile, from_day=29, gained_mm=16.0, rate_mm_per_day=0.5)
    )
    course = Course(treatments=(slowed,), visits=(visit(14, mm=6.0), visit(28, mm=16.0), visit(42, mm=23.0)))

    def rate(number):
        (bone,) = course_outlook(course, on=day(number), facts=facts, profile=profile).bones
        return bone.standing.days[35].change_mm, [a.from_day for a in bone.standing.treatment.amendments]

    assert rate(14) == (0.75, [])
    assert rate(27) == (0.75, [])
    assert rate(28) == (0.5, [29])  # decided on that day
    assert rate(50) == (0.5, [29])
    # without a later visit a change that lies ahead is prescribed and shows
    early = replace(course, visits=course.visits[:1])
    (bone,) = course_outlook(early, on=day(20), facts=facts, profile=profile).bones
    assert bone.standing.days[35].change_mm == 0.5


def test_growth_is_said_once_for_two_bones(tibia, facts, profile):
    femur = replace(tibia, prescription=replace(tibia.prescription, bone=Bone.FEMUR))
    course = Course(treatments=(tibia, femur))
    found = course_outlook(course, on=day(28), facts=facts, profile=profile, legs=legs())
    assert [f.id for f in found.findings].count("growth-still-to-come") == 1


def test_the_example_of_the_page_runs():
    page = (Path(__file__).parents[2] / "docs" / "steering.md").read_text(encoding="utf-8")
    names = {}
    exec(re.search(r"```python\n(.*?)```", page, re.DOTALL)[1], names)
    assert names["ids"][-1] == "advice-keep"
    assert names["tried"].later_days == 12


def test_every_rule_s_finding_stands_on_the_page():
    root = Path(__file__).parents[2]
    page = (root / "docs" / "steering.md").read_text(encoding="utf-8")
    for file in (root / "src" / "limbwright" / "course" / "advice").glob("*.py"):
        for one in re.findall(r'\bid="([a-z-]+)"', file.read_text(encoding="utf-8")):
            assert f"`{one}`" in page, f"{one} of {file.name} is not on the page"
