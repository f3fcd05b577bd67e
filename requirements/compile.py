"""Compile `run.txt` and `dev.txt` from pyproject.toml: names, versions and hashes, no address of any kind.

Run by `make lock`. Needs `uv` on the PATH or in the virtual environment; nothing else in the project does.
"""

import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

HERE = Path(__file__).parent
FLAGS = [
    "--universal",
    "--python-version=3.11",
    "--generate-hashes",
    "--no-annotate",
    "--no-header",
    "--no-emit-index-url",
    "--no-emit-find-links",
    "--quiet",
]


def compile_one(uv: str, wanted: list[str], into: Path, *, within: Path | None = None) -> None:
    """Resolve `wanted` into a file of pinned names with hashes, keeping to the pins of `within`."""
    constraint = [] if within is None else ["--constraint", str(within)]
    subprocess.run(
        [uv, "pip", "compile", "-", "-o", str(into), *FLAGS, *constraint],
        input="\n".join(wanted),
        text=True,
        check=True,
    )


def main() -> None:
    """Compile both files; the development pins never contradict the run-time pins."""
    uv = shutil.which("uv") or shutil.which("uv", path=str(Path(sys.executable).parent))
    if uv is None:
        raise SystemExit("make lock needs uv: pip install uv, then run it again.")
    project = tomllib.loads((HERE.parent / "pyproject.toml").read_text())
    run = [*project["project"]["dependencies"], *project["build-system"]["requires"]]
    dev = [*run, *project["dependency-groups"]["dev"]]
    compile_one(uv, run, HERE / "run.txt")
    compile_one(uv, dev, HERE / "dev.txt", within=HERE / "run.txt")


if __name__ == "__main__":
    main()
