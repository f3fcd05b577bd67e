"""Results of the film commands in a case file: where they go, and how they are said to have come about."""

import json
import sys
from datetime import date
from pathlib import Path

import pytest

from limbwright.case.case import Case
from limbwright.case.document import case_from_json, case_to_json
from limbwright.case.patient import Patient
from limbwright.error import Contradiction, Missing
from limbwright.film.film import Film, Provenance
from limbwright.growth.growth import Sex
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.view import Surface

sys.path.insert(0, str(Path(__file__).parents[1] / "film"))
sys.path.insert(0, str(Path(__file__).parent))

import drawn_films as drawn
from film_commands import point, run, saved


@pytest.fixture(scope="module")
def tube(tmp_path_factory):
    shaft = drawn.Tube(lean_deg=4.0, nail_mm=8.0, inner_mm=7.0)
    return shaft, saved(tmp_path_factory.mktemp("film"), shaft.attenuation)


def case_with(folder, film_path, size_px, **film):
    """A case file with one film on which nothing is marked yet."""
    frontal = Film(
        name="standing",
        file=Path(film_path).name,
        projection=Projection.FRONTAL,
        width_px=size_px[0],
        height_px=size_px[1],
        **film,
    )
    case = Case(
        id="invented-1",
        invented=True,
        side=Side.RIGHT,
        patient=Patient(id="invented-a", birth_date=date(2008, 5, 1), sex=Sex.FEMALE),
        films=(frontal,),
    )
    path = folder / "case.json"
    path.write_text(case_to_json(case), encoding="utf-8")
    return path


def film_of(path):
    return case_from_json(path.read_bytes(), complete=False).films[0]


def test_a_ball_goes_into_the_case_as_snapped(tmp_path):
    film = saved(tmp_path, drawn.ball())
    case = case_with(tmp_path, film, (360, 360))
    found = json.loads(
        run("ball", film, "--at", "190,170", "--spacing", 0.143, "--json", "--case", case, "--on", "standing")
    )
    ball = film_of(case).scale.ball
    assert (found["written_to_case"], found["written_to_film"]) == ("invented-1", "standing")
    assert ball.radius_px == pytest.approx(found["radius_px"], abs=1e-4)
    assert ball.radius_sd_px == pytest.approx(found["radius_sd_px"], abs=1e-4)
    assert ball.centre.provenance is Provenance.SNAPPED


def test_a_line_goes_into_the_case_at_the_right_ends(tmp_path):
    film = saved(tmp_path, drawn.joint(), name="joint.png")
    case = case_with(tmp_path, film, (600, 300))
    ends = ("--first", "187,143", "--second", "414,143", "--kind", "condyles", "--spacing", 0.2)
    run("line", film, *ends, "--case", case, "--side", "right")
    right = film_of(case).right
    # The patient's right leg at the viewer's left: its lateral side is further left.
    lateral = right[Landmark.LATERAL_FEMORAL_CONDYLE]
    medial = right[Landmark.MEDIAL_FEMORAL_CONDYLE]
    assert lateral.x_px < medial.x_px
    assert {lateral.provenance, medial.provenance} == {Provenance.SNAPPED}
    assert lateral.sd_px is not None
    # The same place cannot be the other leg as well.
    with pytest.raises(Contradiction, match="are exchanged"):
        run("line", film, *ends, "--case", case, "--side", "left")
    assert film_of(case).right == right
    other = case_with(tmp_path, film, (600, 300))
    run("line", film, *ends, "--case", other, "--side", "left")
    left = film_of(other).left
    assert left[Landmark.LATERAL_FEMORAL_CONDYLE].x_px > left[Landmark.MEDIAL_FEMORAL_CONDYLE].x_px


def test_walls_go_into_the_case_and_replace_the_same_stretch_only(tube, tmp_path):
    shaft, film = tube
    case = case_with(tmp_path, film, (500, 700))
    clicks = ("--at", point(shaft.click(0.1, 1.0)), "--at", point(shaft.click(0.9, -1.0)))
    where = ("--spacing", 0.2, "--case", case, "--side", "right", "--bone", "tibia")
    run("wall", film, *clicks, *where)
    once = film_of(case).walls
    assert {wall.surface for wall in once} >= {Surface.OUTER}
    assert {(wall.side, wall.bone) for wall in once} == {(Side.RIGHT, Bone.TIBIA)}
    run("wall", film, *clicks, *where)
    assert len(film_of(case).walls) == len(once)


def test_a_nail_goes_into_the_case_with_its_diameter(tube, tmp_path):
    shaft, film = tube
    case = case_with(tmp_path, film, (500, 700))
    clicks = ("--first", point(shaft.click(0.1, 1.0)), "--second", point(shaft.click(0.9, -1.0)))
    with pytest.raises(Missing, match="the diameter of the nail is not given"):
        run("nail", film, *clicks, "--spacing", 0.2, "--case", case)
    assert film_of(case).scale.nail is None
    run("nail", film, *clicks, "--spacing", 0.2, "--case", case, "--diameter", 8.0)
    nail = film_of(case).scale.nail
    assert nail.diameter_mm == 8.0
    assert nail.diameter_px == pytest.approx(8.0 / 0.2, abs=1.0)


def test_a_case_without_that_film_or_a_mark_without_its_leg_is_refused_and_the_file_left(tmp_path):
    film = saved(tmp_path, drawn.head(), name="head.png")
    case = case_with(tmp_path, film, (460, 460))
    before = case.read_bytes()
    with pytest.raises(Missing, match="it has no film 'sitting'"):
        run(
            *("head", film, "--at", "226,235", "--spacing", 0.2),
            *("--case", case, "--side", "left", "--on", "sitting"),
        )
    with pytest.raises(Missing, match="no leg was named"):
        run("head", film, "--at", "226,235", "--spacing", 0.2, "--case", case)
    other = saved(tmp_path, drawn.ball(), name="other.png")
    with pytest.raises(Contradiction, match="has 460 x 460 px, this one 360 x 360"):
        run("ball", other, "--at", "190,170", "--spacing", 0.143, "--case", case)
    assert case.read_bytes() == before
    assert list(tmp_path.glob("*.part")) == []
