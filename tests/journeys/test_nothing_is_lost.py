"""Two windows editing one case, and a server that dies while something is edited: nothing is lost."""

import re
from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, expect


def stored(page: Page, case: str) -> Any:
    """The case as the server has it."""
    return page.evaluate("id => fetch(`/api/cases/${id}`).then(a => a.json())", case)


def lengthen(page: Page, mm: str) -> None:
    """Type another length into the plan."""
    page.get_by_role("tab", name="Plan").click()
    field = page.get_by_label("Lengthen by [mm]").first
    field.fill(mm)
    field.blur()


def test_two_windows_are_shown_what_differs_and_merge(open_page: Callable[..., Page], hands_on: Any) -> None:
    """One window moves a landmark, the other changes the length: both are in the version that results."""
    first, second = open_page("/cases/demo-a/table"), open_page("/cases/demo-a/table")
    for page in (first, second):
        hands_on(page).wait_for_plan()

    first.get_by_role("tab", name="Landmarks").click()
    mark = first.locator('[data-key="landmark/frontal/left/ankle_centre"]')
    mark.focus()
    first.keyboard.press("Shift+ArrowRight")
    first.keyboard.press("Enter")
    hands_on(first).wait_until_saved(2)

    lengthen(second, "31")
    dialog = second.locator("dialog#conflict")
    expect(dialog).to_be_visible(timeout=20_000)
    expect(dialog).to_contain_text("Changed in two places")
    expect(dialog.locator("tbody tr").first).to_be_visible()
    dialog.get_by_role("button", name="Merge as marked").click()
    hands_on(second).wait_until_saved(3)

    case = stored(second, "demo-a")["case"]
    assert case["goal"]["bones"][0]["lengthening_mm"] == 31
    ankle = next(f for f in case["films"] if f["name"] == "frontal")["left"]["ankle_centre"]
    assert ankle["provenance"] == "edited"


def test_a_killed_server_loses_nothing(open_page: Callable[..., Page], hands_on: Any, workbench: Any) -> None:
    """What is changed while it is down is kept, said to be unsaved, and saved when it is back."""
    page = open_page("/cases/demo-b/table")
    hands_on(page).wait_for_plan()
    workbench.kill()
    lengthen(page, "27")
    expect(page.locator("#save-state")).to_contain_text("not saved", timeout=20_000)
    expect(page.locator("#save-state")).to_contain_text("kept in this window")
    workbench.start()
    expect(page.locator("#save-state .save")).to_have_text(re.compile(r"saved, version 2"), timeout=30_000)
    bones = stored(page, "demo-b")["case"]["goal"]["bones"]
    assert 27 in [bone.get("lengthening_mm") for bone in bones]


def test_a_window_loaded_anew_brings_back_what_was_not_saved(
    open_page: Callable[..., Page], hands_on: Any, workbench: Any
) -> None:
    """A reload between the change and its saving: the change is put back and saved."""
    page = open_page("/cases/demo-c/table")
    hands_on(page).wait_for_plan()
    page.route(
        "**/api/cases/demo-c",
        lambda route: route.abort() if route.request.method == "PUT" else route.continue_(),
    )
    page.on("dialog", lambda dialog: dialog.accept())
    lengthen(page, "19")
    expect(page.locator("#save-state")).to_contain_text("not saved", timeout=20_000)
    page.unroute("**/api/cases/demo-c")
    page.reload()
    expect(page.locator("#save-state .save")).to_have_text(re.compile(r"saved, version 2"), timeout=30_000)
    assert 19 in [b.get("lengthening_mm") for b in stored(page, "demo-c")["case"]["goal"]["bones"]]
