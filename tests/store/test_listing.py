"""Stages and what is due, from the document and a day."""

from dataclasses import replace
from datetime import date

import pytest

from limbwright.course.visit import GainedLength, Visit
from limbwright.limb.anatomy import Bone
from limbwright.store.listing import Due, Stage, Step, listing, milestones, next_due, stage_on, step_of

OPERATED = date(2026, 3, 16)


def test_steps_before_the_operation_follow_the_document(invented):
    assert step_of(invented(films=())) is Step.MARKING
    assert step_of(invented(goal=None)) is Step.MEASURED
    assert step_of(invented()) is Step.GOAL


def test_every_step_but_the_last_is_a_stage_of_its_own():
    for step in Step:
        if step is not Step.OPERATED:
            assert stage_on(step, milestones_of(), date(2026, 1, 1)).value == step.value


def milestones_of():
    from limbwright.store.listing import Milestones

    return Milestones()


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
        return next_due(invented(course=course(visits=visits)))

    def visit(day, measured_mm=None):
        gained = () if measured_mm is None else (GainedLength(bone=Bone.TIBIA, measured_mm=measured_mm),)
        return Visit(seen_on=day, gained=gained)

    assert next_due(invented()) == (Due.NOTHING, None)
    assert due() == (Due.FILM, date(2026, 3, 30))
    assert due(visit(date(2026, 3, 30))) == (Due.FILM, date(2026, 3, 30))  # seen, but no film
    assert due(visit(date(2026, 3, 29), 6.0)) == (Due.FILM, date(2026, 4, 13))  # a day early counts
    assert due(visit(date(2026, 3, 20), 0.0)) == (Due.FILM, date(2026, 3, 30))  # ten days early does not
    assert due(visit(date(2026, 4, 30), 35.0)) == (Due.NOTHING, None)


def test_before_its_day_the_operation_is_due(local_store, invented, course):
    local_store.cases.create(invented(course=course()), who="a", why="")
    (before,) = local_store.listed(today=date(2026, 3, 1))
    assert (before.next_due, before.next_due_on) == (Due.OPERATION, OPERATED)
    (after,) = local_store.listed(today=OPERATED)
    assert (after.next_due, after.next_due_on) == (Due.FILM, date(2026, 3, 30))


def test_the_diagnosis_is_one_short_line(invented):
    shown = listing(invented(diagnosis="Short\n\ttibia\x00 " + "x" * 500)).diagnosis
    assert shown.startswith("Short tibia xxx")
    assert (len(shown), shown[-1]) == (200, "…")
    assert listing(replace(invented(), diagnosis="")).diagnosis == ""
