"""The audit log: only ever added to, in order, without patients' names."""

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from limbwright.error import Missing
from limbwright.store.audit import Action


def test_entries_come_in_order_for_one_case_or_all(store):
    store.audit.note("a", Action.CASE_READ, case_id="one", subject="version 1")
    store.audit.note("b", Action.FILM_READ, case_id="two", subject="0" * 64)
    store.audit.note("a", Action.CASE_READ, case_id="one")
    everything = store.audit.entries()
    assert [e.who for e in everything] == ["a", "b", "a"]
    assert everything[0].at < everything[1].at < everything[2].at
    assert [e.number for e in store.audit.entries(case_id="one")] == [
        everything[0].number,
        everything[2].number,
    ]
    assert store.audit.entries(after=everything[1].number) == everything[2:]
    assert store.audit.entries(most=1) == everything[:1]
    assert tuple(store.audit.all()) == everything


def test_the_log_is_read_backwards_in_portions(store):
    for number in range(7):
        store.audit.note("a", Action.CASE_READ, case_id=f"case-{number % 2}")
    everything = tuple(store.audit.all())
    first = store.audit.newest(most=3)
    second = store.audit.newest(before=first[-1].number, most=3)
    rest = store.audit.newest(before=second[-1].number, most=3)
    assert (*first, *second, *rest) == everything[::-1]
    assert store.audit.newest(before=everything[0].number) == ()
    assert store.audit.newest(case_id="case-1") == tuple(e for e in everything if e.case_id == "case-1")[::-1]


def test_nobody_is_no_name(store):
    with pytest.raises(Missing, match="nobody is named"):
        store.audit.note("", Action.CASE_READ)


@pytest.mark.parametrize("statement", ["UPDATE audit_entry SET who = 'x'", "DELETE FROM audit_entry"])
def test_the_database_itself_keeps_the_log(store, statement):
    store.audit.note("a", Action.CASE_READ, case_id="one")
    with pytest.raises(DBAPIError, match="only ever added"), store.engine.begin() as connection:
        connection.execute(text(statement))
    assert len(store.audit.entries()) == 1


def test_no_entry_repeats_what_a_case_says(store, invented):
    store.cases.create(invented(diagnosis="Mrs Invented Name"), who="a", why="Mrs Invented Name called")
    store.cases.save(invented(diagnosis="Mr Invented Name"), based_on=1, who="a", why="")
    assert "Invented Name" not in repr(store.audit.entries())
