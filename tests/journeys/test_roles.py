"""Logging in: who may read, plan and sign sees what they may do, and is told what they may not."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from limbwright.store.store import open_store
from limbwright.store.users import Role

PASSWORD = "several plain words"
NAMES = {Role.READ: "nurse", Role.PLAN: "fellow", Role.SIGN: "chief"}


@pytest.fixture(scope="module")
def workbench(stopped_workbench: Any) -> Any:
    """A workbench with a user of each role."""
    with open_store(stopped_workbench.home) as store:
        for role, name in NAMES.items():
            store.users.add(name, PASSWORD, role, by="test")
    stopped_workbench.start()
    return stopped_workbench


def logged_in(open_page: Callable[..., Page], name: str, path: str) -> Page:
    """Asked for a page, sent to log in, and back to it."""
    page = open_page(path)
    expect(page).to_have_url(re.compile(r"/login\?next="))
    page.get_by_label("Name").fill(name)
    page.get_by_label("Password").fill(PASSWORD)
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(rf"^http://[^/]+{re.escape(path)}$"))
    page.wait_for_selector("html[data-ready=true]")
    return page


def test_a_wrong_password_is_said_and_nothing_is_shown(open_page: Callable[..., Page]) -> None:
    """The page asks again, in words; no case is behind it."""
    page = open_page("/cases")
    page.get_by_label("Name").fill("chief")
    page.get_by_label("Password").fill("something else")
    page.get_by_role("button", name="Log in").click()
    expect(page.locator("#login-error")).not_to_be_empty()
    expect(page.locator("#login-error")).not_to_contain_text("undefined")
    assert "demo-a" not in page.content()


def test_a_reader_looks_and_cannot_change(open_page: Callable[..., Page], hands_on: Any) -> None:
    """No drop zone, no handles, fields that are shut, and a sentence that says why."""
    page = logged_in(open_page, "nurse", "/cases/demo-a/table")
    hands_on(page).wait_for_plan()
    expect(page.locator("#save-state")).to_contain_text("read only")
    expect(page.locator(".handle")).to_have_count(0)
    page.get_by_role("tab", name="Plan").click()
    expect(page.locator(".panel-body")).to_contain_text("needs the role that plans")
    expect(page.get_by_label("Lengthen by [mm]").first).to_be_disabled()
    page.get_by_role("tab", name="Accept").click()
    expect(page.locator("#accept")).to_be_disabled()
    page.goto(page.url.replace("/cases/demo-a/table", "/cases"))
    expect(page.locator(".case-table")).to_contain_text("demo-a")
    expect(page.locator(".drop")).to_have_count(0)
    page.get_by_role("button", name="Log out").click()
    expect(page.get_by_label("Password")).to_be_visible()


def test_a_planner_plans_and_leaves_the_signing_to_the_surgeon(
    open_page: Callable[..., Page], hands_on: Any
) -> None:
    """A change is saved under the planner's name; accepting is shut and says whose it is."""
    page = logged_in(open_page, "fellow", "/cases/demo-b/table")
    hands = hands_on(page)
    hands.wait_for_plan()
    page.get_by_role("tab", name="Plan").click()
    field = page.get_by_label("Lengthen by [mm]").first
    field.fill("26")
    field.blur()
    hands.wait_until_saved(2)
    page.get_by_role("tab", name="Accept").click()
    expect(page.locator("#accept")).to_be_disabled()
    expect(page.locator(".panel-body")).to_contain_text("ask the surgeon")
    page.goto(page.url.replace("/table", "/history"))
    expect(page.locator("tbody tr").first).to_contain_text("fellow")
    page.goto(page.url.replace("/cases/demo-b/history", "/profile"))
    expect(page.locator("#page")).to_contain_text("needs the role that signs")


def test_the_surgeon_signs_and_sees_who_did_what(open_page: Callable[..., Page], hands_on: Any) -> None:
    """The plan is accepted under the surgeon's name, and the audit log names everybody."""
    page = logged_in(open_page, "chief", "/cases/demo-a/table")
    hands_on(page).wait_for_plan()
    page.get_by_role("tab", name="Accept").click()
    for reason in page.locator("textarea[id^=reason-]").all():
        reason.fill("weighed and accepted in this journey")
    page.locator("#accept").click()
    expect(page.locator(".panel-body")).to_contain_text("Accepted by chief", timeout=30_000)
    page.goto(page.url.replace("/cases/demo-a/table", "/audit"))
    for name in NAMES.values():
        expect(page.locator("tbody")).to_contain_text(name)
