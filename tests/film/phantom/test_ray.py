"""Path lengths are exact: they are compared with chords worked out by hand."""

from itertools import pairwise

import numpy as np
import pytest

from limbwright.film.phantom.mesh import Mesh, ball, rod
from limbwright.film.phantom.ray import beam_for, paths
from limbwright.film.phantom.setting import Detector, XraySetup
from limbwright.limb.anatomy import Projection, Side

SETUP = XraySetup(width_mm=60.0, height_mm=60.0, top_above_hip_mm=28.5, detector=Detector(pixel_mm=0.5))
SHAPE = (SETUP.rows, SETUP.columns)


def rays(beam):
    """Unit direction of the ray through each pixel, beam frame."""
    rows, columns = np.mgrid[0 : SHAPE[0], 0 : SHAPE[1]]
    way = np.stack(
        [(columns - beam.column0) / beam.focal_px, (rows - beam.row0) / beam.focal_px, np.ones(SHAPE)],
        axis=-1,
    )
    return way / np.linalg.norm(way, axis=-1, keepdims=True)


def sphere_chord(centre, radius, way):
    along = way @ centre
    return 2.0 * np.sqrt(np.maximum(radius**2 - (centre @ centre - along**2), 0.0))


@pytest.mark.parametrize("projection", list(Projection))
@pytest.mark.parametrize("side", list(Side))
def test_a_sphere_has_its_analytic_chord_in_every_projection(projection, side):
    setup = XraySetup(
        projection=projection, width_mm=60, height_mm=60, top_above_hip_mm=28.5, detector=SETUP.detector
    )
    beam = beam_for(setup, side, 0.0)
    centre = np.array([3.0, -2.0, 4.0])
    sphere = ball("ball", centre, 25.4, attenuation_per_mm=1.0, rings=256)
    found = paths([sphere], beam, SHAPE)
    expected = sphere_chord(beam.into_beam(centre[None])[0], 12.7, rays(beam))
    assert np.sqrt(np.mean((found - expected) ** 2)) < 0.004
    assert found.sum() == pytest.approx(expected.sum(), rel=3e-4)


def test_the_error_of_a_sphere_falls_with_the_square_of_its_mesh():
    beam = beam_for(SETUP, None, 0.0)
    centre = np.zeros(3)
    expected = sphere_chord(beam.into_beam(centre[None])[0], 12.0, rays(beam)).sum()
    errors = [
        abs(
            paths([ball("ball", centre, 24.0, attenuation_per_mm=1.0, rings=n)], beam, SHAPE).sum() - expected
        )
        for n in (24, 48, 96)
    ]
    orders = [np.log2(first / second) for first, second in pairwise(errors)]
    assert orders == pytest.approx([2.0, 2.0], abs=0.25)


def test_a_rod_along_the_central_ray_is_as_long_as_it_is():
    beam = beam_for(SETUP, None, 0.0)
    height = SETUP.top_above_hip_mm - SETUP.beam_centre_y * SETUP.height_mm / SETUP.magnification
    axis = np.array([[-20.0, height, 0.0], [20.0, height, 0.0]])
    found = paths([rod("rod", axis[0], axis[1], 10.0, attenuation_per_mm=0.5)], beam, SHAPE)
    centre = found[round(beam.row0), round(beam.column0)]
    assert centre == pytest.approx(0.5 * 40.0, rel=1e-5)


def test_an_upright_cylinder_has_the_chord_of_a_circle():
    beam = beam_for(SETUP, None, 0.0)
    found = paths(
        [
            rod(
                "rod",
                np.array([0.0, -60.0, 0.0]),
                np.array([0.0, 60.0, 0.0]),
                20.0,
                attenuation_per_mm=1.0,
                around=720,
            )
        ],
        beam,
        SHAPE,
    )
    way = rays(beam)[60]
    flat = way[:, [0, 2]]
    size = np.linalg.norm(flat, axis=1)
    aside = beam.source_bone_mm * np.abs(flat[:, 0]) / size
    expected = 2.0 * np.sqrt(np.maximum(100.0 - aside**2, 0.0)) / size
    assert found[60] == pytest.approx(expected, abs=0.01)


def test_no_ray_slips_between_triangles():
    beam = beam_for(SETUP, None, 0.0)
    sphere = ball("ball", np.array([0.0, 0.0, 0.0]), 40.0, attenuation_per_mm=1.0, rings=90)
    found = paths([sphere], beam, SHAPE)
    # A leak would show as a path of thousands of millimetres, the distance from the source.
    assert found.min() > -1e-3
    assert found.max() < 40.01


def test_nested_meshes_add_differences():
    beam = beam_for(SETUP, None, 0.0)
    shell = [
        ball("shell", np.zeros(3), 40.0, attenuation_per_mm=0.08),
        ball("inside", np.zeros(3), 30.0, attenuation_per_mm=-0.05),
    ]
    found = paths(shell, beam, SHAPE)
    height = SETUP.top_above_hip_mm - SETUP.beam_centre_y * SETUP.height_mm / SETUP.magnification
    chord = [2 * np.sqrt(r**2 - height**2) for r in (20.0, 15.0)]
    expected = 0.08 * (chord[0] - chord[1]) + 0.03 * chord[1]
    assert found[round(beam.row0), round(beam.column0)] == pytest.approx(expected, rel=2e-3)


def test_pressing_a_ball_flat_beyond_a_plane_leaves_exactly_the_cap():
    beam = beam_for(SETUP, None, 0.0)
    whole = ball("ball", np.zeros(3), 30.0, attenuation_per_mm=1.0, rings=200)

    def pressed(at, *, upper):
        out = at.copy()
        out[:, 1] = np.maximum(out[:, 1], 4.0) if upper else np.minimum(out[:, 1], 4.0)
        return out

    parts = [whole.moved(lambda at, u=u: pressed(at, upper=u)) for u in (True, False)]
    together = paths(parts, beam, SHAPE)
    assert together == pytest.approx(paths([whole], beam, SHAPE), abs=0.35)
    cap = np.pi * 11.0**2 * (3 * 15.0 - 11.0) / 3.0
    assert parts[0].volume_mm3() == pytest.approx(cap, rel=5e-3)


def test_a_mesh_outside_the_film_leaves_nothing():
    beam = beam_for(SETUP, None, 0.0)
    far = ball("ball", np.array([0.0, 500.0, 0.0]), 20.0, attenuation_per_mm=1.0)
    assert not paths([far], beam, SHAPE).any()


def test_a_single_open_triangle_is_seen_with_its_sign():
    beam = beam_for(SETUP, None, 0.0)
    corners = np.array([[10.0, -10.0, -10.0], [10.0, 15.0, 0.0], [10.0, -10.0, 10.0]])
    one = Mesh(
        name="one", points=corners, triangles=np.array([[0, 1, 2]], dtype=np.int32), attenuation_per_mm=1.0
    )
    other = Mesh(
        name="other",
        points=corners.copy(),
        triangles=np.array([[0, 2, 1]], dtype=np.int32),
        attenuation_per_mm=1.0,
    )
    first, second = paths([one], beam, SHAPE), paths([other], beam, SHAPE)
    assert np.abs(first).max() == pytest.approx(10.0, rel=1e-3)
    assert first == pytest.approx(-second, abs=1e-5)


def stitched(**detector):
    return XraySetup(
        width_mm=200.0,
        height_mm=400.0,
        top_above_hip_mm=150.0,
        detector=Detector(pixel_mm=0.5, seam_mm=(200.0,), **detector),
    )


def test_exposures_meet_in_the_plane_of_the_bones_and_nowhere_else():
    setup = stitched()
    beam = beam_for(setup, None, 0.0)
    upper, lower = (own for _, own in beam.exposures)
    assert upper.source_height_mm > lower.source_height_mm + 100.0
    in_plane, before = np.array([[0.0, -40.0, 10.0]]), np.array([[40.0, -40.0, 10.0]])
    assert upper.project(in_plane) == pytest.approx(lower.project(in_plane))
    # By similar triangles: 40 mm before a plane 2850 mm away, seen from sources this far apart.
    moved = upper.source_height_mm - lower.source_height_mm
    apart = lower.project(before)[0, 1] - upper.project(before)[0, 1]
    assert abs(apart) * 0.5 == pytest.approx(moved * 40.0 / 2850.0 * 3000.0 / 2810.0, rel=1e-3)


def test_a_stitched_film_shows_a_ball_where_its_truth_says():
    setup = stitched(seam_shift_mm=1.5)
    beam = beam_for(setup, None, 0.0)
    for height in (60.0, -100.0):
        centre = np.array([20.0, height, 5.0])
        shadow = paths(
            [ball("ball", centre, 20.0, attenuation_per_mm=1.0)], beam, (setup.rows, setup.columns)
        )
        rows, columns = np.nonzero(shadow > 1e-3)
        column, row = beam.project(centre[None])[0]
        assert 0.5 * (columns.min() + columns.max()) == pytest.approx(column, abs=0.6)
        assert 0.5 * (rows.min() + rows.max()) == pytest.approx(row, abs=0.6)
        assert beam.showing(centre).project(centre[None])[0] == pytest.approx((column, row))
