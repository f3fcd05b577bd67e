"""`limbwright film …` on drawn films: what it prints, as text and as JSON, and what it refuses."""

import json
import sys
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from limbwright.cli.main import cli
from limbwright.error import Missing, Refused, Unreadable

sys.path.insert(0, str(Path(__file__).parents[1] / "film"))
sys.path.insert(0, str(Path(__file__).parent))

import drawn_films as drawn
from film_commands import point, run, saved


@pytest.fixture(scope="module")
def tube(tmp_path_factory):
    shaft = drawn.Tube(lean_deg=4.0, nail_mm=8.0, inner_mm=7.0)
    return shaft, saved(tmp_path_factory.mktemp("film"), shaft.attenuation)


def test_a_ball_as_json(tmp_path):
    path = saved(tmp_path, drawn.ball())
    found = json.loads(run("ball", path, "--at", "190,170", "--spacing", 0.143, "--json"))
    assert found["radius_px"] == pytest.approx(12.9 / 0.143, rel=0.006)
    assert found["mm_per_px_in_its_plane"] == pytest.approx(25.0 / (2 * found["radius_px"]), rel=1e-3)
    assert "not a medical device" in found["caution"]


def test_a_ball_as_text_carries_the_caution(tmp_path):
    path = saved(tmp_path, drawn.ball())
    text = run("ball", path, "--at", "190,170", "--spacing", 0.143)
    assert "radius px" in text
    assert "not a medical device" in text


def test_a_head_a_tip_and_lines(tmp_path):
    path = saved(tmp_path, drawn.head(), photons=5000.0)
    head = json.loads(run("head", path, "--at", "236,225", "--spacing", 0.2, "--json"))
    assert head["x_px"] == pytest.approx(226.4, abs=1.5)
    path = saved(tmp_path, drawn.joint(), name="joint.png", photons=20000.0)
    line = json.loads(
        run(
            "line",
            path,
            "--first",
            "190,150",
            "--second",
            "420,140",
            "--kind",
            "condyles",
            "--spacing",
            0.2,
            "--json",
        )
    )
    assert line["kind"] == "condyles"
    assert line["first_px"][1] == pytest.approx(140.0, abs=1.0)


def test_condyles_from_the_side_are_left_to_the_reader(tmp_path):
    path = saved(tmp_path, drawn.joint(), name="joint.png", photons=20000.0)
    ends = ("--first", "190,150", "--second", "420,140")
    with pytest.raises(Refused, match="on a sagittal film only the plateau can be snapped"):
        run("line", path, *ends, "--kind", "condyles", "--sagittal", "--spacing", 0.2)


def test_a_nail_and_a_wall(tube):
    shaft, path = tube
    ends = ("--first", point(shaft.click(0.1)), "--second", point(shaft.click(0.9)))
    nail = json.loads(run("nail", path, *ends, "--spacing", 0.2, "--json"))
    assert nail["width_px"] * 0.2 == pytest.approx(8.0, abs=0.2)
    clicks = ("--at", point(shaft.click(0.05)), "--at", point(shaft.click(0.95)))
    wall = json.loads(run("wall", path, *clicks, "--spacing", 0.2, "--json"))
    assert wall["nail_in_canal"] is True
    assert wall["mid_diaphyseal_line"]["direction_deg"] == pytest.approx(4.0, abs=0.1)
    assert len(wall["outer wall, viewer left"]["points_px"]) > 100
    assert wall["isthmus"] is not None or "isthmus_refused" in wall
    text = run("wall", path, *clicks, "--spacing", 0.2)
    assert "mid diaphyseal line" in text


def test_without_a_scale_lengths_are_left_out_and_angles_stay(tube):
    shaft, path = tube
    clicks = ("--at", point(shaft.click(0.05)), "--at", point(shaft.click(0.95)))
    wall = json.loads(run("wall", path, *clicks, "--json"))
    assert "direction_deg" in wall["mid_diaphyseal_line"]
    assert not any(name.endswith("_mm") for name in wall["mid_diaphyseal_line"])
    assert "isthmus" not in wall
    assert "film-spacing-assumed" in [f["id"] for f in wall["findings"]]


def test_new_bone_and_register(tmp_path):
    x = np.arange(400) * 0.25 - 50.0
    soft = drawn.SOFT * drawn.chord(x, 60.0)
    host = drawn.CORTEX * (drawn.chord(x, 13.0) - drawn.chord(x, 6.5))
    attenuation = np.tile(soft + host, (640, 1))
    attenuation[270:390] = soft + 0.4 * host
    path = saved(tmp_path, attenuation, photons=30000.0)
    found = json.loads(
        run(
            "new-bone",
            path,
            "--upper",
            "200,10",
            "--upper",
            "200,258",
            "--lower",
            "200,402",
            "--lower",
            "200,630",
            "--gap",
            "200,270",
            "200,390",
            "--spacing",
            0.25,
            "--json",
        )
    )
    assert found["whole"]["attenuation_ratio"]["value"] == pytest.approx(0.4, abs=0.03)
    assert found["outline"] == "cylindrical"
    assert "film-density-processed" in [f["id"] for f in found["findings"]]
    y = np.arange(640) * 0.25
    uneven = drawn.CORTEX * drawn.chord(
        x[None, :],
        13.0
        + 3.0 * np.exp(-(((y - 20.0) / 18.0) ** 2) - 0.0)[:, None]
        + 2.5 * np.exp(-(((y - 130.0) / 15.0) ** 2))[:, None],
    )
    path = saved(tmp_path, 1.0 + uneven, name="one.png", photons=9000.0)
    ends = ["200,20", "200,280"], ["200,340", "200,620"]
    same = json.loads(
        run(
            "register",
            path,
            path,
            "--proximal",
            *ends[0],
            "--distal",
            *ends[1],
            "--proximal-later",
            *ends[0],
            "--distal-later",
            *ends[1],
            "--width",
            60,
            "--spacing",
            0.25,
            "--json",
        )
    )
    assert same["gained"]["value"] == pytest.approx(0.0, abs=0.02)
    assert same["toward_viewer_right"]["value"] == pytest.approx(0.0, abs=0.02)


def test_a_tip_down_and_ticks(tmp_path):
    row, column = np.mgrid[0:400, 0:400].astype(float)
    inside = 1.0 - ((column - 205.0) * 0.2 / 12.0) ** 2 - ((row - 219.0) * 0.2 / 20.0 + 1.0) ** 2
    body = np.where(row < 119.0, (np.abs(column - 205.0) * 0.2 < 12.0) * 1.0, np.clip(inside, 0, None))
    path = saved(tmp_path, 1.5 + 1.2 * np.sqrt(body), photons=20000.0)
    tip = json.loads(run("tip", path, "--at", "212,212", "--down", "--spacing", 0.2, "--json"))
    assert tip["y_px"] == pytest.approx(219.0, abs=3.0)
    ticks = np.full((700, 200), 0.3)
    ticks[40:640:50] += 1.5
    ticks[41:641:50] += 1.5
    path = saved(tmp_path, ticks, name="ruler.png", photons=20000.0)
    found = json.loads(
        run("ticks", path, "--first", "100,32", "--second", "100,600", "--spacing", 0.2, "--json")
    )
    assert found["intervals"] == 11


def test_refusals_pass_through_and_bad_places_are_named(tmp_path, tube):
    flat = saved(tmp_path, np.full((300, 300), 1.0), name="flat.png")
    with pytest.raises(Refused, match="outline of a ball"):
        run("ball", flat, "--at", "150,150", "--spacing", 0.143)
    with pytest.raises(Unreadable, match="the file cannot be read"):
        run("ball", tmp_path / "missing.png", "--at", "150,150")
    wrong = CliRunner().invoke(cli, ["film", "ball", flat, "--at", "there"])
    assert wrong.exit_code == 2
    assert "give column and row in pixels" in wrong.output


def test_a_film_without_scale_that_was_asked_for_lengths_only():
    from limbwright.cli.film_answer import _without_mm

    with pytest.raises(Missing, match="everything asked for is a length"):
        _without_mm({"gained": {"value": 1.0, "sd": 0.1, "unit": "mm"}})
