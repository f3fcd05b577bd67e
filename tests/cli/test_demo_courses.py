"""The three invented courses, played visit by visit: the advice changes when it should and not before."""

from datetime import date

import pytest

from limbwright.case.document import case_from_json, case_to_json
from limbwright.case.followed import followed_case
from limbwright.cli.demo_courses import DEMO_COURSES, OPERATED_ON, SMOOTH, TIGHT, VALGUS
from limbwright.course.advice.said import Pace
from limbwright.implant.shipped import shipped_catalogue
from limbwright.practice.profile import Profile


@pytest.fixture(scope="module")
def nail():
    return next(n for n in shipped_catalogue().nails if n.name == "T-10.7/305")


def played(demo, nail):
    """Pace and findings at each visit, seen on its day."""
    case = demo.case(Profile(), nail)
    for visit in case.course.visits:
        (bone,) = followed_case(case, Profile(), on=visit.seen_on).bones
        day = (visit.seen_on - OPERATED_ON).days
        yield day, bone.advice.pace, [f.id for f in bone.findings]


def test_a_smooth_course_is_kept_and_then_carries(nail):
    assert list(played(SMOOTH, nail)) == [
        (14, Pace.KEEP, ["advice-keep"]),
        (28, Pace.KEEP, ["advice-keep"]),
        (42, Pace.KEEP, ["advice-keep"]),
        (56, Pace.KEEP, []),
        (84, Pace.KEEP, []),
        (112, Pace.KEEP, ["weight-more-can-be-considered"]),
        (140, Pace.KEEP, ["weight-full-can-be-considered"]),
    ]


def test_drift_into_valgus_is_foretold_on_day_42_and_beyond_the_limit_on_day_56(nail):
    assert list(played(VALGUS, nail)) == [
        (14, Pace.KEEP, ["advice-keep"]),
        (28, Pace.KEEP, ["drift-not-told-from-noise", "advice-keep"]),
        (42, Pace.KEEP, ["drift-will-cross", "advice-film-sooner", "advice-keep"]),
        (56, Pace.HOLD, ["drift-beyond-limit", "advice-hold", "advice-film-sooner"]),
        (70, Pace.KEEP, ["drift-beyond-limit"]),
    ]


def test_the_foretold_day_lies_between_the_visit_and_the_one_that_finds_it(nail):
    case = VALGUS.case(Profile(), nail)
    (bone,) = followed_case(case, Profile(), on=date(2026, 4, 27)).bones
    frontal = bone.standing.drift[0]
    assert 42 < frontal.crossing_day <= 56


def test_a_tight_ankle_and_slow_new_bone_slow_then_hold_and_a_lesser_goal_is_weighed(nail):
    watched = ["ankle-tight", "new-bone-slow", "advice-slow", "advice-film-sooner"]
    assert list(played(TIGHT, nail)) == [
        (14, Pace.KEEP, ["advice-keep"]),
        (28, Pace.KEEP, ["advice-keep"]),
        (42, Pace.SLOW, watched),
        (56, Pace.SLOW, [*watched, "advice-lesser-goal"]),
        (
            70,
            Pace.HOLD,
            [
                "equinus-beyond-limit",
                "advice-hold",
                "new-bone-poor",
                "advice-film-sooner",
                "advice-lesser-goal",
            ],
        ),
    ]


@pytest.mark.parametrize("demo", DEMO_COURSES, ids=lambda d: d.id)
def test_they_are_case_files_marked_as_invented(demo, nail):
    case = demo.case(Profile(), nail)
    assert case.invented
    assert case_from_json(case_to_json(case), complete=False) == case
