"""The workbench over HTTP: the first picture of a large film, and recalculation under the hand.

    python benchmarks/bench_web.py

Starts the server on a free port with its own folder, and asks it through a real HTTP client. Prints times
beside the
targets (first picture of a 3000 x 9000 film of 14 bits within 500 ms of opening; a drag within 30 ms at
the 95th
percentile), and ratios measured in the same run, which mean the same on a busy machine.
"""

import os
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx
import numpy as np

from bench_film_reading import BITS, COLUMNS, ROWS, film
from limbwright.case.case import Case
from limbwright.cli import demo_films
from limbwright.cli.demo_patients import ADULT_FEMUR_AND_TIBIA, ADULT_TIBIA, DemoPatient
from limbwright.store.store import open_store

FILMS = 4
DRAGS = 120
FIRST_PICTURE_MS, DRAG_MS = 500.0, 30.0
DIGITS_OF_FILM = 200  # bytes at the end of a film that make each copy another film


@dataclass(frozen=True)
class Timed:
    """Times of one kind of request. [ms]"""

    name: str
    milliseconds: tuple[float, ...]
    target_ms: float | None = None

    def at(self, percent: float) -> float:
        return float(np.percentile(self.milliseconds, percent))


def timed(name: str, asks: list[Callable[[], httpx.Response]], target_ms: float | None = None) -> Timed:
    taken = []
    for ask in asks:
        start = time.perf_counter()
        answer = ask()
        taken.append(1000 * (time.perf_counter() - start))
        if answer.status_code >= 400:
            raise SystemExit(f"{name}: {answer.status_code} {answer.text[:300]}")
    return Timed(name, tuple(taken), target_ms)


@contextmanager
def server(home: Path) -> Iterator[httpx.Client]:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    run = [sys.executable, "-c", "from limbwright.cli.main import main; main()"]
    process = subprocess.Popen(
        [*run, "serve", "--home", str(home), "--port", str(port)], stdout=subprocess.DEVNULL
    )
    try:
        with httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=120) as client:
            _wait(client, process)
            client.headers["X-CSRF-Token"] = client.get("/api/session").json()["csrf"]
            yield client
    finally:
        process.terminate()
        process.wait(timeout=30)


def _wait(client: httpx.Client, process: "subprocess.Popen[bytes]") -> None:
    for _ in range(300):
        if process.poll() is not None:
            raise SystemExit("the server did not start")
        try:
            client.get("/api/health")
        except httpx.TransportError:
            time.sleep(0.1)
        else:
            return
    raise SystemExit("the server does not answer")


def fill(home: Path, patients: tuple[DemoPatient, ...]) -> None:
    demo_films.PIXEL_MM = 2.0  # coarse films are taken quickly; a drag does not look at the picture
    with open_store(home) as store:
        for patient in patients:
            taken = demo_films.films_of(patient)
            for _, content in taken:
                store.films.put(content)
            case = Case(
                id=patient.id,
                invented=True,
                side=patient.side,
                diagnosis=patient.diagnosis,
                patient=patient.patient,
                films=tuple(one for one, _ in taken),
                examination=patient.examination,
                goal=patient.goal,
            )
            store.cases.create(case, who="bench", why="invented demo case")


def film_times(client: httpx.Client) -> list[Timed]:
    content = film("MONOCHROME1")
    digests = []
    for number in range(FILMS + 1):
        own = content[:-DIGITS_OF_FILM] + bytes([number + 1] * DIGITS_OF_FILM)
        answer = client.post("/api/films", files=[("files", (f"{number}.dcm", own))])
        digests.append(answer.json()["films"][0]["sha256"])

    def tile(sha256: str, level: int, window: str = "") -> Callable[[], httpx.Response]:
        return lambda: client.get(f"/films/{sha256}/tiles/{level}/0_0.jpg{window}")

    tile(digests[0], 0)()  # libraries are imported by the first film, once in the server's life
    rest = digests[1:]
    return [
        timed("first picture of a film", [tile(s, 0) for s in rest], FIRST_PICTURE_MS),
        timed("a full-size tile of it", [tile(s, 5) for s in rest]),
        timed("the picture at another window", [tile(s, 0, "?c=6000&w=4000") for s in rest]),
        timed("a tile that was shown before", [tile(s, 0) for s in rest]),
    ]


def drag_times(client: httpx.Client, case_id: str) -> list[Timed]:
    document = client.get(f"/api/cases/{case_id}").json()["case"]

    def plan() -> httpx.Response:
        return client.post("/api/work/plan", json={"session": "b", "case": document})

    planned = plan().json()
    kinds = _changes(document, planned)

    def drag(change: dict[str, Any]) -> Callable[[], httpx.Response]:
        body = {"session": "b", "base": planned["base"], "change": change}
        return lambda: client.post("/api/work/drag", json=body)

    times = [timed("the whole plan", [plan] * 5)]
    for name, changes in kinds.items():
        for change in changes[:3]:
            drag(change)()
        times.append(timed(f"drag {name}", [drag(c) for c in changes], DRAG_MS))
    return times


def _changes(document: dict[str, Any], planned: dict[str, Any]) -> dict[str, list[dict[str, Any]]]:
    """As a hand moves: a little farther each time, there and back."""
    bone = planned["plan"]["bones"][0]
    side = document["side"]
    mark = document["films"][0][side]["tibia_distal_shaft_upper"]
    lower = bone["path"]["distal"][1]
    steps = 8 * np.sin(np.linspace(0, 6, DRAGS))
    name = {"bone": bone["bone"]}
    level, gain = bone["osteotomy"]["below_joint_mm"], bone["lengthening_mm"]
    landmark = {"kind": "landmark", "film": "frontal", "side": side, "landmark": "tibia_distal_shaft_upper"}
    path = {"kind": "path", "fragment": "distal", "end": "lower", "projection": "frontal", **name}
    screw = {"kind": "add-blocking-screw", "fragment": "proximal", "side": "lateral", **name}
    return {
        "a landmark": [{**landmark, "x_px": mark["x_px"] + s / 8, "y_px": mark["y_px"]} for s in steps],
        "the osteotomy": [{"kind": "osteotomy", **name, "below_joint_mm": level + s} for s in steps],
        "the lengthening": [
            {"kind": "lengthening", **name, "lengthening_mm": min(50.0, gain + s)} for s in steps
        ],
        "an end of the line": [{**path, "across_mm": lower["lateral_mm"] + s / 4} for s in steps],
        "a blocking screw": [{**screw, "from_osteotomy_mm": 18 + s} for s in steps],
    }


def show(title: str, times: list[Timed], one_ms: float) -> None:
    print(f"\n{title}")
    print(f"  {'':32} {'median':>9} {'95 %':>9} {'target':>9}   ÷ bare request")
    for item in times:
        target = "" if item.target_ms is None else f"{item.target_ms:.0f} ms"
        verdict = ""
        if item.target_ms is not None:
            verdict = "met" if item.at(95) <= item.target_ms else "MISSED"
        print(
            f"  {item.name:32} {item.at(50):6.1f} ms {item.at(95):6.1f} ms {target:>9}"
            f"   {item.at(50) / one_ms:6.1f}   {verdict}"
        )


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory(prefix="limbwright-bench-") as folder:
        home = Path(folder)
        fill(home, (ADULT_TIBIA, ADULT_FEMUR_AND_TIBIA))
        with server(home) as client:
            load = os.getloadavg()[0]
            print(f"{load:.1f} programs want {os.cpu_count()} processors; times mean little above that.")
            bare = timed("bare request", [lambda: client.get("/api/health")] * 100)
            one_ms = bare.at(50)
            show("The server alone", [bare], one_ms)
            show(f"A film of {COLUMNS} x {ROWS} px, {BITS} bits", film_times(client), one_ms)
            show("One bone", drag_times(client, ADULT_TIBIA.id), one_ms)
            show("Femur and tibia", drag_times(client, ADULT_FEMUR_AND_TIBIA.id), one_ms)


if __name__ == "__main__":
    main()
