"""The list of cases: searched, filtered and sorted by the database."""

from dataclasses import replace
from datetime import date

import pytest

from limbwright.case.patient import Patient
from limbwright.growth.growth import Sex
from limbwright.store.record import Order

TODAY = date(2026, 3, 20)


@pytest.fixture
def filled(store, invented, course):
    store.cases.create(invented("a_1", diagnosis="Bowed LEG, 50% short"), who="x", why="")
    store.cases.create(invented("b-2", course=course(), diagnosis="Broken Tibia"), who="x", why="")
    late = course(operated_on=date(2026, 2, 2))
    store.cases.create(invented("c-3", course=late, invented=False), who="x", why="")
    store.cases.create(invented("d-4", course=course(operated_on=date(2026, 6, 1))), who="x", why="")
    return store


def ids(store, **asked):
    return [line.id for line in store.listed(today=TODAY, **asked)]


def test_the_newest_change_comes_first(filled, invented):
    assert ids(filled) == ["d-4", "c-3", "b-2", "a_1"]
    case, version = filled.cases.current("a_1")
    filled.cases.save(replace(case, diagnosis="new"), based_on=version, who="y", why="")
    (first, *_) = filled.listed(today=TODAY)
    assert (first.id, first.version, first.updated_by, first.diagnosis) == ("a_1", 2, "y", "new")
    assert ids(filled, order=Order.IDENTIFIER) == ["a_1", "b-2", "c-3", "d-4"]
    assert ids(filled, order=Order.IDENTIFIER, most=2, skip=1) == ["b-2", "c-3"]


def test_what_is_due_comes_first_and_overdue_stays(filled):
    assert ids(filled, order=Order.NEXT_DUE) == ["c-3", "b-2", "d-4", "a_1"]
    assert ids(filled, due_by=date(2026, 3, 1)) == ["c-3"]
    assert ids(filled, due_by=date(2026, 6, 1), order=Order.IDENTIFIER) == ["b-2", "c-3", "d-4"]
    (line,) = filled.listed(today=TODAY, search="c-3")
    assert (line.invented, line.next_due_on) == (False, date(2026, 2, 16))


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("tibia", ["b-2"]),
        ("broken TIBIA", ["b-2"]),
        ("a_", ["a_1"]),
        ("50%", ["a_1"]),
        ("%", ["a_1"]),
        ("\\", []),
        ("' OR 1=1 --", []),
        ("INVENTED b-2", ["b-2"]),
        ("tibia bowed", []),
    ],
)
def test_words_are_looked_for_as_they_stand(filled, words, found):
    assert ids(filled, search=words) == found


def test_findings_of_the_plan_are_counted(store, invented):
    store.cases.create(invented(), who="a", why="")
    (line,) = store.listed(today=TODAY)
    assert (line.stops, line.cautions) == (0, 0)


def test_the_pseudonym_is_searched_too(store, invented):
    patient = Patient(id="Kraniche", sex=Sex.MALE, age_years=30.0)
    store.cases.create(invented(patient=patient), who="a", why="")
    assert ids(store, search="kranich") == ["invented-1"]
