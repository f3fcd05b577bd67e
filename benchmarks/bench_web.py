"""The workbench over HTTP: the first picture of a large film, and recalculation under the hand.

    python benchmarks/bench_web.py

Starts the server on a free port with its own folder, and asks it through a real HTTP client. Prints times
beside the targets (first picture of a 3000 x 9000 film of 14 bits within 500 ms of opening; a drag within
30 ms and a snap within 150 ms at the 95th percentile), and ratios measured in the same run, which mean the
same on a busy machine.
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
from io import BytesIO
from pathlib import Path
from typing import Any

import httpx
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from bench_film_reading import BITS, COLUMNS, ROWS, film
from limbwright.cli import demo_films
from limbwright.cli.demo_patients import ADULT_FEMUR_AND_TIBIA, ADULT_TIBIA, DemoPatient
from limbwright.store.store import open_store

FILMS = 4
DRAGS = 120
SNAPS = 40
FIRST_PICTURE_MS, DRAG_MS, SNAP_MS = 500.0, 30.0, 150.0
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
            case, films = demo_films.invented_case(patient)
            for content in films:
                store.films.put(content)
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


def drawn_film(pixel_mm: float = 0.15) -> NDArray[np.uint16]:
    """A film of 450 x 1350 mm on which a hollow shaft, a calibration ball and a round head are drawn."""
    rows, columns = round(1350 / pixel_mm), round(450 / pixel_mm)
    x = (np.arange(columns) - 0.3 * columns) * pixel_mm

    def chord(radius_mm: float) -> NDArray[np.float64]:
        return 2 * np.sqrt(np.clip(radius_mm**2 - x**2, 0, None))

    film_grey = np.tile(3000 + 60 * (chord(13.0) - chord(6.0)), (rows, 1))
    for at_x, at_y, radius, more in ((0.7, 0.5, 12.5, 9000.0), (0.7, 0.2, 24.0, 3000.0)):
        row, column = round(at_y * rows), round(at_x * columns)
        half = round((radius + 4) / pixel_mm)
        down, over = np.mgrid[-half : half + 1, -half : half + 1] * pixel_mm
        away = np.hypot(down, over)
        dome = np.sqrt(np.clip(1 - (away / radius) ** 2, 0, None))
        film_grey[row - half : row + half + 1, column - half : column + half + 1] += more * dome
    noise = np.random.Generator(np.random.PCG64(3)).integers(0, 80, film_grey.shape)
    grey: NDArray[np.uint16] = (film_grey + noise).astype(np.uint16)
    return grey


def assist_times(client: httpx.Client) -> list[Timed]:
    """Snaps and traces on a large film that is decoded already."""
    pixel_mm = 0.15
    grey = drawn_film(pixel_mm)
    rows, columns = grey.shape
    out = BytesIO()
    Image.fromarray(grey).save(out, "PNG", compress_level=1)
    answer = client.post("/api/films", files=[("files", ("drawn.png", out.getvalue()))])
    sha256 = answer.json()["films"][0]["sha256"]
    at = {"x_px": 0.7 * columns, "y_px": 0.5 * rows}
    ball = {"diameter_mm": 25.0, "centre": at, "radius_px": 12.5 / pixel_mm}
    record = {
        "name": "frontal",
        "sha256": sha256,
        "projection": "frontal",
        "width_px": columns,
        "height_px": rows,
        "scale": {"ball": ball},
    }
    shaft = 0.3 * columns

    def ask(call: str, **question: Any) -> Callable[[], httpx.Response]:
        body = {"film": record, "side": "left", **question}
        return lambda: client.post(f"/api/films/{sha256}/{call}", json=body)

    def snap(landmark: str, x: float, y: float) -> Callable[[], httpx.Response]:
        return ask("snap", what="landmark", landmark=landmark, clicks_px=[[x, y]])

    steps = [float(s) for s in 12 * np.sin(np.linspace(0, 6, SNAPS))]
    kinds = {
        "snap a shaft point": [snap("tibia_middle_shaft_upper", shaft + s, 0.5 * rows) for s in steps],
        "snap a head": [snap("femoral_head_centre", at["x_px"] + s, 0.2 * rows) for s in steps],
        "snap the ball": [
            ask("snap", what="calibration ball", diameter_mm=25.0, clicks_px=[[at["x_px"] + s, at["y_px"]]])
            for s in steps
        ],
    }
    times = []
    for name, asks in kinds.items():
        asks[0]()
        times.append(timed(name, asks, SNAP_MS))
    trace = ask("trace", bone="tibia", clicks_px=[[shaft, 0.3 * rows], [shaft + 9, 0.6 * rows]])
    trace()
    return [*times, timed("trace 400 mm of shaft", [trace] * 10)]


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
    pin = {"kind": "pin", "index": 0, **name}
    held = bone["pins"][0]["below_joint_mm"] if bone["pins"] else 0.0
    screw = {"kind": "add-blocking-screw", "fragment": "proximal", "side": "lateral", **name}
    return {
        "a landmark": [{**landmark, "x_px": mark["x_px"] + s / 8, "y_px": mark["y_px"]} for s in steps],
        "the osteotomy": [{"kind": "osteotomy", **name, "below_joint_mm": level + s} for s in steps],
        "the lengthening": [
            {"kind": "lengthening", **name, "lengthening_mm": min(50.0, gain + s)} for s in steps
        ],
        "an end of the line": [{**path, "across_mm": lower["lateral_mm"] + s / 4} for s in steps],
        "a blocking screw": [{**screw, "from_osteotomy_mm": 18 + s} for s in steps],
        **({"a pin": [{**pin, "below_joint_mm": held + s} for s in steps]} if bone["pins"] else {}),
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
            show("Assisted reading of a film of 3000 x 9000 px", assist_times(client), one_ms)
            show("One bone", drag_times(client, ADULT_TIBIA.id), one_ms)
            show("Femur and tibia", drag_times(client, ADULT_FEMUR_AND_TIBIA.id), one_ms)


if __name__ == "__main__":
    main()
