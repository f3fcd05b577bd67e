from dataclasses import replace

import pytest

from limbwright.cli import demo_films
from limbwright.cli.demo_courses import TIGHT
from limbwright.cli.demo_patients import DEMO_PATIENTS
from limbwright.cli.demo_store import fill_with_courses, fill_with_demo
from limbwright.store.store import Store


def test_the_demo_cases_are_put_into_a_store_once(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(demo_films, "PIXEL_MM", 2.0)
    wanted = [patient.id for patient in DEMO_PATIENTS]
    assert "demo-a" in set(store.cases.ids())
    assert list(fill_with_demo(store)) == [name for name in wanted if name != "demo-a"]
    assert fill_with_demo(store) == ()
    for name in wanted:
        case = store.cases.at(name)
        assert case.invented
        assert all(film.sha256 is not None and store.films.has(film.sha256) for film in case.films)


def test_the_demo_courses_come_with_their_follow_up_films(store: Store) -> None:
    short = replace(TIGHT, visits=TIGHT.visits[:1])
    assert fill_with_courses(store, (short,)) == (TIGHT.id,)
    assert fill_with_courses(store, (short,)) == ()
    case = store.cases.at(TIGHT.id)
    assert case.invented
    assert case.course is not None
    assert len(case.films) == 4
    assert all(film.sha256 is not None and store.films.has(film.sha256) for film in case.films)
