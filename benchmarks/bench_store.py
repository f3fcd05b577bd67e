"""What a promise costs: saving, reading, listing and keeping films, beside the bare database and disk.

    python benchmarks/bench_store.py

Prints times and ratios measured in one run, best of several turns taken in alternation. A save is compared
with one bare SQLite transaction of the same bytes forced to disk, a film with writing and forcing its bytes.
"""

import os
import sqlite3
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

from limbwright.case.case import Case
from limbwright.case.document import case_to_json
from limbwright.case.patient import Patient
from limbwright.film.film import Film, FilmWall
from limbwright.growth.growth import Sex
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.view import Border, Surface
from limbwright.store.packed import packed
from limbwright.store.store import Store, open_store

TURNS = 15
FILM_BYTES = 54_000_000
CASES = 300


def case(identifier: str) -> Case:
    """A case with three films of eight traced walls of 300 points, as tracing makes them."""
    y_px = tuple(100.0 + 20.5 * n for n in range(300))
    borders = (Border.MEDIAL, Border.LATERAL)
    walls = tuple(
        FilmWall(
            side=side,
            bone=bone,
            surface=surface,
            border=border,
            x_px=tuple(1000.0 + 0.37 * n for n in range(300)),
            y_px=y_px,
        )
        for side in Side
        for bone in (Bone.FEMUR, Bone.TIBIA)
        for border, surface in zip(borders, Surface, strict=False)
    )
    films = tuple(
        Film(name=f"film {n}", projection=Projection.FRONTAL, width_px=3000, height_px=9000, walls=walls)
        for n in range(3)
    )
    patient = Patient(id="INVENTED", sex=Sex.FEMALE, birth_date=date(1998, 9, 14))
    return Case(id=identifier, invented=True, side=Side.LEFT, patient=patient, films=films)


def best_seconds(ways: dict[str, Callable[[], object]], turns: int = TURNS) -> dict[str, float]:
    """Best time of each way; ways take turns, so that a busy machine disturbs all alike."""
    best = dict.fromkeys(ways, float("inf"))
    for _ in range(turns):
        for name, way in ways.items():
            start = time.perf_counter()
            way()
            best[name] = min(best[name], time.perf_counter() - start)
    return best


def shown(seconds: dict[str, float], unit: str) -> None:
    """Print times and ratios to the first way."""
    first = next(iter(seconds.values()))
    print(unit)
    for name, took in seconds.items():
        print(f"  {name:48s} {took * 1e3:9.2f} ms   {took / first:7.2f} x")


def saving(store: Store, folder: Path) -> None:
    """Saving and reading beside one bare transaction."""
    subject = case("bench")
    store.cases.create(subject, who="bench", why="")
    bare = sqlite3.connect(folder / "bare.sqlite", isolation_level=None)
    bare.execute("PRAGMA journal_mode=WAL")
    bare.execute("PRAGMA synchronous=FULL")
    bare.execute("CREATE TABLE version (document BLOB)")
    document = case_to_json(subject)
    blob = packed(document)

    def save() -> None:
        current, version = store.cases.current("bench")
        changed = replace(current, diagnosis=f"version {version}")
        store.cases.save(changed, based_on=version, who="bench", why="")

    seconds = best_seconds(
        {
            "bare transaction, same bytes, forced to disk": lambda: bare.execute(
                "INSERT INTO version VALUES (?)", (blob,)
            ),
            "document to JSON": lambda: case_to_json(subject),
            "packing": lambda: packed(document),
            "newest version read": lambda: store.cases.current("bench"),
            "read, changed and saved": save,
            "two versions compared": lambda: store.cases.compare("bench", 1, store.cases.newest("bench")),
        }
    )
    bare.close()
    shown(seconds, f"A case of {len(document):,} bytes, {len(blob):,} packed")


def listing(store: Store) -> None:
    """The list of cases."""
    small = replace(case("x"), films=())
    for number in range(CASES):
        store.cases.create(replace(small, id=f"case-{number}"), who="bench", why="")
    shown(
        best_seconds(
            {
                "first 50 of all": lambda: store.listed(today=date(2026, 3, 1), most=50),
                "one found by a word": lambda: store.listed(today=date(2026, 3, 1), search="case-250"),
            }
        ),
        f"List of {CASES} cases",
    )


def films(store: Store, folder: Path) -> None:
    """A film kept and read beside the bare disk."""
    count = iter(range(10_000))

    def content() -> bytes:
        return next(count).to_bytes(8, "big") * (FILM_BYTES // 8)

    def plain() -> None:
        with (folder / "plain").open("wb") as file:
            file.write(content())
            file.flush()
            os.fsync(file.fileno())

    kept = store.films.put(content()).sha256
    seconds = best_seconds(
        {
            "written and forced to disk, no digest": plain,
            "kept: digest, forced, named": lambda: store.films.put(content()),
            "read without a check": store.films.path(kept).read_bytes,
            "read and checked": lambda: store.films.get(kept),
        },
        turns=5,
    )
    shown(seconds, f"A film of {FILM_BYTES:,} bytes")


def opening(home: Path) -> None:
    """Opening a store that is up to date."""
    shown(best_seconds({"store opened and closed": lambda: open_store(home).close()}), "Opening")


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with open_store(folder / "practice") as store:
            saving(store, folder)
            listing(store)
            films(store, folder)
        opening(folder / "practice")


if __name__ == "__main__":
    main()
