"""Rows of the practice audit kept beside the cases: those of the documents, and kept up to date."""

from dataclasses import fields, replace
from datetime import date

import numpy as np
import pytest
from sqlalchemy import update

from limbwright.case.audit_columns import audit_columns
from limbwright.cli.demo_courses import DEMO_COURSES, SMOOTH
from limbwright.course.complication import Complication, ComplicationKind, Remedy
from limbwright.course.prescription import Phase, PhaseKind
from limbwright.error import Unreadable
from limbwright.practice.audit.columns import TreatedBone, names
from limbwright.practice.profile import Profile
from limbwright.store import cases as cases_module
from limbwright.store.schema import CASE_RECORD, TREATED_BONE
from limbwright.store.store import open_store
from limbwright.store.treated import DECIDING, leave_out, mark_of

PROFILE = Profile()


@pytest.fixture
def store(tmp_path):
    with open_store(tmp_path / "home") as opened:
        for demo in DEMO_COURSES:
            opened.cases.create(demo.case(PROFILE, None), who="t", why="t")
        real = replace(SMOOTH.case(PROFILE, None), id="real", invented=False)
        opened.cases.create(closed(real), who="t", why="t")
        yield opened


def closed(case):
    """The case with its treatment ended and one adverse event."""
    event = Complication(
        kind=ComplicationKind.JOINT_CONTRACTURE, seen_on=date(2026, 5, 11), remedy=Remedy.NONE
    )
    course = replace(
        case.course,
        treatments=tuple(replace(t, consolidated_on=date(2026, 8, 3)) for t in case.course.treatments),
        complications=(event,),
        ended_on=date(2026, 9, 1),
    )
    return replace(case, course=course)


def same(found, expected):
    for name in names():
        a, b = getattr(found, name), getattr(expected, name)
        np.testing.assert_array_equal(a, b, err_msg=name)


def test_the_columns_are_those_of_the_documents(store):
    cases = [store.cases.at(case_id) for case_id in store.cases.ids()]
    found = store.cases.treated_bones(PROFILE, invented=True)
    same(found.columns, audit_columns(cases, PROFILE).columns)
    assert found.left_out == ()
    assert found.invented_left_out == 0
    only = store.cases.treated_bones(PROFILE, invented=False)
    assert list(only.columns.case_id) == ["real"]
    assert only.columns.healed[0]
    assert only.invented_left_out == 3


def test_the_table_has_a_column_for_every_field():
    assert [c.name for c in TREATED_BONE.columns if c.name != "position"] == [
        "case_id",
        *(f.name for f in sorted(fields(TreatedBone), key=lambda f: order(f.name)) if f.name != "case_id"),
    ]


def order(name):
    return [c.name for c in TREATED_BONE.columns].index(name)


def test_a_saved_change_is_counted_at_once(store):
    case, version = store.cases.current("course-a")
    store.cases.save(closed(case), based_on=version, who="t", why="healed")
    columns = store.cases.treated_bones(PROFILE, invented=True).columns
    row = list(columns.case_id).index("course-a")
    assert columns.healed[row]
    assert columns.followed_days[row] == 140


def test_rows_of_another_program_or_other_reading_errors_are_filled_again(store):
    with store.engine.begin() as connection:
        connection.execute(update(TREATED_BONE).values(gained_mm=1.0))
    assert set(store.cases.treated_bones(PROFILE, invented=True).columns.gained_mm) == {1.0}
    other = replace(PROFILE, landmark_sd_mm=PROFILE.landmark_sd_mm + 0.5)
    assert mark_of(other) != mark_of(PROFILE)
    assert 1.0 not in set(store.cases.treated_bones(other, invented=True).columns.gained_mm)
    # a setting that no row depends on leaves them as they are
    assert mark_of(replace(PROFILE, drift_limit_deg=PROFILE.drift_limit_deg + 1)) == mark_of(PROFILE)
    assert all(hasattr(PROFILE, name) for name in DECIDING)


def test_a_case_that_contradicts_itself_or_cannot_be_read_is_named_with_its_reason(store):
    case, _ = store.cases.current("course-b")
    (treatment,) = case.course.treatments
    crawl = (Phase(kind=PhaseKind.STEADY, step_mm=0.001, steps_per_day=1),)
    never = replace(treatment, prescription=replace(treatment.prescription, phases=crawl))
    store.cases.create(
        replace(case, id="endless", course=replace(case.course, treatments=(never,))), who="t", why="t"
    )
    with store.engine.begin() as connection:
        leave_out(
            connection, "course-c", Unreadable("no JSON.", where="document", next_step="Mend it."), PROFILE
        )
    found = store.cases.treated_bones(PROFILE, invented=True)
    assert [one.case_id for one in found.left_out] == ["course-c", "endless"]
    assert found.left_out[0].found == "document: no JSON."
    assert "longer than 2000 days" in found.left_out[1].found
    assert not {"course-c", "endless"} & set(found.columns.case_id)


def test_a_document_that_this_program_refuses_is_left_out(store, monkeypatch):
    def refuse(document, *, where):
        raise Unreadable("an older shape.", where=where, next_step="Restore another version.")

    with store.engine.begin() as connection:
        connection.execute(update(CASE_RECORD).where(CASE_RECORD.c.id == "course-c").values(audit_mark=""))
    monkeypatch.setattr(cases_module, "case_of", refuse)
    found = store.cases.treated_bones(PROFILE, invented=True)
    assert [one.case_id for one in found.left_out] == ["course-c"]
