"""`profile.py` and its page in the docs are what the table says."""

from pathlib import Path

import limbwright.practice.profile as profile_module
from limbwright.practice.declaration import profile_module_text, settings_page_text

DOCS = Path(__file__).parents[2] / "docs"


def test_profile_module_is_in_sync_with_the_table() -> None:
    assert Path(profile_module.__file__).read_text(encoding="utf-8") == profile_module_text()


def test_every_setting_stands_in_the_docs_as_the_table_has_it() -> None:
    page = (DOCS / "practice-profile.md").read_text(encoding="utf-8")
    assert page.split("## Settings\n", 1)[1].split("\n### ", 1)[1] == settings_page_text().split("### ", 1)[1]
