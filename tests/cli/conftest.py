"""The three invented patients on disk, made once: films at low resolution, case files, reports."""

from pathlib import Path

import pytest

from limbwright.cli.demo import written_case
from limbwright.cli.demo_patients import DEMO_PATIENTS


@pytest.fixture(scope="session")
def demo_cases(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Case files of the invented patients by id, with their films beside them."""
    folder = tmp_path_factory.mktemp("demo")
    return {demo.id: written_case(demo, folder / demo.id, pixel_mm=0.8) for demo in DEMO_PATIENTS}
