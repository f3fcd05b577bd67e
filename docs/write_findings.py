"""Writes `findings.md` out of the code: every finding with severity, rule, next step and place.

    python docs/write_findings.py

A test compares the page with the code, so a finding cannot be added without its heading.
"""

import ast
import csv
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

DOCS = Path(__file__).parent
SOURCE = DOCS.parent / "src" / "limbwright"
INTRODUCTION = """# Findings

Every warning in the program is a finding: a stable id, a severity, plain words with the numbers, the rule
and its source, and what can be done. `note` is to know, `caution` to weigh, `stop` to resolve (or to
override with a reason) before going on. This page is written from the code by `python
docs/write_findings.py`; "…" stands for a number or a name of the case.
"""


@dataclass(frozen=True, kw_only=True)
class Documented:
    """One finding as the page shows it."""

    id: str
    severity: str
    rule: str
    next_step: str
    place: str


def text_of(node: ast.expr | None) -> str:
    """A string as it is written in the code, with … for what is filled in; empty for anything else."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(text_of(part) or "…" for part in node.values)
    return ""


def severity_of(node: ast.expr | None) -> str:
    """The severity, or the severities where the code chooses."""
    if node is None:
        return ""
    named = [n.attr.lower() for n in ast.walk(node) if isinstance(n, ast.Attribute) and n.attr.isupper()]
    return " or ".join(dict.fromkeys(named)) or "as the case is"


def in_code(path: Path) -> Iterator[Documented]:
    """Findings built in one file with their id written out."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not (isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Finding"):
            continue
        given = {keyword.arg: keyword.value for keyword in node.keywords}
        if isinstance(given.get("id"), ast.Constant):
            yield Documented(
                id=text_of(given["id"]),
                severity=severity_of(given.get("severity")),
                rule=text_of(given.get("rule")),
                next_step=text_of(given.get("next_step")),
                place=path.relative_to(SOURCE).as_posix(),
            )


def in_tables(path: Path) -> Iterator[Documented]:
    """Findings that a table defines."""
    with path.open(encoding="utf-8", newline="") as lines:
        reader = csv.DictReader(lines)
        if {"id", "severity", "rule", "next_step"} <= set(reader.fieldnames or ()):
            for row in reader:
                yield Documented(
                    id=row["id"],
                    severity=row["severity"],
                    rule=row["rule"],
                    next_step=row["next_step"],
                    place=path.relative_to(SOURCE).as_posix(),
                )


def documented() -> tuple[Documented, ...]:
    """Every finding once, by id; one that is raised in several places keeps the first."""
    found: dict[str, Documented] = {}
    for path in sorted(SOURCE.rglob("*.py")):
        for item in in_code(path):
            found.setdefault(item.id, item)
    for path in sorted(SOURCE.rglob("tables/*.csv")):
        for item in in_tables(path):
            found.setdefault(item.id, item)
    return tuple(found[key] for key in sorted(found))


def page() -> str:
    """The page as text."""
    parts = [INTRODUCTION]
    for item in documented():
        lines = [f"### `{item.id}`", "", f"*{item.severity}* · `{item.place}`"]
        if item.rule:
            lines += ["", item.rule]
        if item.next_step:
            lines += ["", f"What can be done: {item.next_step}"]
        parts.append("\n".join(lines) + "\n")
    return "\n".join(parts)


if __name__ == "__main__":
    (DOCS / "findings.md").write_text(page(), encoding="utf-8")
