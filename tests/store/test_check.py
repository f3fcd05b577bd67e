"""A store that is read whole and compared with its digests."""

import pytest
from sqlalchemy import text

from limbwright.store.check import check_store


@pytest.fixture
def filled(store, invented, film):
    sha256 = store.films.put(b"a film").sha256
    store.cases.create(invented(films=(film(sha256=sha256), film("readings alone"))), who="a", why="")
    return store


def ids(store):
    return [finding.id for finding in check_store(store)]


def test_all_is_well(filled):
    assert ids(filled) == []


def test_films_that_changed_or_are_gone_are_named(filled):
    path = filled.films.path(next(filled.films.all()))
    path.chmod(0o600)
    path.write_bytes(b"a filn")
    assert ids(filled) == ["store-film-damaged"]
    path.unlink()
    assert ids(filled) == ["store-film-absent"]


def test_a_document_that_changed_is_named(filled):
    drop = "DROP TRIGGER case_version_no_update"
    if filled.engine.dialect.name == "postgresql":
        drop = "DROP TRIGGER case_version_kept ON case_version"
    with filled.engine.begin() as connection:
        connection.execute(text(drop))
        connection.execute(text("UPDATE case_version SET document = :x"), {"x": b"x"})
    assert ids(filled) == ["store-document-damaged"]


def test_rows_that_refer_to_nothing_are_named(local_store, invented):
    local_store.cases.create(invented(), who="a", why="")
    with local_store.engine.connect() as connection:
        raw = connection.connection.driver_connection
        raw.execute("PRAGMA foreign_keys=OFF")
        raw.execute("DELETE FROM case_record")
        raw.execute("PRAGMA foreign_keys=ON")
    assert "store-database-damaged" in ids(local_store)
