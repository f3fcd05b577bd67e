"""The invented demo cases as cases of a store."""

from limbwright.case.case import Case
from limbwright.cli.demo_films import films_of
from limbwright.cli.demo_patients import DEMO_PATIENTS
from limbwright.store.store import Store

DEMO_USER = "demo"


def fill_with_demo(store: Store) -> tuple[str, ...]:
    """Put the demo cases that are not there yet into a store; the identifiers of those that were added."""
    there = set(store.cases.ids())
    added = []
    for demo in DEMO_PATIENTS:
        if demo.id in there:
            continue
        taken = films_of(demo)
        for _, content in taken:
            store.films.put(content)
        case = Case(
            id=demo.id,
            invented=True,
            side=demo.side,
            diagnosis=demo.diagnosis,
            patient=demo.patient,
            films=tuple(film for film, _ in taken),
            examination=demo.examination,
            goal=demo.goal,
        )
        store.cases.create(case, who=DEMO_USER, why="invented demo case")
        added.append(demo.id)
    return tuple(added)
