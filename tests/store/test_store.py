"""Opening a store, and what survives when the program is killed while it writes."""

import random
import signal
import sqlite3
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from limbwright.error import Unreadable
from limbwright.store.store import open_store
from limbwright.store.trouble import Unavailable

WRITER = '''
"""Saves without end and prints each version once it was acknowledged."""
import sys
from dataclasses import replace
from pathlib import Path
from limbwright.store.store import open_store

with open_store(Path(sys.argv[1]), database=sys.argv[2] or None) as store:
    case, version = store.cases.current("invented-1")
    print("open", flush=True)
    while True:
        film = store.films.put(f"film of version {version + 1}".encode() * 5000)
        case = replace(case, diagnosis=f"version {version + 1}, film {film.sha256}")
        version = store.cases.save(case, based_on=version, who="writer", why="again")
        print(version, film.sha256, flush=True)
'''


def test_a_practice_is_its_owners_alone(tmp_path):
    with open_store(tmp_path / "a" / "practice") as store:
        assert store.now().tzinfo is not None
    home = tmp_path / "a" / "practice"
    assert stat.S_IMODE(home.stat().st_mode) == 0o700
    assert stat.S_IMODE((home / "limbwright.sqlite").stat().st_mode) == 0o600
    assert sorted(p.name for p in home.iterdir()) == ["films", "limbwright.sqlite"]


def test_what_was_written_is_there_when_it_is_opened_again(tmp_path, invented, clock):
    with open_store(tmp_path, now=clock) as store:
        store.cases.create(invented(), who="a", why="")
    with open_store(tmp_path, now=clock) as store:
        assert store.cases.at("invented-1") == invented()


def test_a_file_of_another_kind_is_left_as_it_is(tmp_path):
    (tmp_path / "limbwright.sqlite").write_bytes(b"something else entirely" * 50)
    with pytest.raises(Unreadable, match="damaged"):
        open_store(tmp_path)
    assert (tmp_path / "limbwright.sqlite").read_bytes().startswith(b"something else")


def test_a_folder_that_cannot_be_made_and_an_address_that_is_none_are_named(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(Unavailable, match="folder of the practice cannot be written to"):
        open_store(tmp_path / "file" / "practice")
    with pytest.raises(Unreadable, match="address of the database"):
        open_store(tmp_path, database="nonsense")


def test_killed_at_any_moment_it_keeps_what_it_acknowledged(tmp_path, invented, database):
    """Killed without warning; every acknowledged version and film is there, and nothing is broken."""
    home = tmp_path / "practice"
    with open_store(home, database=database) as store:
        store.cases.create(invented(), who="a", why="")
    acknowledged: dict[int, str] = {}
    moments = random.Random(7)
    for _ in range(4):
        writer = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(home), database or ""],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        with writer:
            assert writer.stdout is not None
            assert writer.stdout.readline() == "open\n", writer.stderr.read()
            time.sleep(moments.uniform(0.0, 0.6))
            writer.send_signal(signal.SIGKILL)
            # A line without its end was not acknowledged to anybody.
            for line in writer.stdout.read().split("\n")[:-1]:
                version, sha256 = line.split()
                acknowledged[int(version)] = sha256
    assert len(acknowledged) > 5
    time.sleep(0.3)  # a server may still be finishing what the last writer asked for
    with open_store(home, database=database) as store:
        newest = store.cases.newest("invented-1")
        assert newest >= max(acknowledged)
        assert [v.number for v in store.cases.versions("invented-1")] == list(range(1, newest + 1))
        for version, sha256 in acknowledged.items():
            expected = f"version {version}, film {sha256}"
            assert store.cases.at("invented-1", version).diagnosis == expected
            assert store.films.get(sha256) == f"film of version {version}".encode() * 5000
        assert all(store.films.is_whole(sha256) for sha256 in store.films.all())
    if database is not None:
        return
    with sqlite3.connect(Path(home) / "limbwright.sqlite") as raw:
        assert raw.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert raw.execute("PRAGMA foreign_key_check").fetchall() == []
    raw.close()
