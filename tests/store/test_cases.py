"""Versions of cases on both databases: nothing is lost, whoever saves in whatever order."""

import sqlite3
import threading
from dataclasses import replace
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from limbwright.case.document import case_to_json
from limbwright.case.problem import UnreadableCase
from limbwright.error import Contradiction, Missing, OutOfRange
from limbwright.plan.goal import Goal
from limbwright.store.audit import Action
from limbwright.store.conflict import Conflict
from limbwright.store.listing import Stage
from limbwright.store.store import open_store


def test_what_was_saved_is_read_back(store, invented, clock):
    case = invented()
    assert store.cases.create(case, who="dr a", why="first films") == 1
    changed = replace(case, diagnosis="Short tibia after a growth arrest. 膝 \x00 ü")
    assert store.cases.save(changed, based_on=1, who="dr b", why="diagnosis added") == 2
    assert store.cases.at("invented-1") == changed
    assert store.cases.at("invented-1", 1) == case
    assert store.cases.current("invented-1") == (changed, 2)
    assert store.cases.document_at("invented-1", 1) == case_to_json(case)
    first, second = store.cases.versions("invented-1")
    assert (first.number, first.who, first.why, first.parts) == (1, "dr a", "first films", ())
    assert (second.number, second.who, second.parts) == (2, "dr b", ("diagnosis",))
    assert first.saved_at < second.saved_at < clock()


def test_a_taken_identifier_is_refused_and_the_case_is_left_alone(store, invented):
    store.cases.create(invented(), who="a", why="")
    with pytest.raises(Contradiction, match="is there already; it was left as it is"):
        store.cases.create(invented(diagnosis="another"), who="b", why="")
    assert store.cases.at("invented-1") == invented()
    assert len(store.cases.versions("invented-1")) == 1


def test_what_is_not_there_is_named(store, invented):
    with pytest.raises(Missing, match="'nobody': there is no such case"):
        store.cases.at("nobody")
    with pytest.raises(Missing, match="there is no such case"):
        store.cases.versions("nobody")
    with pytest.raises(Missing, match="there is no such case"):
        store.cases.save(invented("nobody"), based_on=1, who="a", why="")
    store.cases.create(invented(), who="a", why="")
    with pytest.raises(Missing, match="there is no version 7; the newest is 1"):
        store.cases.at("invented-1", 7)
    with pytest.raises(Missing, match="no version 2"):
        store.cases.save(invented(), based_on=2, who="a", why="")


def test_nobody_may_save_without_a_name_and_reasons_stay_printable(store, invented):
    with pytest.raises(Missing, match="nobody is named"):
        store.cases.create(invented(), who=" ", why="")
    with pytest.raises(OutOfRange, match="unprintable"):
        store.cases.create(invented(), who="a", why="\x1b[2J")
    with pytest.raises(OutOfRange, match="cannot serve as a user's name"):
        store.cases.create(invented(), who="a" * 65, why="")
    assert list(store.cases.ids()) == []


def test_the_second_of_two_editors_is_shown_what_differs(store, invented):
    case = invented()
    store.cases.create(case, who="a", why="")
    theirs = replace(case, diagnosis="seen by a")
    store.cases.save(theirs, based_on=1, who="a", why="noted")
    mine = replace(case, goal=Goal(leave_short_mm=10.0))
    with pytest.raises(Conflict, match=r"a saved version 2 while you worked on version 1") as caught:
        store.cases.save(mine, based_on=1, who="b", why="goal")
    conflict = caught.value
    assert conflict.current.number == 2
    assert [change.path for change in conflict.theirs] == ["$.diagnosis"]
    assert {change.path for change in conflict.mine} == {"$.goal.leave_short_mm", "$.goal.bones"}
    assert conflict.both == ()
    assert conflict.combined == replace(mine, diagnosis="seen by a")
    assert store.cases.at("invented-1") == theirs
    assert store.cases.save(conflict.combined, based_on=2, who="b", why="both") == 3


def test_changes_of_the_same_value_are_not_combined(store, invented):
    case = invented()
    store.cases.create(case, who="a", why="")
    store.cases.save(replace(case, goal=Goal(leave_short_mm=5.0)), based_on=1, who="a", why="")
    mine = replace(case, goal=Goal(leave_short_mm=10.0))
    with pytest.raises(Conflict, match=r"both changed \$\.goal\.leave_short_mm") as caught:
        store.cases.save(mine, based_on=1, who="b", why="")
    assert caught.value.combined is None
    assert "keep theirs or save yours on top" in caught.value.next_step


def test_changes_that_would_not_hold_together_are_not_combined(store, invented, film, course):
    case = invented(films=(film(), film("day 14")))
    store.cases.create(case, who="a", why="")
    store.cases.save(replace(case, films=(film(),)), based_on=1, who="a", why="film removed")
    from limbwright.course.visit import Visit

    visit = Visit(seen_on=date(2026, 3, 30), films=("day 14",))
    with pytest.raises(Conflict, match="a saved version 2") as caught:
        store.cases.save(replace(case, course=course(visits=(visit,))), based_on=1, who="b", why="")
    assert caught.value.both == ()
    assert caught.value.combined is None


def test_a_save_sent_again_after_its_answer_was_lost_finds_itself(store, invented):
    case = invented()
    store.cases.create(case, who="a", why="")
    changed = replace(case, diagnosis="once")
    assert store.cases.save(changed, based_on=1, who="a", why="") == 2
    assert store.cases.save(changed, based_on=1, who="a", why="") == 2
    assert len(store.cases.versions("invented-1")) == 2


def test_any_version_comes_back_as_a_new_one(store, invented):
    case = invented()
    store.cases.create(case, who="a", why="")
    store.cases.save(replace(case, diagnosis="2", goal=None), based_on=1, who="a", why="")
    store.cases.save(replace(case, diagnosis="3", goal=None), based_on=2, who="a", why="")
    assert store.cases.restore("invented-1", 1, based_on=3, who="a", why="goal was right") == 4
    assert store.cases.at("invented-1") == case
    last = store.cases.versions("invented-1")[-1]
    assert (last.restored_from, last.parts) == (1, ("diagnosis", "goal"))
    assert [v.number for v in store.cases.versions("invented-1", part="goal")] == [1, 2, 4]
    with pytest.raises(Conflict, match="saved version 4"):
        store.cases.restore("invented-1", 2, based_on=3, who="b", why="")


def test_one_part_comes_back_and_the_rest_stays(store, invented):
    case = invented()
    store.cases.create(case, who="a", why="")
    store.cases.save(replace(case, diagnosis="2", goal=None), based_on=1, who="a", why="")
    store.cases.restore("invented-1", 1, based_on=2, who="a", why="", part="goal")
    assert store.cases.at("invented-1") == replace(case, diagnosis="2")
    store.cases.restore("invented-1", 2, based_on=3, who="a", why="", part="goal")
    assert store.cases.at("invented-1").goal is None
    with pytest.raises(OutOfRange, match="has a part 'gaol'"):
        store.cases.restore("invented-1", 1, based_on=4, who="a", why="", part="gaol")


def test_a_part_that_does_not_fit_the_rest_is_refused(store, invented, film, course):
    from limbwright.course.visit import Visit

    case = invented(films=(film(), film("day 14")))
    followed = replace(case, course=course(visits=(Visit(seen_on=date(2026, 3, 30), films=("day 14",)),)))
    store.cases.create(followed, who="a", why="")
    store.cases.save(replace(case, films=(film(),)), based_on=1, who="a", why="")
    with pytest.raises(UnreadableCase, match="day 14"):
        store.cases.restore("invented-1", 1, based_on=2, who="a", why="", part="course")
    assert store.cases.newest("invented-1") == 2


def test_two_versions_are_compared(store, invented):
    case = invented()
    store.cases.create(case, who="a", why="")
    store.cases.save(replace(case, diagnosis="new", goal=None), based_on=1, who="a", why="")
    found = {(c.path, c.kind.value): c.after for c in store.cases.compare("invented-1", 1, 2)}
    assert found == {("$.goal", "removed"): None, ("$.diagnosis", "added"): "new"}
    assert store.cases.compare("invented-1", 2, 2) == ()


def test_what_has_no_place_in_the_document_goes_beside_it(store, invented):
    case = invented()
    store.cases.create(case, who="a", why="", beside={"draft": [1, "ü\x00"]})
    store.cases.save(replace(case, diagnosis="2"), based_on=1, who="a", why="")
    store.cases.save(replace(case, diagnosis="3"), based_on=2, who="a", why="", beside={})
    assert store.cases.beside("invented-1", 2) == {"draft": [1, "ü\x00"]}
    assert store.cases.beside("invented-1", 3) == {}
    store.cases.restore("invented-1", 2, based_on=3, who="a", why="")
    assert store.cases.beside("invented-1", 4) == {"draft": [1, "ü\x00"]}
    with pytest.raises(OutOfRange, match="beside the document"):
        store.cases.save(case, based_on=4, who="a", why="", beside={"draft": "x" * 500_001})
    with pytest.raises(OutOfRange, match="expected JSON"):
        store.cases.save(case, based_on=4, who="a", why="", beside={"draft": float("nan")})


def test_every_change_leaves_a_line_in_the_audit_log(store, invented):
    case = invented()
    store.cases.create(case, who="a", why="")
    store.cases.save(replace(case, diagnosis="2"), based_on=1, who="b", why="")
    store.cases.restore("invented-1", 1, based_on=2, who="c", why="")
    with pytest.raises(Conflict, match="saved version 3"):
        store.cases.save(replace(case, diagnosis="4"), based_on=1, who="d", why="")
    lines = [(e.who, e.action, e.case_id, e.subject) for e in store.audit.all()]
    assert lines == [
        ("a", Action.CASE_CREATED, "invented-1", "version 1"),
        ("b", Action.CASE_SAVED, "invented-1", "version 2"),
        ("c", Action.CASE_RESTORED, "invented-1", "version 3"),
    ]


@pytest.mark.parametrize("statement", ["UPDATE case_version SET who = 'x'", "DELETE FROM case_version"])
def test_the_database_itself_keeps_versions_from_being_changed(store, invented, statement):
    store.cases.create(invented(), who="a", why="")
    with pytest.raises(DBAPIError, match="only ever added"), store.engine.begin() as connection:
        connection.execute(text(statement))
    assert store.cases.at("invented-1") == invented()


def test_a_document_that_was_altered_in_the_file_is_not_believed(local_store, invented):
    local_store.cases.create(invented(), who="a", why="")
    path = local_store.address.database
    with sqlite3.connect(path) as raw:
        raw.execute("DROP TRIGGER case_version_no_update")
        raw.execute("UPDATE case_version SET document = X'789c030000000001'")
    raw.close()
    with pytest.raises(Contradiction, match="no longer the one that was stored"):
        local_store.cases.at("invented-1")


def test_a_version_this_program_refuses_does_not_lock_the_case(local_store, invented):
    """A document that an older program accepted is named as unreadable; an older version still comes back."""
    local_store.cases.create(invented(), who="a", why="")
    local_store.cases.save(invented(diagnosis="2"), based_on=1, who="a", why="")
    from limbwright.store.engine import writing
    from limbwright.store.history import Saved, add_version, version_of

    broken = local_store.cases.document_at("invented-1", 2).replace("INVENTED", " ")
    with writing(local_store.engine) as connection:
        version = version_of(3, saved_at=local_store.now(), who="older program", why="")
        add_version(connection, Saved(case_id="invented-1", document=broken, version=version))
        connection.execute(text("UPDATE case_record SET version = 3"))
    with pytest.raises(UnreadableCase, match="version 3"):
        local_store.cases.at("invented-1")
    with writing(local_store.engine) as connection:
        connection.execute(text("UPDATE case_record SET listing_version = 0"))
    assert local_store.cases.relist() == 1
    (line,) = local_store.listed(today=date(2026, 3, 1))
    assert (line.stage, line.version) == (Stage.UNREADABLE, 3)
    assert local_store.cases.restore("invented-1", 2, based_on=3, who="a", why="") == 4
    assert local_store.cases.at("invented-1").diagnosis == "2"


def test_two_writers_at_once_never_lose_an_acknowledged_change(store, invented, film):
    """Each adds its own visits' worth of films; whoever comes second combines and tries again."""
    store.cases.create(invented(films=()), who="start", why="")
    acknowledged: list[str] = []
    lock = threading.Lock()
    failures: list[BaseException] = []

    def write(who: str) -> None:
        try:
            for number in range(8):
                name = f"{who} {number}"
                case, version = store.cases.current("invented-1")
                mine = replace(case, films=(*case.films, film(name)))
                while True:
                    try:
                        store.cases.save(mine, based_on=version, who=who, why=name)
                        break
                    except Conflict as conflict:
                        mine, version = conflict.combined, conflict.current.number
                with lock:
                    acknowledged.append(name)
        except BaseException as error:
            failures.append(error)

    writers = [threading.Thread(target=write, args=(who,)) for who in ("left window", "right window")]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert failures == []
    assert len(acknowledged) == 16
    assert {f.name for f in store.cases.at("invented-1").films} == set(acknowledged)
    assert [v.number for v in store.cases.versions("invented-1")] == list(range(1, 18))


def test_two_windows_that_create_one_case_at_once_make_one(store, invented):
    outcomes: list[str] = []

    def create(who: str) -> None:
        try:
            store.cases.create(invented(diagnosis=who), who=who, why="")
            outcomes.append(who)
        except Contradiction:
            outcomes.append("refused")

    writers = [threading.Thread(target=create, args=(who,)) for who in "abcd"]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert outcomes.count("refused") == 3
    assert store.cases.at("invented-1").diagnosis in set(outcomes)


texts = st.text(st.characters(codec="utf-8"), max_size=20)
steps = st.lists(
    st.one_of(
        st.tuples(st.just("save"), texts, st.none() | st.floats(-20, 50)),
        st.tuples(st.just("restore"), st.integers(0, 30), st.sampled_from([None, "goal", "diagnosis"])),
        st.tuples(st.just("late"), st.integers(0, 30), texts),
        st.tuples(st.just("open again"), st.none(), st.none()),
    ),
    max_size=12,
)


@given(steps=steps)
@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_sequence_of_saves_and_restores_can_be_replayed(steps, invented, clock):
    """After any sequence each version is what a list in memory says it is, and late saves changed nothing."""
    with TemporaryDirectory() as folder:
        home = Path(folder)
        store = open_store(home, now=clock)
        expected = [invented()]
        store.cases.create(expected[0], who="a", why="")
        try:
            for kind, first, second in steps:
                newest = len(expected)
                if kind == "save":
                    goal = None if second is None else Goal(leave_short_mm=second)
                    case = replace(expected[-1], diagnosis=first, goal=goal)
                    assert store.cases.save(case, based_on=newest, who="a", why="") == newest + 1
                    expected.append(case)
                elif kind == "restore":
                    number = first % newest + 1
                    old = expected[number - 1]
                    case = old if second is None else replace(expected[-1], **{second: getattr(old, second)})
                    if second and not (getattr(old, second) or getattr(expected[-1], second)):
                        continue  # a part that neither version has
                    store.cases.restore("invented-1", number, based_on=newest, who="a", why="", part=second)
                    expected.append(case)
                elif kind == "late" and newest > 1:
                    late = replace(expected[0], diagnosis=f"late {second}")
                    with pytest.raises(Conflict, match="while you worked on version"):
                        store.cases.save(late, based_on=first % (newest - 1) + 1, who="b", why="")
                elif kind == "open again":
                    store.close()
                    store = open_store(home, now=clock)
            assert [store.cases.at("invented-1", n + 1) for n in range(len(expected))] == expected
            assert len(store.cases.versions("invented-1")) == len(expected)
        finally:
            store.close()


@pytest.mark.parametrize("identifier", ["a/b", "../x", "a\\b", "50%", "a?b", "a#b"])
def test_an_identifier_that_cannot_stand_in_an_address_is_refused(local_store, invented, identifier):
    with pytest.raises(OutOfRange, match="cannot stand in the address of a page"):
        local_store.cases.create(invented(identifier), who="a", why="")
    assert list(local_store.cases.ids()) == []
