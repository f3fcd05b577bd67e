"""Both kinds of database for every test of the store: an SQLite file, and a PostgreSQL server of its own.

The server is Debian's package `postgresql`. As root it is installed when it is missing and runs as the user
`postgres`; otherwise what is missing is named and the test fails.
"""

import contextlib
import os
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import psycopg
import pytest
from argon2 import PasswordHasher
from sqlalchemy import URL, Engine

from limbwright.case.case import Case
from limbwright.case.patient import Patient
from limbwright.course.course import Course, Treatment
from limbwright.course.prescription import Phase, PhaseKind, Prescription
from limbwright.film.film import Film, Mark
from limbwright.growth.growth import Sex
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.plan.goal import BoneChoice, Goal
from limbwright.store.engine import SQLITE_FILE, make_engine
from limbwright.store.store import Store, open_store

START = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
CHEAP = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
"""Hashes in a moment; what it costs to guess is not what these tests are about."""


@dataclass
class Clock:
    """A clock that the test sets; each look moves it by a second, so that no two moments are the same."""

    moment: datetime = START

    def __call__(self) -> datetime:
        self.moment += timedelta(seconds=1)
        return self.moment

    def pass_by(self, **time: float) -> None:
        """Let time pass."""
        self.moment += timedelta(**time)


@pytest.fixture
def clock() -> Clock:
    return Clock()


def postgres_programs() -> Path:
    """Folder of initdb and postgres; installed by root when missing."""

    def found() -> list[Path]:
        return sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda p: int(p.parent.name))

    if not found() and os.geteuid() == 0:
        quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
        for command in (["update"], ["install", "-y", "--no-install-recommends", "postgresql"]):
            subprocess.run(["apt-get", "-q", *command], check=True, env=quiet, capture_output=True)
    if not found():
        pytest.fail("The PostgreSQL server is missing. As root: apt-get install postgresql.")
    return found()[-1]


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    """Address of the maintenance database of a server that this test run started."""
    programs = postgres_programs()
    user = "postgres" if os.geteuid() == 0 else None
    folder = Path(tempfile.mkdtemp(prefix="limbwright-postgres-"))
    if user is not None:
        shutil.chown(folder, user, user)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    cluster = folder / "cluster"
    subprocess.run(
        [programs / "initdb", "-D", cluster, "-U", "limbwright", "-A", "trust", "-E", "UTF8", "--no-sync"],
        check=True,
        user=user,
        capture_output=True,
    )
    options = [
        "-h",
        "127.0.0.1",
        "-p",
        str(port),
        "-k",
        str(folder),
        "-c",
        "fsync=off",
        "-c",
        "client_min_messages=warning",
    ]
    with (folder / "log").open("wb") as log:
        server = subprocess.Popen(
            [programs / "postgres", "-D", cluster, *options], user=user, stdout=log, stderr=log
        )
    address = f"postgresql://limbwright@127.0.0.1:{port}/postgres"
    try:
        _wait_for(address, server, folder / "log")
        yield address
    finally:
        server.send_signal(signal.SIGQUIT)  # the server's word for: stop at once; its data are thrown away
        server.wait(30)
        shutil.rmtree(folder, ignore_errors=True)


def _wait_for(address: str, server: "subprocess.Popen[bytes]", log: Path) -> None:
    for _ in range(300):
        with contextlib.suppress(psycopg.OperationalError), psycopg.connect(address):
            return
        if server.poll() is not None:
            break
        time.sleep(0.1)
    pytest.fail(f"The PostgreSQL server did not start: {log.read_text()[-2000:]}")


@pytest.fixture
def postgres_address(postgres_server: str) -> str:
    """Address of an empty database; whatever an earlier test left there is dropped."""
    with psycopg.connect(postgres_server, autocommit=True) as connection:
        connection.execute("DROP SCHEMA public CASCADE")
        connection.execute("CREATE SCHEMA public")
    return postgres_server


@pytest.fixture
def engine_at() -> Iterator[Callable[[str | URL], Engine]]:
    """Makes engines and gives their connections back."""
    made: list[Engine] = []

    def make(address: str | URL) -> Engine:
        made.append(make_engine(address))
        return made[-1]

    yield make
    for engine in made:
        engine.dispose()


@pytest.fixture(params=["sqlite", "postgresql"])
def database(request: pytest.FixtureRequest) -> str | None:
    """None for the SQLite file in the folder of the practice, an address for PostgreSQL."""
    return None if request.param == "sqlite" else request.getfixturevalue("postgres_address")


@pytest.fixture(scope="session")
def empty_practice(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty database of the newest revision, to be copied: making one takes longer than most tests."""
    home = tmp_path_factory.mktemp("empty practice")
    open_store(home).close()
    return home / SQLITE_FILE


@pytest.fixture
def home(tmp_path: Path, empty_practice: Path) -> Path:
    """Folder of an empty practice on SQLite."""
    made = tmp_path / "practice"
    made.mkdir(mode=0o700)
    shutil.copy(empty_practice, made)
    return made


@pytest.fixture
def store(home: Path, database: str | None, clock: Clock) -> Iterator[Store]:
    """An empty store on either database."""
    with open_store(home, database=database, now=clock, hasher=CHEAP) as opened:
        yield opened


@pytest.fixture
def local_store(home: Path, clock: Clock) -> Iterator[Store]:
    """An empty store on SQLite, for what does not depend on the database."""
    with open_store(home, now=clock, hasher=CHEAP) as opened:
        yield opened


@pytest.fixture(scope="session")
def film() -> Callable[..., Film]:
    """Makes a frontal film with both ends of the left tibia, enough to measure."""
    return frontal_film


@pytest.fixture(scope="session")
def invented() -> Callable[..., Case]:
    """Makes an invented case with a measurable film and a goal; `film`s and other fields can be given."""
    return invented_case


@pytest.fixture(scope="session")
def course() -> Callable[..., Course]:
    """Makes a course: latency 7 days, then 35 mm at 1 mm a day, films on days 14, 28 and 42."""
    return tibia_course


def frontal_film(name: str = "standing frontal", **fields: object) -> Film:
    marks = {
        Landmark.TIBIA_KNEE_CENTRE: Mark(x_px=2500, y_px=4000),
        Landmark.ANKLE_CENTRE: Mark(x_px=2500, y_px=7600),
    }
    given = {"width_px": 4000, "height_px": 9000, "projection": Projection.FRONTAL, "left": marks, **fields}
    return Film(name=name, taken_on=date(2026, 3, 1), **given)  # type: ignore[arg-type]


def invented_case(identifier: str = "invented-1", **fields: object) -> Case:
    given = {
        "invented": True,
        "side": Side.LEFT,
        "patient": Patient(id="INVENTED", sex=Sex.FEMALE, birth_date=date(1998, 9, 14)),
        "films": (frontal_film(),),
        "goal": Goal(bones=(BoneChoice(bone=Bone.TIBIA, lengthening_mm=35.0),)),
        **fields,
    }
    return Case(id=identifier, **given)  # type: ignore[arg-type]


def tibia_course(operated_on: date = date(2026, 3, 16), **fields: object) -> Course:
    prescription = Prescription(
        bone=Bone.TIBIA,
        latency_days=7,
        phases=(Phase(kind=PhaseKind.STEADY, step_mm=0.25, steps_per_day=4),),
        target_mm=35.0,
        film_interval_days=14,
    )
    treatment = Treatment(operated_on=operated_on, prescription=prescription)
    return Course(treatments=(treatment,), **fields)  # type: ignore[arg-type]
