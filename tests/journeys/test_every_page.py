"""Every page: nothing that axe finds wrong, and pictures at three sizes to be looked at."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

HERE = Path(__file__).parent
AXE = (HERE / "vendor" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")
SCREENS = HERE.parents[1] / "out" / "screens"
PAGES = {
    "cases": "/cases",
    "table": "/cases/demo-a/table",
    "operation": "/cases/demo-a/operation",
    "sheet": "/cases/demo-a/sheet",
    "history": "/cases/demo-a/history",
    "profile": "/profile",
    "catalogue": "/catalogue",
    "keys": "/keys",
    "audit": "/audit",
    "login": "/login",
    "error": "/cases/none/table",
}
ON_THE_FILM = 'class="handle '
"""Things on a film lie where the bone has them, as pins do on a map: WCAG 2.5.8 allows it."""
WORKING_OUT = 120_000
"""Search and forecast take seconds, and longer when their kernels are compiled first. [ms]"""
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def faults(page: Page) -> list[str]:
    """What axe finds, one line each."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)
    found = page.evaluate("rules => axe.run(document, {runOnly: rules})", RULES)
    return [
        f"{one['id']}: {' '.join(map(str, node['target']))}: {node['failureSummary']}"
        for one in found["violations"]
        for node in one["nodes"]
        if not (one["id"] == "target-size" and ON_THE_FILM in node["html"])
    ]


@pytest.mark.parametrize("name", PAGES)
def test_nothing_that_axe_finds(open_page: Callable[..., Page], hands_on: Any, name: str) -> None:
    """WCAG 2.2 AA as far as a machine sees it, in light and dark rooms, on every panel of the light table."""
    page = open_page(PAGES[name], policy=False)  # axe puts styles of its own in
    if name == "table":
        hands_on(page).wait_for_plan()
        page.wait_for_selector(".candidate", timeout=WORKING_OUT)
        page.wait_for_selector(".forecast-words", timeout=WORKING_OUT)
    for room in ("light", "dark"):
        assert page.evaluate("document.documentElement.dataset.room") == room
        for key in "123456" if name == "table" else "-":
            page.keyboard.press(key)
            assert faults(page) == []
        page.locator("#room").click()


def test_nothing_that_axe_finds_while_films_are_read(open_page: Callable[..., Page], hands_on: Any) -> None:
    """A proposal that waits, walls being traced, candidates side by side: the same in both rooms."""
    page = open_page(PAGES["table"], policy=False)
    hands_on(page).wait_for_plan()
    page.wait_for_selector(".candidate", timeout=WORKING_OUT)

    def both_rooms() -> None:
        for _ in range(2):
            assert faults(page) == []
            page.evaluate("document.querySelector('#room').click()")

    page.locator("#compare-candidates").click()
    both_rooms()
    page.keyboard.press("Escape")
    page.keyboard.press("2")
    page.locator("[data-trace='frontal/tibia']").evaluate("e => e.click()")
    expect(page.locator("#take-walls")).to_be_enabled()
    both_rooms()
    page.keyboard.press("Escape")
    page.locator("[data-task='frontal/left/ankle_centre']").evaluate("e => e.click()")
    hands_on(page).place_by_mouse("frontal", "left", "ankle_centre")
    expect(page.locator("#take-proposal")).to_be_visible()
    both_rooms()


@pytest.mark.parametrize("size", [(1280, 800), (1920, 1080), (3840, 2160)], ids=lambda s: f"{s[0]}x{s[1]}")
def test_pictures_to_look_at(open_page: Callable[..., Page], hands_on: Any, size: tuple[int, int]) -> None:
    """The light table fits the window at every size: nothing scrolls sideways, the films are the page."""
    SCREENS.mkdir(parents=True, exist_ok=True)
    for name, path in PAGES.items():
        if size[0] > 1280 and name not in ("table", "cases", "sheet"):
            continue  # what fits the smallest fits the others
        page = open_page(path, wide=size[0], high=size[1])
        if name == "table":
            hands_on(page).wait_for_plan()
            page.wait_for_selector(".candidate", timeout=WORKING_OUT)
            page.wait_for_load_state("networkidle")
            film = page.locator(".films").bounding_box()
            assert film["width"] * film["height"] > 0.36 * size[0] * size[1]
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        page.screenshot(path=SCREENS / f"{name}-{size[0]}.png")
