"""Real bones through the phantom's beam.

The array file beside the phantom's tests holds the 26 legs of the shape model in the package
musculoskeletal-models 0.2.4 (MPL-2.0), converted by the script beside it. Here it is compared with the
package itself, and the package's bones are filmed.
"""

import hashlib
import pickle
from pathlib import Path

import numpy as np
import pytest

from limbwright.film.phantom.films import film_of_meshes
from limbwright.film.phantom.mesh import ball
from limbwright.film.phantom.ray import beam_for, paths
from limbwright.film.phantom.scanned import hollow_bone, shaft_cortex_mm
from limbwright.film.phantom.setting import Detector, XraySetup

ARRAYS = Path(__file__).parents[1] / "film" / "phantom" / "legs26.npz"
SHA256 = "9b45bd1db70eede282dac1e4891d1ebdcd4887aa7954c3626798b70e1f218020"
PEOPLE = 26


class NumbersOnly(pickle.Unpickler):
    def find_class(self, module, name):
        assert (module.split(".")[0], name) in {
            ("numpy", "_reconstruct"),
            ("numpy", "ndarray"),
            ("numpy", "dtype"),
        }
        return super().find_class(module.replace("numpy.core", "numpy._core"), name)


@pytest.fixture(scope="module")
def arrays():
    assert hashlib.sha256(ARRAYS.read_bytes()).hexdigest() == SHA256
    with np.load(ARRAYS, allow_pickle=False) as file:
        return {name: file[name] for name in file.files}


@pytest.fixture(scope="module")
def model():
    import musculoskeletal

    (root,) = musculoskeletal.__path__
    path = Path(root) / "models" / "shape_models" / "LLP26_rigid.pc"
    with path.open("rb") as file:
        return path, NumbersOnly(file, encoding="latin1").load()


def bone(arrays, name, person):
    """Surface of one person's bone in the patient's axes (x anterior, y up, z right), scan position, mm."""
    scan = arrays[f"{name}_mean_mm"].astype(float) + 0.01 * arrays[f"{name}_people_cmm"][person]
    return np.stack([-scan[:, 1], scan[:, 2], -scan[:, 0]], axis=1), arrays[f"{name}_triangles"].astype(
        np.int32
    )


def head_sphere(points):
    """Centre and radius of the femoral head of a left femur: least squares on its medial upper half."""
    way = np.array([0.0, 1.0, 1.0]) / np.sqrt(2.0)
    radius = 24.0
    centre = points[(points @ way).argmax()] - radius * way
    for _ in range(30):
        away = points - centre
        distance = np.linalg.norm(away, axis=1)
        near = (np.abs(distance - radius) < 3.0) & (away @ way > 0.2 * distance)
        system = np.column_stack([2.0 * points[near], np.ones(near.sum())])
        answer, *_ = np.linalg.lstsq(system, (points[near] ** 2).sum(axis=1), rcond=None)
        centre, radius = answer[:3], float(np.sqrt(answer[3] + answer[:3] @ answer[:3]))
    return centre, radius


def test_the_arrays_come_from_the_packages_own_file(arrays, model):
    path, _ = model
    assert str(arrays["source_sha256"]) == hashlib.sha256(path.read_bytes()).hexdigest()


def test_femur_nodes_of_every_person_are_vertices_of_the_converted_surface(arrays, model):
    from scipy.spatial import cKDTree

    _, values = model
    people = (values["mean"][:, None] + values["modes"] @ values["projectedWeights"]).T.reshape(
        PEOPLE, 3, 3225
    )
    for person in range(PEOPLE):
        nodes = people[person, :, 1946:2580].T
        surface = arrays["femur_mean_mm"] + 0.01 * arrays["femur_people_cmm"][person]
        away = cKDTree(surface).query(nodes)[0]
        # Some nodes of triangular elements lie between the points the surface is drawn with.
        assert (away < 0.02).mean() > 0.9


def test_the_26_people_average_to_the_packages_own_mean(arrays, model):
    from scipy.spatial import cKDTree

    _, values = model
    nodes = np.ravel(values["mean"]).reshape(3, 3225)[:, 1946:2580].T
    people = arrays["femur_people_cmm"].astype(float)
    surface = arrays["femur_mean_mm"] + 0.01 * people.mean(axis=0)
    away = cKDTree(surface).query(nodes)[0]
    assert (away < 0.05).mean() > 0.9
    # Scores are of people, not of one person copied.
    assert people.std(axis=0).mean() * 0.01 > 1.0


@pytest.mark.parametrize("person", [2, 19])
@pytest.mark.parametrize("name", ["femur", "tibia_fibula"])
def test_a_right_leg_is_the_mirror_image_of_a_left_one(arrays, name, person):
    points, triangles = bone(arrays, name, person)
    points = points - points.mean(axis=0) - np.array([0.0, 400.0, 88.0])
    left, _ = hollow_bone(name, points, triangles, 3.0)
    setup = XraySetup(detector=Detector(pixel_mm=1.0))
    beam = beam_for(setup, None, 176.0)
    shape = (setup.rows, setup.columns)
    one, other = paths([left], beam, shape), paths([left.mirrored()], beam, shape)
    assert one.sum() > 0
    assert left.mirrored().volume_mm3() == pytest.approx(left.volume_mm3())
    assert np.abs(one[:, ::-1] - other).max() < 0.02


def test_lengths_and_heads_are_those_of_adults(arrays):
    """Read crudely from the surfaces; the ranges are what an earlier reading of the same model gave."""
    radii, lengths = [], []
    for person in range(PEOPLE):
        points, _ = bone(arrays, "femur", person)
        centre, radius = head_sphere(points)
        radii.append(radius)
        lengths.append(centre[1] - points[:, 1].min())
    assert np.mean(radii) == pytest.approx(23.0, abs=0.6)
    assert np.std(radii) == pytest.approx(1.3, abs=0.6)
    assert min(lengths) > 380
    assert max(lengths) < 460


@pytest.mark.parametrize("person", [0, 13, 25])
def test_a_real_femur_casts_the_shadow_of_its_own_outline(arrays, person):
    points, triangles = bone(arrays, "femur", person)
    centre, radius = head_sphere(points)
    points = points - centre + np.array([0.0, 0.0, -88.0])
    outer, inner = hollow_bone("femur", points, triangles, shaft_cortex_mm(points, thickest_mm=6.0))
    setup = XraySetup(detector=Detector(pixel_mm=0.5))
    beam = beam_for(setup, None, 176.0)
    shadow = paths([outer, inner], beam, (setup.rows, setup.columns))
    assert shadow.min() > -1e-3
    flat = beam.project(points)
    rows, columns = np.nonzero(shadow > 1e-4)
    assert (columns.min(), columns.max()) == pytest.approx((flat[:, 0].min(), flat[:, 0].max()), abs=1.5)
    assert (rows.min(), rows.max()) == pytest.approx((flat[:, 1].min(), flat[:, 1].max()), abs=1.5)
    # The head's own circle: a sphere of the fitted radius covers nearly the same pixels above its centre.
    sphere = ball("head", np.array([0.0, 0.0, -88.0]), 2 * radius, attenuation_per_mm=1.0)
    disc = paths([sphere], beam, shadow.shape) > 1e-4
    top = slice(0, round(beam.project(np.array([[0.0, 8.0, -88.0]]))[0, 1]))
    overlap = (disc[top] & (shadow[top] > 1e-4)).sum() / disc[top].sum()
    # A head is not a perfect sphere.
    assert overlap > 0.95


def test_a_whole_real_leg_can_be_filmed(arrays):
    meshes = []
    centre, _ = head_sphere(bone(arrays, "femur", 3)[0])
    for name, cortex in (("pelvis", 1.6), ("femur", 6.0), ("patella", 1.4), ("tibia_fibula", 4.0)):
        points, triangles = bone(arrays, name, 3)
        points = points - centre + np.array([0.0, 0.0, -88.0])
        long = name in {"femur", "tibia_fibula"}
        meshes += hollow_bone(
            name, points, triangles, shaft_cortex_mm(points, thickest_mm=cortex) if long else cortex
        )
    setup = XraySetup(detector=Detector(pixel_mm=1.0))
    picture, presentation = film_of_meshes(meshes, beam_for(setup, None, 176.0), setup, seed=1)
    assert picture.shape == (setup.rows, setup.columns)
    assert 0.5 <= presentation.high < 6.0
    assert 0.05 < (picture > 0).mean() < 0.6
