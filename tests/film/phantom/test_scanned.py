import numpy as np
import pytest

from limbwright.error import OutOfRange
from limbwright.film.phantom.bones import CORTEX
from limbwright.film.phantom.mesh import ball, rod
from limbwright.film.phantom.ray import beam_for, paths
from limbwright.film.phantom.scanned import hollow_bone, shaft_cortex_mm, vertex_normals
from limbwright.film.phantom.setting import Detector, XraySetup


def test_normals_of_a_ball_point_away_from_its_centre():
    sphere = ball("ball", np.zeros(3), 20.0, attenuation_per_mm=1.0)
    normals = vertex_normals(sphere.points, sphere.triangles)
    assert np.einsum("ij,ij->i", normals, sphere.points / 10.0) == pytest.approx(1.0, abs=1e-3)


def test_a_hollow_ball_is_hollow():
    sphere = ball("ball", np.zeros(3), 40.0, attenuation_per_mm=1.0, rings=120)
    outer, inner = hollow_bone("ball", sphere.points, sphere.triangles, 3.0)
    setup = XraySetup(width_mm=60, height_mm=60, top_above_hip_mm=28.5, detector=Detector(pixel_mm=0.5))
    beam = beam_for(setup, None, 0.0)
    found = paths([outer], beam, (120, 120)) + paths([inner], beam, (120, 120))
    middle = beam.project(np.zeros((1, 3)))[0]
    spongy = inner.attenuation_per_mm + CORTEX
    expected = 40.0 * CORTEX + 34.0 * inner.attenuation_per_mm
    assert spongy > 0
    assert found[round(middle[1]), round(middle[0])] == pytest.approx(expected, rel=5e-3)


def test_cortex_is_thick_in_the_middle_and_thin_at_the_ends():
    points = np.array([[0.0, y, 0.0] for y in (0.0, 50.0, 100.0)])
    assert shaft_cortex_mm(points, thickest_mm=6.0) == pytest.approx([1.4, 6.0, 1.4])


def test_open_or_inverted_surfaces_are_refused():
    tube = rod("rod", np.zeros(3), np.array([0.0, 10.0, 0.0]), 4.0, attenuation_per_mm=1.0)
    with pytest.raises(OutOfRange, match="edges without exactly two faces"):
        hollow_bone("rod", tube.points, tube.triangles[:-1], 1.0)
    with pytest.raises(OutOfRange, match="closed surface whose triangles face outward"):
        hollow_bone("rod", tube.points, tube.triangles[:, ::-1], 1.0)
