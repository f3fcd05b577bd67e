"""The film helps to read it: landmarks looked for near the click, walls followed and held by pins."""

from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, expect

SHAFT = "tibia_proximal_shaft_upper"


def stored_film(page: Page, name: str = "frontal") -> Any:
    """A film of the case as the server has it."""
    case = page.evaluate("fetch('/api/cases/demo-a').then(a => a.json())")["case"]
    return next(film for film in case["films"] if film["name"] == name)


def open_landmarks(open_page: Callable[..., Page], hands_on: Any) -> tuple[Page, Any]:
    """The landmarks of the first invented case."""
    page = open_page("/cases/demo-a/table")
    hands = hands_on(page)
    hands.wait_for_plan()
    page.get_by_role("tab", name="Landmarks").click()
    return page, hands


def test_a_moved_landmark_is_offered_what_the_film_shows(
    open_page: Callable[..., Page], hands_on: Any
) -> None:
    """Moved by keys it is edited; taken from the film it is snapped; undo brings each back."""
    page, hands = open_landmarks(open_page, hands_on)
    before = stored_film(page)["left"][SHAFT]
    mark = page.locator(f'[data-key="landmark/frontal/left/{SHAFT}"]')
    mark.focus()
    for _ in range(4):
        page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Enter")
    expect(page.locator(".film-says")).to_contain_text("Support")
    hands.wait_until_saved(2)
    assert stored_film(page)["left"][SHAFT]["provenance"] == "edited"
    page.locator("[data-pane=frontal] .handle.proposal").focus()
    page.keyboard.press("Enter")
    hands.wait_until_saved(3)
    snapped = stored_film(page)["left"][SHAFT]
    assert snapped["provenance"] == "snapped"
    assert snapped["sd_px"] > 0
    assert abs(snapped["x_px"] - before["x_px"]) < 4 < abs(snapped["x_px"] - before["x_px"] - 4 / 0.342)
    page.keyboard.press("u")
    page.keyboard.press("u")
    hands.wait_until_saved(4)
    assert stored_film(page)["left"][SHAFT] == before


def test_where_the_film_shows_nothing_the_click_stays_and_it_is_said(
    open_page: Callable[..., Page], hands_on: Any
) -> None:
    """A click into the dark: the mark stays where the hand put it, with the reason."""
    page, hands = open_landmarks(open_page, hands_on)
    page.keyboard.press("f")
    page.locator('[data-task="frontal/left/femoral_head_centre"]').evaluate("e => e.click()")
    dark = {"frontal": {"left": {"femoral_head_centre": {"x_px": 1150.0, "y_px": 2600.0}}}}
    hands.truth, truth = dark, hands.truth
    assert hands.place_by_mouse("frontal", "left", "femoral_head_centre")
    expect(page.locator(".panel-body")).to_contain_text("where you clicked")
    hands.truth = truth
    page.keyboard.press("Escape")
    page.keyboard.press("u")
    hands.wait_until_saved()


def test_walls_are_followed_pinned_and_kept(open_page: Callable[..., Page], hands_on: Any) -> None:
    """From the walls that are there: one is pulled, and the trace goes through the pin."""
    page, hands = open_landmarks(open_page, hands_on)
    before = stored_film(page)["walls"]
    page.get_by_text("Walls of the bones").click()
    page.locator("[data-trace='frontal/tibia']").click()
    expect(page.locator("#take-walls")).to_be_enabled()
    expect(page.locator(".guide-now")).to_contain_text("Narrowest canal")
    page.locator("[data-pane=frontal] .handle.wall").first.focus()
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Enter")
    pin = page.locator("[data-pane=frontal] .handle.wall-pin")
    expect(pin).to_have_count(1)
    expect(page.locator(".guide-now")).to_contain_text("held by 1 of your pins")
    pin.focus()
    page.keyboard.press("Delete")
    expect(pin).to_have_count(0)
    page.locator("[data-pane=frontal] .handle.wall").first.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    expect(pin).to_have_count(1)
    expect(page.locator("#take-walls")).to_be_enabled()
    page.locator("[data-pane=frontal]").focus()
    page.keyboard.press("Enter")
    hands.wait_until_saved()
    mine = [w for w in stored_film(page)["walls"] if (w["side"], w["bone"]) == ("left", "tibia")]
    assert {w["provenance"] for w in mine} >= {"snapped", "pinned"}
    assert sum(len(w.get("pins") or []) for w in mine) == 1
    assert [w for w in stored_film(page)["walls"] if w["side"] == "right"] == [
        w for w in before if w["side"] == "right"
    ]
    page.keyboard.press("u")
    hands.wait_until_saved()
    assert stored_film(page)["walls"] == before


def test_the_scale_is_taken_from_the_ball(open_page: Callable[..., Page], hands_on: Any) -> None:
    """One click inside the ball finds its edge; Enter takes it."""
    page, hands = open_landmarks(open_page, hands_on)
    ball = stored_film(page)["scale"]["ball"]
    page.get_by_role("tab", name="Case").click()
    page.get_by_text("mark it anew").first.click()
    page.get_by_role("button", name="Mark the calibration ball on the frontal film").click()
    page.keyboard.press("f")
    centre = ball["centre"]
    hands.truth = {
        "frontal": {"left": {"ball": {"x_px": centre["x_px"] + 9.0, "y_px": centre["y_px"] - 7.0}}}
    }
    hands.place_by_mouse("frontal", "left", "ball")
    expect(page.locator("#take-scale")).to_be_visible()
    page.keyboard.press("Enter")
    hands.wait_until_saved()
    found = stored_film(page)["scale"]["ball"]
    assert abs(found["radius_px"] - ball["radius_px"]) < 0.5
    assert found["centre"]["provenance"] == "snapped"
