"""A browser and a workbench with the invented cases in it."""

import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--force-color-profile=srgb",
)
CHROMIUM = Path("/usr/bin/chromium")
expect.set_options(timeout=20_000)  # the machine may be busy with other tests
SERVE = "from limbwright.cli.serve import command; command()"


def chromium() -> Path:
    """Debian's Chromium, installed when that is possible."""
    if CHROMIUM.exists():
        return CHROMIUM
    if os.geteuid() != 0 or shutil.which("apt-get") is None:
        pytest.fail("The journeys need Debian's package 'chromium': apt-get install chromium")
    subprocess.run(["apt-get", "update", "-qq"], check=True, capture_output=True)
    subprocess.run(
        ["apt-get", "install", "-qq", "-y", "--no-install-recommends", "chromium"],
        check=True,
        capture_output=True,
        env={**os.environ, "DEBIAN_FRONTEND": "noninteractive"},
    )
    return CHROMIUM


@dataclass
class Workbench:
    """A server of its own; it can be killed and started again on the same store and port."""

    home: Path
    port: int
    process: subprocess.Popen[bytes] | None = field(default=None)

    @property
    def url(self) -> str:
        """Where it answers."""
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Start it and wait until it is ready."""
        self.process = subprocess.Popen(
            [sys.executable, "-c", SERVE, "--home", str(self.home), "--port", str(self.port)],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        for _ in range(400):
            try:
                with urllib.request.urlopen(f"{self.url}/api/health", timeout=2):
                    return
            except (urllib.error.URLError, OSError):
                if self.process.poll() is not None:
                    raise RuntimeError(f"the server ended with code {self.process.returncode}") from None
                time.sleep(0.1)
        raise TimeoutError("the server did not become ready in 40 s")

    def kill(self) -> None:
        """End it at once, as a power cut would."""
        if self.process is not None:
            self.process.send_signal(signal.SIGKILL)
            self.process.wait()
            self.process = None


@pytest.fixture(scope="session")
def demo_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with the invented cases, made once for all workers."""
    shared = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        shared = shared.parent
    home, lock, ready = shared / "journey-store", shared / "journey-lock", shared / "journey-ready"
    try:
        lock.mkdir()
    except FileExistsError:
        for _ in range(1200):
            if ready.exists():
                return home
            time.sleep(0.1)
        raise TimeoutError("another worker did not finish the demo store in 120 s") from None
    from limbwright.cli.demo_store import fill_with_demo
    from limbwright.store.store import open_store

    home.mkdir()
    with open_store(home) as store:
        fill_with_demo(store)
    ready.touch()
    return home


@pytest.fixture(scope="module")
def stopped_workbench(demo_store: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Workbench]:
    """A workbench on a copy of the demo store, not started yet."""
    home = tmp_path_factory.mktemp("home") / "store"
    shutil.copytree(demo_store, home)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    bench = Workbench(home, port)
    yield bench
    bench.kill()


@pytest.fixture(scope="module")
def workbench(stopped_workbench: Workbench) -> Workbench:
    """A running workbench on a copy of the demo store."""
    stopped_workbench.start()
    return stopped_workbench


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser per file."""
    with sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path=str(chromium()), args=list(FLAGS))
        yield found
        found.close()


@pytest.fixture
def open_page(browser: Browser, workbench: Workbench) -> Iterator[Callable[..., Page]]:
    """Open pages in windows of their own; script errors and refused content fail the test."""
    contexts, troubles = [], []

    def opened(
        path: str, *, wide: int = 1280, high: int = 800, room: str = "light", policy: bool = True
    ) -> Page:
        context = browser.new_context(
            viewport={"width": wide, "height": high},
            color_scheme=room,
            reduced_motion="reduce",
            bypass_csp=not policy,
        )
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(15_000)
        page.on("pageerror", lambda error: troubles.append(str(error)))
        page.on(
            "console",
            lambda said: troubles.append(said.text) if "Content Security Policy" in said.text else None,
        )
        page.goto(f"{workbench.url}{path}")
        page.wait_for_selector("html[data-ready=true]")
        return page

    yield opened
    for context in contexts:
        context.close()
    assert not troubles


@dataclass
class Hands:
    """What a surgeon does on the light table."""

    page: Page
    truth: dict[str, Any]
    """Landmark pixels by film name, side and landmark."""

    def wait_for_plan(self) -> None:
        """Until the time strip is there: everything has been measured, planned and laid out in days."""
        self.page.wait_for_selector(".strip-face", timeout=30_000)
        self.page.wait_for_selector(".panel-body .computing", state="detached")

    def wait_until_saved(self, version: int | None = None) -> None:
        """Until the server has acknowledged everything."""
        words = re.compile(r"saved, version \d+" if version is None else rf"saved, version {version}\b")
        expect(self.page.locator("#save-state .save")).to_have_text(words, timeout=20_000)

    def landmark_asked_for(self) -> tuple[str, str, str] | None:
        """Film, side and landmark that the guide wants placed now."""
        row = self.page.locator(".guide-row button[aria-pressed=true]")
        if row.count() == 0:
            return None
        film, side, landmark = row.first.get_attribute("data-task").split("/")
        return film, side, landmark

    def film_says(self) -> str:
        """Wait until the film was looked at: `proposed`, `poor`, or `settled` when nothing is to decide."""
        page = self.page
        expect(page.locator(".guide-now .waiting")).to_have_count(0)
        if page.locator(".film-says.poor").count():
            return "poor"
        return "proposed" if page.locator(".film-says").count() else "settled"

    def pane_of(self, film: str) -> Any:
        """The pane that shows a film."""
        return self.page.locator(f'[data-pane="{film.split(maxsplit=1)[0]}"]')

    def place_by_mouse(self, film: str, side: str, landmark: str) -> bool:
        """Click where the landmark lies; False when it is not known where it is."""
        mark = self.truth[film][side].get(landmark)
        if mark is None:
            return False
        pane = self.pane_of(film)
        (a, b, c), (d, e, f) = json.loads(pane.get_attribute("data-screen-from-px"))
        box = pane.bounding_box()
        x, y = mark["x_px"], mark["y_px"]
        self.page.mouse.click(box["x"] + a * x + b * y + c, box["y"] + d * x + e * y + f)
        return True

    def place_by_keys(self, film: str, side: str, landmark: str, *, pixels_per_mm: float) -> bool:
        """Move the cross there with the arrow keys and set the landmark."""
        mark = self.truth[film][side].get(landmark)
        if mark is None:
            return False
        pane = self.pane_of(film)
        expect(pane).to_be_focused()
        for keys, step_mm in (("Shift+", 10.0), ("", 1.0)):
            at_x, at_y = json.loads(pane.get_attribute("data-cross-px"))
            across, down = (mark["x_px"] - at_x) / pixels_per_mm, (mark["y_px"] - at_y) / pixels_per_mm
            for amount, more, less in ((across, "ArrowRight", "ArrowLeft"), (down, "ArrowDown", "ArrowUp")):
                for _ in range(abs(round(amount / step_mm))):
                    self.page.keyboard.press(f"{keys}{more if amount > 0 else less}")
        self.page.keyboard.press("Enter")
        return True


@pytest.fixture
def hands_on() -> Callable[[Page], Hands]:
    """Hands that know where the landmarks of the first invented case lie."""

    def made(page: Page) -> Hands:
        case = page.evaluate("fetch('/api/cases/demo-a').then(a => a.json())")["case"]
        truth = {f["name"]: {side: f.get(side, {}) for side in ("left", "right")} for f in case["films"]}
        return Hands(page, truth)

    return made


@pytest.fixture(scope="session")
def demo_films(tmp_path_factory: pytest.TempPathFactory, demo_store: Path) -> list[Path]:
    """The first invented patient's films as files, as an archive would hand them out."""
    from limbwright.store.store import open_store

    folder = tmp_path_factory.mktemp("films")
    with open_store(demo_store) as store:
        case, _ = store.cases.current("demo-a")
        found = []
        for film in case.films:
            path = folder / f"{film.name.replace(' ', '-')}.dcm"
            path.write_bytes(store.films.get(film.sha256))
            found.append(path)
    return found
