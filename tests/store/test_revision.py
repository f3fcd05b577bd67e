"""Every earlier revision is brought up to date with its data, on both databases."""

import subprocess
import sys
import threading
import zlib
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import text

from limbwright.case.document import case_to_json
from limbwright.error import Unreadable
from limbwright.store import revision as revision_module
from limbwright.store.engine import reading, sqlite_url, writing
from limbwright.store.listing import Stage
from limbwright.store.moment import moment_text
from limbwright.store.packed import digest_of
from limbwright.store.revision import NEWEST, REVISIONS, migrate, revision_of
from limbwright.store.schema import METADATA
from limbwright.store.store import Store, open_store

START = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)


@pytest.fixture
def address(tmp_path, database):
    return sqlite_url(tmp_path / "limbwright.sqlite") if database is None else database


def test_the_list_of_revisions_is_the_folder_of_revisions():
    folder = Path(revision_module.__file__).parent / "migrations" / "versions"
    assert list(REVISIONS) == sorted(path.name[:4] for path in folder.glob("[0-9]*.py"))


def write_as_of(engine, revision, case):
    """A case as a program of that revision wrote it: its rows by hand, not by the code of today."""
    document = case_to_json(case)
    with writing(engine) as connection:
        connection.execute(
            text(
                "INSERT INTO case_record (id, version, side, invented, updated_at, updated_by) "
                "VALUES (:id, 1, 'left', :invented, :at, 'old program')"
            ),
            {"id": case.id, "invented": True, "at": moment_text(START)},
        )
        if revision >= "0002":
            connection.execute(text("UPDATE case_record SET listing_version = 0, step = 'of old'"))
        connection.execute(
            text(
                "INSERT INTO case_version (case_id, version, document, sha256, schema_version, saved_at, "
                "who, why, parts, beside) "
                "VALUES (:id, 1, :document, :sha256, 1, :at, 'old program', 'why', '', '{}')"
            ),
            {
                "id": case.id,
                "document": zlib.compress(document.encode()),
                "sha256": digest_of(document),
                "at": moment_text(START),
            },
        )


@pytest.fixture
def store_as_of(address, tmp_path, clock, engine_at):
    """Opens a database that a program of some revision left, with a case in it."""

    def opened(revision, case):
        engine = engine_at(address)
        assert migrate(engine, to=revision) is True
        write_as_of(engine, revision, case)
        engine.dispose()
        return Store(address, tmp_path / "films", now=clock)

    return opened


@pytest.mark.parametrize("revision", REVISIONS)
def test_data_of_every_revision_is_kept_and_listed(revision, store_as_of, invented, course):
    case = invented(course=course())
    with store_as_of(revision, case) as store:
        assert revision_of(store.engine) == NEWEST
        assert store.cases.at("invented-1") == case
        (line,) = store.listed(today=date(2026, 3, 20))
        assert (line.stage, line.patient, line.updated_by) == (Stage.LATENCY, "INVENTED", "old program")
        assert line.next_due_on == date(2026, 3, 30)
        assert store.cases.save(case, based_on=1, who="a", why="") == 2


def test_the_revisions_make_the_tables_that_the_code_expects(address, engine_at):
    engine = engine_at(address)
    migrate(engine)
    with reading(engine) as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, METADATA) == []


def test_step_by_step_makes_the_same_tables_as_at_once(tmp_path, engine_at):
    def shape(name, stops):
        engine = engine_at(sqlite_url(tmp_path / name))
        for stop in stops:
            migrate(engine, to=stop)
        with reading(engine) as connection:
            query = text("SELECT name, sql FROM sqlite_master ORDER BY name")
            return [tuple(row) for row in connection.execute(query).all()]

    assert shape("slowly", REVISIONS) == shape("at once", [NEWEST])


def test_a_database_of_the_current_revision_is_left_alone(address, engine_at):
    engine = engine_at(address)
    assert revision_of(engine) is None
    assert migrate(engine) is True
    assert migrate(engine) is False


def test_a_newer_database_is_refused_and_left_as_it_is(address, tmp_path, engine_at):
    engine = engine_at(address)
    migrate(engine)
    with writing(engine) as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '0999'"))
    with pytest.raises(Unreadable, match=f"revision 0999; this program knows revisions up to {NEWEST}"):
        Store(address, tmp_path / "films")
    with pytest.raises(Unreadable, match="left as it is"):
        migrate(engine)


def test_a_database_of_another_program_is_refused(address, tmp_path, engine_at):
    with writing(engine_at(address)) as connection:
        connection.execute(text("CREATE TABLE recipes (name TEXT)"))
    with pytest.raises(Unreadable, match=r"another program \(tables recipes\)"):
        Store(address, tmp_path / "films")


def test_a_migration_that_fails_leaves_the_database_as_it_was(address, monkeypatch, engine_at):
    engine = engine_at(address)
    migrate(engine, to="0001")
    with writing(engine) as connection:  # in the way of the third revision
        connection.execute(text("CREATE TABLE audit_entry (number INTEGER)"))
    with pytest.raises(Exception, match="audit_entry"):
        migrate(engine)
    assert revision_of(engine) == "0001"
    with reading(engine) as connection, pytest.raises(Exception, match="listing_version"):
        connection.execute(text("SELECT listing_version FROM case_record"))


def test_two_programs_that_open_an_old_database_at_once_take_turns(address, tmp_path, engine_at):
    migrate(engine_at(address), to="0001")
    failures = []

    def open_it():
        try:
            Store(address, tmp_path / "films").close()
        except BaseException as error:
            failures.append(error)

    openers = [threading.Thread(target=open_it) for _ in range(4)]
    for opener in openers:
        opener.start()
    for opener in openers:
        opener.join()
    assert failures == []
    assert revision_of(engine_at(address)) == NEWEST


def test_the_migration_library_is_not_loaded_when_nothing_is_to_be_done(tmp_path):
    open_store(tmp_path / "practice").close()
    code = (
        "import sys; from pathlib import Path; from limbwright.store.store import open_store; "
        "open_store(Path(sys.argv[1])).close(); print('alembic' in sys.modules, 'argon2' in sys.modules)"
    )
    run = [sys.executable, "-c", code, str(tmp_path / "practice")]
    assert subprocess.run(run, check=True, capture_output=True, text=True).stdout.split() == [
        "False",
        "False",
    ]
