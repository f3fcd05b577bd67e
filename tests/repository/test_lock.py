"""The lock holds names, versions and hashes, and nothing that tells of a place."""

import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PIN = re.compile(r"[A-Za-z0-9._-]+(\[[a-z,]+\])?==[0-9][^\s]*( ; [^\\]+)? \\")
HASH = re.compile(r"    --hash=sha256:[0-9a-f]{64}( \\)?")
LOCKS = ("requirements/run.txt", "requirements/dev.txt")


@pytest.mark.parametrize("name", LOCKS)
def test_a_lock_has_only_pins_and_hashes(name: str) -> None:
    for line in (ROOT / name).read_text().splitlines():
        assert PIN.fullmatch(line) or HASH.fullmatch(line), line


@pytest.mark.parametrize("name", LOCKS)
def test_every_direct_dependency_is_locked(name: str) -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    wanted = [*project["project"]["dependencies"], *project["build-system"]["requires"]]
    if name.endswith("dev.txt"):
        wanted += project["dependency-groups"]["dev"]
    names = {re.split(r"[<>=\[; ]", w)[0].lower() for w in wanted}
    locked = {m.lower() for m in re.findall(r"^([A-Za-z0-9._-]+)==", (ROOT / name).read_text(), re.M)}
    assert names - locked == set()
