"""The nomenclature page lists exactly the unit-carrying names of the public signatures."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "src" / "limbwright"
FILES = [*sorted((SOURCE / "limb").glob("*.py")), SOURCE / "film" / "scale.py", SOURCE / "film" / "leg.py"]
UNIT = re.compile(r"(.*_(mm|deg|px|years)|(.*_)?relative_sd)$")


def public(body: list[ast.stmt]) -> Iterator[ast.FunctionDef | ast.ClassDef]:
    for node in body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            yield node
            if isinstance(node, ast.ClassDef):
                yield from public(node.body)


def names() -> tuple[set[str], set[str]]:
    given: set[str] = set()
    returned: set[str] = set()
    for path in FILES:
        for node in public(ast.parse(path.read_text()).body):
            if isinstance(node, ast.FunctionDef):
                returned.add(node.name)
                given.update(a.arg for a in (*node.args.args, *node.args.kwonlyargs))
            else:
                fields = (f.target for f in node.body if isinstance(f, ast.AnnAssign))
                given.update(t.id for t in fields if isinstance(t, ast.Name) and not t.id.startswith("_"))
    return {n for n in given if UNIT.match(n)}, {n for n in returned if UNIT.match(n)}


def test_the_page_lists_exactly_the_names_in_the_code():
    page = (ROOT / "docs" / "nomenclature.md").read_text()
    given, functions = page.split("## Functions")
    listed = tuple(set(re.findall(r"^\| `(\w+)` \|", part, re.M)) for part in (given, functions))
    assert listed == names()
