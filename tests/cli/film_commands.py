"""Film commands run on drawn films."""

import io
import sys
from pathlib import Path

from click.testing import CliRunner
from PIL import Image

from limbwright.cli.main import cli

sys.path.insert(0, str(Path(__file__).parents[1] / "film"))

import drawn_films as drawn


def saved(folder, attenuation, name="film.png", **how):
    stream = io.BytesIO()
    Image.fromarray(drawn.developed(attenuation, **how)).save(stream, format="PNG")
    path = folder / name
    path.write_bytes(stream.getvalue())
    return str(path)


def run(*arguments):
    result = CliRunner().invoke(cli, ["film", *(str(a) for a in arguments)], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.output


def point(at):
    return f"{at[0]:.1f},{at[1]:.1f}"
