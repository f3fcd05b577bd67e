"""Stages and what is due, from the document and a day."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from limbwright.course.amendment import Amendment
from limbwright.course.prescription import Phase, PhaseKind
from limbwright.course.visit import GainedLength, Visit
from limbwright.limb.anatomy import Bone
from limbwright.practice.document import profile_to_toml
from limbwright.practice.profile import Profile
from limbwright.store.listing import (
    Due,
    Milestones,
    Stage,
    Step,
    listing,
    milestones,
    next_due,
    stage_on,
    step_of,
)
from limbwright.store.practice import Kind

OPERATED = date(2026, 3, 16)


def test_steps_before_the_operation_follow_the_document(invented):
    assert step_of(invented(films=())) is Step.MARKING
    assert step_of(invented(goal=None)) is Step.MEASURED
    assert step_of(invented()) is Step.GOAL


def test_every_step_but_the_last_is_a_stage_of_its_own():
    for step in Step:
        if step is not Step.OPERATED:
            assert stage_on(step, Milestones(), date(2026, 1, 1)).value == step.value


@pytest.mark.parametrize(
    ("day", "stage"),
    [
        (date(2026, 3, 15), Stage.SCHEDULED),
        (date(2026, 3, 16), Stage.LATENCY),
        (date(2026, 3, 23), Stage.LATENCY),  # day 7, the last of the latency
        (date(2026, 3, 24), Stage.LENGTHENING),  # day 8, the first step
        (date(2026, 4, 27), Stage.LENGTHENING),  # day 42: 7 + 35 days at 1 mm a day
        (date(2026, 4, 28), Stage.HEALING),
    ],
)
def test_stages_after_the_operation_follow_the_calendar(invented, course, day, stage):
    case = invented(course=course())
    assert stage_on(step_of(case), milestones(case), day) is stage


def test_the_next_film_stays_due_until_it_has_been_taken(invented, course):
    def due(*visits):
        return next_due(invented(course=course(visits=visits)), Profile())

    def visit(day, measured_mm=None):
        gained = () if measured_mm is None else (GainedLength(bone=Bone.TIBIA, measured_mm=measured_mm),)
        return Visit(seen_on=day, gained=gained)

    assert next_due(invented(), Profile()) == (Due.NOTHING, None)
    assert due() == (Due.FILM, date(2026, 3, 30))
    assert due(visit(date(2026, 3, 30))) == (Due.FILM, date(2026, 3, 30))  # seen, but no film
    assert due(visit(date(2026, 3, 29), 6.0)) == (Due.FILM, date(2026, 4, 13))  # a day early counts
    assert due(visit(date(2026, 3, 20), 0.0)) == (Due.FILM, date(2026, 3, 30))  # ten days early does not
    # Lengthening is over on day 42, April 27: from then on every 28 days until it is healed.
    assert due(visit(date(2026, 4, 30), 35.0)) == (Due.FILM, date(2026, 5, 28))


def test_the_practice_says_how_often_a_healing_bone_is_filmed(store, invented, course):
    profile = replace(Profile(), film_interval_consolidation_days=42)
    store.practice.save(Kind.PROFILE, profile_to_toml(profile), based_on=0, who="a", why="")
    seen = Visit(seen_on=date(2026, 4, 30), gained=(GainedLength(bone=Bone.TIBIA, measured_mm=35.0),))
    store.cases.create(invented(course=course(visits=(seen,))), who="a", why="")
    (line,) = store.listed(today=date(2026, 5, 1))
    assert (line.stage, line.next_due_on) == (Stage.HEALING, date(2026, 6, 11))


def test_healed_and_ended_courses_wait_for_nothing(invented, course):
    healed = course()
    healed = replace(healed, treatments=(replace(healed.treatments[0], consolidated_on=date(2026, 8, 1)),))
    for one, stage in ((healed, Stage.HEALED), (replace(healed, ended_on=date(2026, 9, 1)), Stage.ENDED)):
        case = invented(course=one)
        assert next_due(case, Profile()) == (Due.NOTHING, None)
        assert stage_on(step_of(case), milestones(case), date(2026, 9, 1)) is stage
    assert stage_on(step_of(case), milestones(case), date(2026, 7, 31)) is Stage.HEALING


def test_a_change_of_the_prescription_moves_what_is_due(invented, course):
    amended = course()
    amendment = Amendment(
        from_day=15,
        phases=(Phase(kind=PhaseKind.STEADY, step_mm=0.25, steps_per_day=2),),
        target_mm=35.0,
        gained_mm=7.0,
        film_interval_days=7,
    )
    amended = replace(amended, treatments=(replace(amended.treatments[0], amendments=(amendment,)),))
    seen = Visit(seen_on=date(2026, 3, 30), gained=(GainedLength(bone=Bone.TIBIA, measured_mm=7.0),))
    due, day = next_due(invented(course=replace(amended, visits=(seen,))), Profile())
    assert due is Due.FILM
    assert date(2026, 3, 30) < day <= date(2026, 4, 7)
    # 28 mm at half a millimetre a day from day 15 on: 56 days, the last of them day 70.
    assert milestones(invented(course=amended)).last_step_on == OPERATED + timedelta(days=70)


def test_before_its_day_the_operation_is_due(local_store, invented, course):
    local_store.cases.create(invented(course=course()), who="a", why="")
    (before,) = local_store.listed(today=date(2026, 3, 1))
    assert (before.next_due, before.next_due_on) == (Due.OPERATION, OPERATED)
    (after,) = local_store.listed(today=OPERATED)
    assert (after.next_due, after.next_due_on) == (Due.FILM, date(2026, 3, 30))


def test_the_diagnosis_is_one_short_line(invented):
    shown = listing(invented(diagnosis="Short\n\ttibia\x00 " + "x" * 500), Profile()).diagnosis
    assert shown.startswith("Short tibia xxx")
    assert (len(shown), shown[-1]) == (200, "…")
    assert listing(replace(invented(), diagnosis=""), Profile()).diagnosis == ""
