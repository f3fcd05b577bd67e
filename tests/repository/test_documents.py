"""The documents of the repository keep to the code: findings, commands, versions, licences."""

import ast
import importlib.util
import re
import sys
import tomllib
from pathlib import Path
from types import ModuleType

import pytest

import limbwright

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "src" / "limbwright"


def writer(name: str) -> ModuleType:
    """A script of the docs folder as a module."""
    spec = importlib.util.spec_from_file_location(name, ROOT / "docs" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module


def test_every_finding_has_a_heading_and_no_heading_is_left_over() -> None:
    pages = writer("write_findings")
    assert (ROOT / "docs/findings.md").read_text() == pages.page(), "run: make docs"
    ids = [item.id for item in pages.documented()]
    assert len(ids) > 100
    assert [i for i in ids if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", i)] == []


def test_no_finding_takes_its_id_from_a_place_the_page_does_not_see() -> None:
    # A module `rules` fills findings from its room's table of rules, and the page reads that table.
    for path in SOURCE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Finding":
                ids = [k.value for k in node.keywords if k.arg == "id"]
                written = len(ids) == 1 and isinstance(ids[0], ast.Constant)
                tabled = path.name == "rules.py" and list((path.parent / "tables").glob("*.csv"))
                assert written or tabled, f"{path}:{node.lineno}"


def test_every_command_prints_in_the_docs_what_its_help_prints() -> None:
    assert (ROOT / "docs/command-line.md").read_text() == writer("write_command_line").page(), (
        "run: make docs"
    )


def test_versions_agree() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    assert project["version"] == limbwright.__version__
    assert f"## {limbwright.__version__}" in (ROOT / "CHANGELOG.md").read_text()


def test_the_readme_opens_with_the_job_and_shows_commands_and_caution() -> None:
    readme = (ROOT / "README.md").read_text()
    for needed in ("make demo", "make test", "not a medical device", "docs/"):
        assert needed in readme


@pytest.mark.parametrize("name", ["README.md", "CHANGELOG.md", "CONTRIBUTING.md"])
def test_links_to_files_lead_somewhere(name: str) -> None:
    text = (ROOT / name).read_text()
    for target in re.findall(r"\]\((?!https?:|#)([^)#]+)", text):
        assert (ROOT / target).exists(), f"{name} links to {target}"


def test_docs_link_only_to_what_is_there() -> None:
    for page in (ROOT / "docs").glob("*.md"):
        for target in re.findall(r"\]\((?!https?:|#)([^)#]+)", page.read_text()):
            assert (page.parent / target).exists(), f"{page.name} links to {target}"
