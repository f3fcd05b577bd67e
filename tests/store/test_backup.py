"""Backups: made while the store is in use, checked, replaced as a whole, restored into a new folder."""

import json
import stat
import threading
from dataclasses import replace

import pytest
from argon2 import PasswordHasher

from limbwright.error import Contradiction, Missing, Refused, Unreadable
from limbwright.store import backup as backup_module
from limbwright.store.audit import Action
from limbwright.store.backup import NOTE, backup, restore_backup
from limbwright.store.check import check_store
from limbwright.store.store import open_store
from limbwright.store.users import Role

PASSWORD = "four plain words will do"


@pytest.fixture
def filled(local_store, invented, film):
    sha256 = local_store.films.put(b"a film").sha256
    local_store.films.put(b"another film")
    local_store.cases.create(invented(films=(film(sha256=sha256),)), who="a", why="")
    local_store.users.add("dr-a", PASSWORD, Role.SIGN, by="setup")
    return local_store


def damage(store, content=b"damaged"):
    sha256 = next(store.films.all())
    store.films.path(sha256).chmod(0o600)
    store.films.path(sha256).write_bytes(content)
    return sha256


def test_a_practice_comes_back_whole(filled, tmp_path, clock):
    made = backup(filled, tmp_path / "copy", who="a")
    assert (made.cases, made.films, made.findings) == (1, 2, ())
    restored = restore_backup(tmp_path / "copy", tmp_path / "new", now=clock)
    assert restored == made
    with open_store(tmp_path / "new", now=clock, hasher=filled.users._hasher) as new:
        assert new.cases.at("invented-1") == filled.cases.at("invented-1")
        assert list(new.films.all()) == list(filled.films.all())
        assert new.films.get(next(new.films.all())) == filled.films.get(next(filled.films.all()))
        assert new.users.check("dr-a", PASSWORD).role is Role.SIGN
        assert check_store(new) == ()
    assert filled.audit.entries()[-1].action is Action.BACKED_UP
    assert stat.S_IMODE((tmp_path / "copy" / made.database).stat().st_mode) == 0o600
    assert sorted(p.name for p in (tmp_path / "copy").iterdir()) == [NOTE, "films", made.database]


def test_a_folder_is_backed_up_into_again(filled, tmp_path, clock):
    first = backup(filled, tmp_path / "copy", who="a")
    case, version = filled.cases.current("invented-1")
    filled.cases.save(replace(case, diagnosis="later"), based_on=version, who="a", why="")
    filled.films.put(b"third film")
    second = backup(filled, tmp_path / "copy", who="a")
    assert (second.films, second.database != first.database) == (3, True)
    assert not (tmp_path / "copy" / first.database).exists()
    restore_backup(tmp_path / "copy", tmp_path / "new", now=clock)
    with open_store(tmp_path / "new", now=clock) as new:
        assert new.cases.at("invented-1").diagnosis == "later"


def test_a_backup_while_others_save_holds_every_version_up_to_a_moment(filled, tmp_path, clock):
    done = threading.Event()

    def write():
        while not done.is_set():
            case, version = filled.cases.current("invented-1")
            filled.cases.save(replace(case, diagnosis=f"after {version}"), based_on=version, who="a", why="")

    writer = threading.Thread(target=write)
    writer.start()
    try:
        before = filled.cases.newest("invented-1")
        backup(filled, tmp_path / "copy", who="b")
    finally:
        done.set()
        writer.join()
    restore_backup(tmp_path / "copy", tmp_path / "new", now=clock)
    with open_store(tmp_path / "new", now=clock) as new:
        newest = new.cases.newest("invented-1")
        assert newest >= before
        for number in range(1, newest + 1):
            assert new.cases.document_at("invented-1", number) == filled.cases.document_at(
                "invented-1", number
            )


def test_films_are_linked_on_request(filled, tmp_path):
    backup(filled, tmp_path / "linked", who="a", link_films=True)
    backup(filled, tmp_path / "copied", who="a")
    sha256 = next(filled.films.all())
    inode = filled.films.path(sha256).stat().st_ino
    assert (tmp_path / "linked" / "films" / sha256).stat().st_ino == inode
    assert (tmp_path / "copied" / "films" / sha256).stat().st_ino != inode


def test_films_are_copied_where_links_are_not_possible(filled, tmp_path, monkeypatch):
    def no_link(*_):
        raise OSError("another disk")

    monkeypatch.setattr(backup_module.os, "link", no_link)
    assert backup(filled, tmp_path / "copy", who="a", link_films=True).films == 2


def test_a_damaged_film_is_named_and_the_good_copy_of_earlier_is_kept(filled, tmp_path, clock):
    backup(filled, tmp_path / "copy", who="a")
    sha256 = damage(filled)
    made = backup(filled, tmp_path / "copy", who="a")
    assert [f.id for f in made.findings] == ["store-film-damaged"]
    assert sha256[:12] in made.findings[0].words
    restore_backup(tmp_path / "copy", tmp_path / "new", now=clock)
    with open_store(tmp_path / "new", now=clock) as new:
        assert new.films.is_whole(sha256)


def test_a_film_damaged_in_the_backup_is_named_when_it_is_restored(filled, tmp_path, clock):
    backup(filled, tmp_path / "copy", who="a")
    path = tmp_path / "copy" / "films" / filled.cases.at("invented-1").films[0].sha256
    path.chmod(0o600)
    path.write_bytes(b"damaged")
    restored = restore_backup(tmp_path / "copy", tmp_path / "new", now=clock)
    assert [f.id for f in restored.findings] == ["store-film-damaged", "store-film-absent"]
    with open_store(tmp_path / "new", now=clock) as new:
        assert new.cases.at("invented-1") == filled.cases.at("invented-1")


def test_a_damaged_database_does_not_replace_a_good_backup(filled, tmp_path):
    good = backup(filled, tmp_path / "copy", who="a")
    with filled.engine.begin() as connection:
        connection.exec_driver_sql("DROP TRIGGER case_version_no_update")
        connection.exec_driver_sql("UPDATE case_version SET document = X'00'")
    with pytest.raises(Contradiction, match="no longer the one that was stored"):
        backup(filled, tmp_path / "copy", who="a")
    assert json.loads((tmp_path / "copy" / NOTE).read_text())["database"] == good.database
    assert (tmp_path / "copy" / good.database).is_file()


def test_a_folder_with_other_things_is_left_alone(filled, tmp_path):
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "letter.txt").write_text("dear")
    with pytest.raises(Refused, match=r"holds other things \(letter\.txt\)"):
        backup(filled, tmp_path / "letters", who="a")
    with pytest.raises(Refused, match=r"holds other things \(limbwright\.sqlite"):
        backup(filled, tmp_path / "practice", who="a")
    assert [p.name for p in (tmp_path / "letters").iterdir()] == ["letter.txt"]


def test_a_practice_is_never_restored_over(filled, tmp_path, clock):
    backup(filled, tmp_path / "copy", who="a")
    with pytest.raises(Refused, match="holds a practice already"):
        restore_backup(tmp_path / "copy", tmp_path / "practice", now=clock)


def test_what_is_no_backup_or_no_longer_one_is_refused(filled, tmp_path, clock):
    with pytest.raises(Missing, match=r"holds no backup\.json"):
        restore_backup(tmp_path, tmp_path / "new", now=clock)
    made = backup(filled, tmp_path / "copy", who="a")
    database = tmp_path / "copy" / made.database
    database.write_bytes(database.read_bytes()[:-1] + b"x")
    with pytest.raises(Contradiction, match="is not the one that was written"):
        restore_backup(tmp_path / "copy", tmp_path / "new", now=clock)
    note = json.loads((tmp_path / "copy" / NOTE).read_text())
    for odd in ("[", "{}", json.dumps({**note, "database": "../practice/limbwright.sqlite"})):
        (tmp_path / "copy" / NOTE).write_text(odd)
        with pytest.raises(Unreadable, match=r"backup\.json cannot be read"):
            restore_backup(tmp_path / "copy", tmp_path / "new", now=clock)
    assert not (tmp_path / "new" / "limbwright.sqlite").exists()


def everything(store):
    """All that a practice holds, value for value."""
    ids = list(store.cases.ids())
    return {
        "documents": {
            (case_id, number): store.cases.document_at(case_id, number)
            for case_id in ids
            for number in range(1, store.cases.newest(case_id) + 1)
        },
        "versions": {case_id: store.cases.versions(case_id) for case_id in ids},
        "beside": {
            case_id: store.cases.beside(case_id, store.cases.newest(case_id)) for case_id in store.cases.ids()
        },
        "users": store.users.all(),
        "films": sorted(store.films.all()),
        "audit": tuple(store.audit.all()),
    }


@pytest.fixture
def full(database, tmp_path, clock, invented, film):
    """A practice with versions, users, films and an audit log, on either kind of database."""
    cheap = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    with open_store(tmp_path / "full", database=database, now=clock, hasher=cheap) as store:
        sha256 = store.films.put(b"a film" * 100).sha256
        case = invented(films=(film(sha256=sha256),))
        store.cases.create(case, who="a", why="first", beside={"note": "ä"})
        for number in (1, 2):
            store.cases.save(replace(case, diagnosis=f"now {number}"), based_on=number, who="b", why="more")
        store.users.add("chief", PASSWORD, Role.SIGN, by="a")
        yield store


def test_a_practice_on_either_database_comes_back_whole(full, tmp_path, clock):
    backup(full, tmp_path / "copy", who="a")
    restore_backup(tmp_path / "copy", tmp_path / "new", now=clock)
    with open_store(tmp_path / "new", now=clock, hasher=full.users._hasher) as new:
        before, after = everything(full), everything(new)
        # The backup's own line is written once the backup counts, and so is not in it.
        assert after["audit"] == before["audit"][:-1]
        assert {**after, "audit": ()} == {**before, "audit": ()}
        assert new.users.check("chief", PASSWORD).role is Role.SIGN
        new.audit.note("a", Action.CASE_READ)
        assert tuple(new.audit.all())[-1].number == before["audit"][-2].number + 2  # after the sign-in


def test_a_backup_is_restored_into_postgresql(filled, tmp_path, clock, postgres_address):
    backup(filled, tmp_path / "copy", who="a")
    restore_backup(tmp_path / "copy", tmp_path / "new", database=postgres_address, now=clock)
    assert not list((tmp_path / "new").glob("*.sqlite*"))
    with open_store(tmp_path / "new", database=postgres_address, now=clock) as new:
        before, after = everything(filled), everything(new)
        assert {**after, "audit": ()} == {**before, "audit": ()}
        last = after["audit"][-1].number
        new.audit.note("a", Action.CASE_READ)
        assert tuple(new.audit.all())[-1].number == last + 1
    with pytest.raises(Refused, match="holds a practice already"):
        restore_backup(tmp_path / "copy", tmp_path / "again", database=postgres_address, now=clock)


def test_a_backup_of_postgresql_sees_one_moment(tmp_path, clock, invented, postgres_address):
    """A case saved while its older versions are being copied is whole in the copy or not there."""
    with open_store(tmp_path / "busy", database=postgres_address, now=clock) as store:
        case = invented()
        store.cases.create(case, who="a", why="")
        done = threading.Event()

        def write():
            number = 1
            while not done.is_set():
                number = store.cases.save(
                    replace(case, diagnosis=f"now {number}"), based_on=number, who="a", why=""
                )

        writer = threading.Thread(target=write)
        writer.start()
        try:
            backup(store, tmp_path / "copy", who="a")
        finally:
            done.set()
            writer.join()
        restore_backup(tmp_path / "copy", tmp_path / "new", now=clock)
        with open_store(tmp_path / "new", now=clock) as new:
            newest = new.cases.newest(case.id)
            assert [v.number for v in new.cases.versions(case.id)] == list(range(1, newest + 1))
            assert new.cases.at(case.id, newest) == store.cases.at(case.id, newest)
