"""The light table under the hand: dragging, limits, undo, the time strip, candidates."""

import json
import re
from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, expect


def open_table(open_page: Callable[..., Page], hands_on: Any, case: str = "demo-a") -> tuple[Page, Any]:
    """The light table of a case with its plan computed."""
    page = open_page(f"/cases/{case}/table")
    hands = hands_on(page)
    hands.wait_for_plan()
    return page, hands


def osteotomy_mm(page: Page) -> float:
    """The level as the handle says it."""
    words = page.locator("[data-pane=frontal] .handle.osteotomy").get_attribute("aria-label")
    return float(re.search(r"([\d.]+) mm", words).group(1))


def middle_of(page: Page, selector: str) -> tuple[float, float]:
    """Middle of something on the screen."""
    box = page.locator(selector).first.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def test_an_osteotomy_is_dragged_undone_and_done_again(open_page: Callable[..., Page], hands_on: Any) -> None:
    """The number follows the hand; letting go saves; U takes back, shift U brings back."""
    page, hands = open_table(open_page, hands_on)
    before = osteotomy_mm(page)
    x, y = middle_of(page, "[data-pane=frontal] .handle.osteotomy")
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y + 20, steps=8)
    expect(page.locator("[data-pane=frontal] .pull-words")).to_contain_text("mm below the joint")
    expect(page.locator(".ledger-head")).to_contain_text("while you drag")
    page.mouse.up()
    hands.wait_until_saved()
    hands.wait_for_plan()
    after = osteotomy_mm(page)
    assert after > before + 5
    page.keyboard.press("u")
    expect(page.locator("[data-pane=frontal] .handle.osteotomy")).to_have_attribute(
        "aria-label", re.compile(f"{before:.1f} mm")
    )
    page.keyboard.press("U")
    expect(page.locator("[data-pane=frontal] .handle.osteotomy")).to_have_attribute(
        "aria-label", re.compile(f"{after:.1f} mm")
    )
    page.keyboard.press("u")
    hands.wait_until_saved()


def test_an_impossible_drag_says_why_and_stops(open_page: Callable[..., Page], hands_on: Any) -> None:
    """Below the ankle there is nothing to cut: the handle stops at the limit and says so; Escape lets go."""
    page, _ = open_table(open_page, hands_on)
    before = osteotomy_mm(page)
    x, y = middle_of(page, "[data-pane=frontal] .handle.osteotomy")
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y + 600, steps=6)
    words = page.locator("[data-pane=frontal] .pull-words.stopped")
    expect(words).to_contain_text("stops at")
    page.keyboard.press("Escape")
    page.mouse.up()
    expect(words).to_be_hidden()
    assert osteotomy_mm(page) == before


def test_arrows_nudge_by_a_tenth_and_by_a_millimetre(open_page: Callable[..., Page], hands_on: Any) -> None:
    """Down twice is 0.2 mm, shift and down 1 mm; Enter keeps them as one step."""
    page, hands = open_table(open_page, hands_on)
    handle = page.locator("[data-pane=frontal] .handle.osteotomy")
    before = osteotomy_mm(page)
    handle.focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Shift+ArrowDown")
    page.keyboard.press("Enter")
    hands.wait_until_saved()
    hands.wait_for_plan()
    assert abs(osteotomy_mm(page) - before - 1.2) < 0.11
    page.keyboard.press("u")
    hands.wait_until_saved()


def test_both_films_keep_one_scale_and_level_knees(open_page: Callable[..., Page], hands_on: Any) -> None:
    """Wheel and drag on one film move both: millimetres stay equal and the knee lines level."""
    page, _ = open_table(open_page, hands_on)
    x, y = middle_of(page, "[data-pane=sagittal]")
    page.mouse.move(x, y)
    page.mouse.wheel(0, -400)
    page.mouse.down()
    page.mouse.move(x + 30, y + 40, steps=3)
    page.mouse.up()
    knees = []
    for pane, film in (("frontal", "frontal"), ("sagittal", "sagittal left")):
        place = page.locator(f"[data-pane={pane}]")
        d, e, f = json.loads(place.get_attribute("data-screen-from-px"))[1]
        case = page.evaluate("fetch('/api/cases/demo-a').then(a => a.json())")["case"]
        marks = next(m for m in case["films"] if m["name"] == film)["left"]
        knee, ankle = marks["tibia_knee_centre"], marks["ankle_centre"]
        at = [d * m["x_px"] + e * m["y_px"] + f for m in (knee, ankle)]
        knees.append((at[0], at[1] - at[0]))
    assert abs(knees[0][0] - knees[1][0]) < 2.0
    assert abs(knees[0][1] / knees[1][1] - 1) < 0.03


def test_the_time_strip_moves_the_film(open_page: Callable[..., Page], hands_on: Any) -> None:
    """End shows the healed leg; ] steps a day; the picture below the cut is somewhere else."""
    page, _ = open_table(open_page, hands_on)
    grey = "c => Array.from(c.getContext('2d').getImageData(c.width / 2, 0, 1, c.height).data).join()"
    canvas = page.locator("[data-pane=frontal] canvas")
    standing = canvas.evaluate(grey)
    page.keyboard.press("]")
    expect(page.locator(".strip-head")).to_contain_text("Corrected")
    page.keyboard.press("]")
    expect(page.locator(".strip-head")).to_contain_text("Day 1 ·")
    page.locator(".strip-face").focus()
    page.keyboard.press("End")
    expect(page.locator(".strip-head")).to_contain_text(re.compile(r"Day \d+ · 3\d\.\d mm gained"))
    expect(page.locator("[data-pane=sagittal] .handle.blocking-screw")).to_be_visible()
    assert canvas.evaluate(grey) != standing


def test_a_candidate_becomes_the_plan(open_page: Callable[..., Page], hands_on: Any) -> None:
    """Choosing marks it, the plan follows, and undo goes back."""
    page, hands = open_table(open_page, hands_on)
    expect(page.locator(".candidate.chosen h3")).to_have_text("As proposed")
    nail = page.locator(".pair summary", has_text="Nail, tibia").locator("span").last
    before = nail.inner_text()
    other = page.locator(".candidate:not(.chosen)").filter(has_text="Longer nail")
    other.get_by_role("button", name="Choose").click()
    expect(nail).not_to_have_text(before, timeout=20_000)
    page.keyboard.press("u")
    expect(nail).to_have_text(before, timeout=20_000)
    hands.wait_until_saved()
