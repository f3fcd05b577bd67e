"""Whether everything in a store is still what was put in: pages, references, documents, films."""

from sqlalchemy import select, text

from limbwright.error import LimbwrightError
from limbwright.finding import Finding, ordered
from limbwright.store.engine import reading
from limbwright.store.history import saved_version, version_named
from limbwright.store.packed import tree_of
from limbwright.store.rules import remark
from limbwright.store.schema import CASE_VERSION
from limbwright.store.store import Store


def check_store(store: Store) -> tuple[Finding, ...]:
    """Read the whole store and compare it with its digests; empty when all is well.

    The time it takes is that of reading every film once.
    """
    return ordered((*check_records(store), *_films(store)))


def check_records(store: Store) -> tuple[Finding, ...]:
    """The same without reading the films: pages, references, documents, and whether the films are there."""
    return ordered((*_database(store), *_documents(store), *_absent_films(store)))


def _database(store: Store) -> list[Finding]:
    if store.engine.dialect.name != "sqlite":
        return []
    with reading(store.engine) as connection:
        said = [str(row[0]) for row in connection.execute(text("PRAGMA integrity_check")).all()]
        broken = connection.execute(text("PRAGMA foreign_key_check")).all()
    found = (
        [] if said == ["ok"] else [remark("store-database-damaged", f"The database says: {said[0][:200]}.")]
    )
    if broken:
        words = f"{len(broken)} rows of the database refer to rows that are not there."
        found.append(remark("store-database-damaged", words))
    return found


def _documents(store: Store) -> list[Finding]:
    c = CASE_VERSION.c
    query = select(c.case_id, c.version).order_by(c.case_id, c.version)
    found = []
    with reading(store.engine) as connection:
        for case_id, number in connection.execute(query).all():
            try:
                saved_version(connection, case_id, number)
            except LimbwrightError as error:
                words = f"{version_named(case_id, number)}: {error.found}"
                found.append(remark("store-document-damaged", words))
    return found


def _films(store: Store) -> list[Finding]:
    return [
        remark("store-film-damaged", f"Film {sha256[:12]}…: its bytes are not the ones that were stored.")
        for sha256 in store.films.all()
        if not store.films.is_whole(sha256)
    ]


def _absent_films(store: Store) -> list[Finding]:
    found = []
    for case_id in store.cases.ids():
        try:
            tree = tree_of(store.cases.document_at(case_id, store.cases.newest(case_id)))
        except LimbwrightError:
            continue  # named among the documents
        for film in tree.get("films", []):
            sha256 = film.get("sha256")
            if isinstance(sha256, str) and not store.films.has(sha256):
                words = f"case {case_id!r}, film '{film.get('name')}': its picture is not in the store."
                found.append(remark("store-film-absent", words))
    return found
