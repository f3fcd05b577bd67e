"""Reductions against scipy's rotations, and rule-2 translation against published geometry."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from limbwright.plan.motion import rotation_between, rotation_vector_deg, turn, turned_deg, unit
from limbwright.plan.reduction import reducing


def test_a_thousand_random_reductions_agree_with_scipy() -> None:
    """scipy.spatial.transform.Rotation builds each deformity; our reduction must be its inverse.

    Deformity: a shaft turned by Rotation.from_rotvec (oblique plane, up to 40 deg, no twist about the line)
    about an apex anywhere, and shifted. The reduction of its line onto the straight one must take every point
    of the fragment back to where it was, along the line up to the stated meeting of the ends.
    """
    rng = np.random.Generator(np.random.PCG64(20))
    n = 1000
    down = np.array([0.0, -1.0, 0.0])
    azimuth, size = rng.uniform(0, 2 * np.pi, n), np.radians(rng.uniform(0.1, 40, n))
    axis = np.column_stack([np.cos(azimuth), np.zeros(n), np.sin(azimuth)])  # across the line: no twist
    deformity = Rotation.from_rotvec(axis * size[:, None])
    apex = rng.uniform([-10, -250, -10], [10, -50, 10], (n, 3))
    shift = rng.uniform(-15, 15, (n, 3))
    points = rng.uniform([-30, -360, -30], [30, -200, 30], (n, 3))
    deformed = deformity.apply(points - apex) + apex + shift

    axis_point = np.column_stack([np.zeros(n), apex[:, 1], np.zeros(n)])  # a point of the straight line
    distal_point = deformity.apply(axis_point - apex) + apex + shift
    rotation, translation = reducing(axis_point, down, distal_point, deformity.apply(np.tile(down, (n, 1))))
    back = np.einsum("nij,nj->ni", rotation, deformed) + translation
    assert back == pytest.approx(points, abs=1e-9)
    assert rotation == pytest.approx(deformity.inv().as_matrix(), abs=1e-12)


def test_rotation_vectors_agree_with_scipy() -> None:
    """scipy.spatial.transform.Rotation: as_rotvec, and align_vectors for the turn between two lines."""
    rng = np.random.Generator(np.random.PCG64(21))
    turns = Rotation.from_rotvec(rng.uniform(-1.5, 1.5, (300, 3)))
    assert rotation_vector_deg(turns.as_matrix()) == pytest.approx(np.degrees(turns.as_rotvec()), abs=1e-8)
    varus, procurvatum, external = rng.uniform(-40, 40, (3, 200))
    ours = turn(varus_deg=varus, procurvatum_deg=procurvatum, external_deg=external)
    theirs = Rotation.from_rotvec(np.radians(np.column_stack([varus, -external, -procurvatum]))).as_matrix()
    assert ours == pytest.approx(theirs, abs=1e-12)
    assert np.column_stack(turned_deg(theirs)) == pytest.approx(
        np.column_stack([varus, procurvatum, external]), abs=1e-8
    )
    for a, b in unit(rng.normal(size=(50, 2, 3))):
        if a @ b > -0.9:
            theirs_one, _ = Rotation.align_vectors(b[None], a[None])
            assert rotation_between(a, b) == pytest.approx(theirs_one.as_matrix(), abs=1e-7)


@pytest.mark.parametrize(
    ("angulation", "rotation", "total"), [(20.0, 15.0, 24.95), (10.0, 0.0, 10.0), (0.0, 12.0, 12.0)]
)
def test_angulation_and_rotation_make_one_turn(angulation: float, rotation: float, total: float) -> None:
    """cos(total/2) = cos(A/2)·cos(R/2) for perpendicular axes; 20 and 15 deg give 24.95 deg.

    Rotation algebra (quaternion product), derived; scipy prints the same:
    (Rotation.from_euler("y", 15, degrees=True) * Rotation.from_euler("x", 20, degrees=True)).magnitude().
    """
    after = turn(varus_deg=0, procurvatum_deg=0, external_deg=rotation) @ turn(
        varus_deg=angulation, procurvatum_deg=0, external_deg=0
    )
    assert np.linalg.norm(rotation_vector_deg(after)) == pytest.approx(total, abs=0.005)
