"""The example of the README runs and says what a plan says."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from limbwright.cli import demo, demo_films
from limbwright.cli.main import cli

ROOT = Path(__file__).parents[2]


def test_the_python_example_runs_on_the_demo(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(demo_films, "PIXEL_MM", 0.9)
    monkeypatch.setattr(demo, "DEMO_PATIENTS", demo.DEMO_PATIENTS[:1])
    monkeypatch.chdir(tmp_path)
    made = CliRunner().invoke(cli, ["demo", "--into", "out/demo"])
    assert made.exit_code == 0, made.output
    found = re.search(r"```python\n(.*?)```", (ROOT / "README.md").read_text(), re.S)
    assert found is not None
    code = "\n".join(line.removeprefix("   ") for line in found.group(1).splitlines())
    exec(compile(code, "README.md", "exec"), {})
    assert re.match(r"tibia \d+\.0 T-\S+ \d+", capsys.readouterr().out)
