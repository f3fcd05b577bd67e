"""The invented demo cases as cases of a store: three patients to plan, three courses to follow."""

from collections.abc import Iterable

from limbwright.case.case import Case
from limbwright.cli.demo_courses import DEMO_COURSES, DemoCourse
from limbwright.cli.demo_films import invented_case
from limbwright.cli.demo_patients import DEMO_PATIENTS
from limbwright.implant.shipped import shipped_catalogue
from limbwright.practice.profile import Profile
from limbwright.store.store import Store

DEMO_USER = "demo"
COURSE_NAIL = "T-10.7/305"
"""Nail of the invented courses, from the shipped, invented catalogue."""


def keep_demo(store: Store, case: Case, films: Iterable[bytes]) -> bool:
    """Put an invented case with its films into a store; False when it is there already."""
    if case.id in store.cases.ids():
        return False
    for content in films:
        store.films.put(content)
    store.cases.create(case, who=DEMO_USER, why="invented demo case")
    return True


def fill_with_demo(store: Store) -> tuple[str, ...]:
    """Put the demo patients that are not there yet into a store; the identifiers of those that were added."""
    there = set(store.cases.ids())
    missing = [demo for demo in DEMO_PATIENTS if demo.id not in there]
    return tuple(demo.id for demo in missing if keep_demo(store, *invented_case(demo)))


def fill_with_courses(store: Store, courses: tuple[DemoCourse, ...] = DEMO_COURSES) -> tuple[str, ...]:
    """Put the demo courses that are not there yet, with their follow-up films, into a store."""
    from limbwright.cli.demo_course_films import filmed_course

    nail = next(nail for nail in shipped_catalogue().nails if nail.name == COURSE_NAIL)
    there, added = set(store.cases.ids()), []
    for demo in courses:
        if demo.id in there:
            continue
        filmed = filmed_course(demo, Profile(), nail)
        keep_demo(store, filmed.case, (film.content for film in filmed.films))
        added.append(demo.id)
    return tuple(added)
