"""The documents of the repository keep to the code: findings, commands, versions, licences."""

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

import limbwright
from limbwright.cli.main import COMMANDS, cli

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "src" / "limbwright"


def finding_ids() -> Iterator[str]:
    """Every id given to a Finding anywhere in the package, read from the syntax tree."""
    for path in SOURCE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.keyword) and node.arg == "id" and isinstance(node.value, ast.Constant):
                yield str(node.value.value)


def test_findings_have_stable_well_formed_ids() -> None:
    ids = set(finding_ids())
    assert ids, "no finding found: the search is broken"
    assert [i for i in ids if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", i)] == []


def test_every_finding_has_a_heading_in_the_docs_and_no_heading_is_left_over() -> None:
    headings = set(re.findall(r"^### `([a-z0-9-]+)`$", (ROOT / "docs/findings.md").read_text(), re.M))
    assert headings == set(finding_ids())


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_prints_in_the_docs_what_its_help_prints(name: str) -> None:
    shown = CliRunner().invoke(cli, [name, "--help"], terminal_width=88)
    assert shown.exit_code == 0, shown.output
    document = (ROOT / "docs/command-line.md").read_text()
    assert f"## `limbwright {name}`" in document
    for line in shown.output.splitlines():
        assert line.rstrip() in document, f"docs/command-line.md lacks: {line}"


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
