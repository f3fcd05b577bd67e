"""From dropped DICOM files to an accepted plan and its PDF: by mouse, and again by keyboard alone."""

import base64
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, expect

DROP = """(zone, files) => {
  const carried = new DataTransfer();
  for (const [name, text] of files)
    carried.items.add(new File([Uint8Array.from(atob(text), c => c.charCodeAt(0))], name));
  zone.dispatchEvent(new DragEvent('drop', {bubbles: true, cancelable: true, dataTransfer: carried}));
}"""
FRONTAL_MM_PER_PX = 0.342


def the_pdf(page: Page, link: str) -> bytes:
    """The printed plan behind a link."""
    address = page.get_by_role("link", name=link).get_attribute("href")
    answer = page.request.get(
        address if address.startswith("http") else page.url.split("/cases")[0] + address
    )
    assert answer.ok
    return answer.body()


def test_by_mouse(open_page: Callable[..., Page], hands_on: Any, demo_films: list[Path]) -> None:
    """Drop, correct nothing, place every landmark in order, accept, print."""
    page = open_page("/cases")
    dropped = [[path.name, base64.b64encode(path.read_bytes()).decode()] for path in demo_films]
    page.locator(".drop").evaluate(DROP, [*dropped, ["notes.txt", base64.b64encode(b"hello").decode()]])

    rows = page.locator(".film-table tbody tr")
    expect(rows).to_have_count(3)
    expect(rows.first).to_contain_text("These bytes are here already")
    expect(page.locator(".trouble")).to_contain_text("notes.txt")
    expect(page.get_by_label("projection of film 1")).to_have_value("frontal")
    expect(page.get_by_label("where anterior is of film 3")).to_have_value("viewer left")
    expect(page.locator("#create-case")).to_be_disabled()
    page.locator("#treated-side").select_option("left")
    page.locator("#create-case").click()

    page.wait_for_url(re.compile(r"/cases/case-[0-9a-f]+/table"))
    hands = hands_on(page)
    page.get_by_role("tab", name="Landmarks").click()
    page.locator("#place-in-order").click()
    placed, seen, traced = 0, 0, 0
    while (asked := hands.landmark_asked_for()) is not None:
        if asked[2].startswith("walls_of"):
            expect(page.locator("#take-walls")).to_be_enabled(timeout=20_000)
            page.locator("#take-walls").click()
            traced += 1
        elif hands.place_by_mouse(*asked):
            placed += 1
            if (says := hands.film_says()) == "proposed":
                hands.place_by_mouse(*asked)  # a second click in the same place takes it
                seen += 1
            elif says == "poor":
                page.locator("#keep-click").click()
        else:
            page.get_by_role("button", name="Skip").click()
        if traced == 2 and page.locator("#snapping").is_checked():
            page.keyboard.press("g")  # the rest by hand, as one may
    assert placed >= 50
    assert seen >= 5
    assert traced == 4

    hands.wait_for_plan()
    hands.wait_until_saved()
    page.get_by_role("tab", name="Ledger").click()
    expect(page.locator(".panel-body")).to_contain_text(re.compile(r"Tibia\s*3[0-9] mm longer"))

    page.get_by_role("tab", name="Accept").click()
    for reason in page.locator("textarea[id^=reason-]").all():
        reason.fill("weighed and accepted in this journey")
    page.locator("#accept").click()
    expect(page.locator(".panel-body")).to_contain_text("Accepted", timeout=30_000)
    assert the_pdf(page, "Operation plan (PDF)").startswith(b"%PDF-")

    page.goto(page.url.replace("/table", "/operation"))
    step = page.locator(".checklist input").first
    step.check()
    page.locator("[data-done=osteotomy_below_joint_mm]").fill("111")
    page.locator("[data-done=osteotomy_below_joint_mm]").blur()
    expect(page.get_by_role("region", name="Done against planned")).to_contain_text("111 mm", timeout=20_000)


def test_by_keyboard_alone(open_page: Callable[..., Page], hands_on: Any, demo_films: list[Path]) -> None:
    """The same without touching the mouse: the frontal film is enough for a plan."""
    page = open_page("/cases")
    page.locator("#film-files").focus()
    with page.expect_file_chooser() as chooser:
        page.keyboard.press("Space")
    chooser.value.set_files(demo_films[0])
    expect(page.locator("#new-case-head")).to_be_focused()
    tab_to(page, "#treated-side")
    page.keyboard.type("left")
    tab_to(page, "#diagnosis")
    page.keyboard.type("Invented: journey by keyboard")
    page.keyboard.press("Enter")

    page.wait_for_url(re.compile(r"/cases/case-[0-9a-f]+/table"))
    page.wait_for_selector("html[data-ready=true]")
    hands = hands_on(page)
    expect(page.locator(".panel-body")).to_contain_text("Mark the landmarks")
    page.keyboard.press("2")
    page.keyboard.press("n")
    looked, traced = 0, 0
    while (asked := hands.landmark_asked_for()) is not None:
        if asked[2].startswith("walls_of"):
            expect(page.locator("#take-walls")).to_be_enabled(timeout=20_000)
            page.keyboard.press("Enter")
            traced += 1
        elif asked[0] == "frontal" and hands.place_by_keys(*asked, pixels_per_mm=1 / FRONTAL_MM_PER_PX):
            if (says := hands.film_says()) != "settled":
                page.keyboard.press("Enter" if says == "proposed" else "k")
                looked += 1
                page.keyboard.press("g")  # once is enough here
        else:
            tab_to(page, "text=Skip")
            page.keyboard.press("Enter")
    assert (looked, traced) == (1, 2)

    hands.wait_for_plan()
    page.keyboard.press("5")
    tab_to(page, "#panel")
    for reason in page.locator("textarea[id^=reason-]").all():
        tab_to(page, f"#{reason.get_attribute('id')}")
        page.keyboard.type("weighed and accepted in this journey")
    tab_to(page, "#accept")
    page.keyboard.press("Enter")
    expect(page.locator(".panel-body")).to_contain_text("Accepted", timeout=30_000)
    assert the_pdf(page, "Operation plan (PDF)").startswith(b"%PDF-")

    page.keyboard.press("3")
    page.locator("#more-films").set_input_files([demo_films[0], demo_films[2]])
    expect(page.locator(".panel-body .trouble")).to_contain_text("in the case already")
    page.locator("#add-films").click()
    expect(page.locator(".pane-bar").last).to_contain_text("sagittal left")


def tab_to(page: Page, selector: str) -> None:
    """Press Tab until something has the focus; everything must be reachable that way."""
    wanted = page.locator(selector).first
    for _ in range(120):
        if wanted.evaluate("e => e === document.activeElement"):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"{selector} cannot be reached with Tab")
