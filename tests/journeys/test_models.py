"""The pure modules of the front end, by node's own test runner, and what they must agree on with Python."""

import hashlib
import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest

from limbwright.limb.landmark import Landmark
from limbwright.limb.reading import Measure

HERE = Path(__file__).parent
STATIC = HERE.parents[1] / "src" / "limbwright" / "web" / "static"


@pytest.fixture(scope="module")
def node() -> str:
    """Node.js, from Debian's package when it is missing and that is possible."""
    found = shutil.which("node")
    if found:
        return found
    if os.geteuid() != 0 or shutil.which("apt-get") is None:
        pytest.fail("The front end's own tests need Debian's package 'nodejs': apt-get install nodejs")
    subprocess.run(["apt-get", "update", "-qq"], check=True, capture_output=True)
    subprocess.run(["apt-get", "install", "-qq", "-y", "nodejs"], check=True, capture_output=True)
    return shutil.which("node") or "node"


def exported(node: str, module: str, name: str) -> object:
    """A constant of one of our modules."""
    script = f"import {{ {name} }} from '{STATIC / module}'; console.log(JSON.stringify({name}))"
    said = subprocess.run(
        [node, "--input-type=module", "-e", script], check=True, capture_output=True, text=True
    )
    return json.loads(said.stdout)


def test_pure_modules(node: str) -> None:
    """Geometry, edits, undo, time axis and wording."""
    files = sorted(str(path) for path in (HERE / "models").glob("*.test.mjs"))
    ran = subprocess.run([node, "--test", *files], capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stdout[-4000:]


def test_every_landmark_has_its_place_on_the_figure(node: str) -> None:
    """A landmark added in Python needs a place and a hint here."""
    places = exported(node, "models/landmark_places.js", "PLACES")
    assert isinstance(places, dict)
    assert set(places) == {landmark.value for landmark in Landmark}


def test_every_abbreviation_is_spelled_out() -> None:
    """Measures known by their letters have their words in the ledger."""
    text = (STATIC / "parts" / "ledger.js").read_text(encoding="utf-8")
    for measure in Measure:
        if " " not in measure.value:
            assert f"  {measure.value}: " in text


def test_only_tokens_hold_colours() -> None:
    """Components use roles: raw colours stand in the two tiers of tokens alone."""
    for path in (STATIC / "styles").glob("*.css"):
        if path.name == "tokens.css":
            continue
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            assert "#" not in line.split("{")[-1].split("/*")[0], f"{path.name}:{number}: {line}"


def test_vendored_files_are_what_they_are_said_to_be() -> None:
    """Every vendored file stands with its hash in the README."""
    readme = (STATIC / "vendor" / "README.md").read_text(encoding="utf-8")
    for path in (STATIC / "vendor").rglob("*.js"):
        assert hashlib.sha256(path.read_bytes()).hexdigest() in readme, path.name


def test_no_module_is_longer_than_a_reader_can_hold() -> None:
    """Four hundred lines; more means another module."""
    ours = [path for path in STATIC.rglob("*.js") if "vendor" not in path.parts]
    lines = {path.name: len(path.read_text(encoding="utf-8").splitlines()) for path in ours}
    assert {name: count for name, count in lines.items() if count > 400} == {}
