"""mLDFA of 26 real femora, measured with the room's own function on open data.

Data: package `musculoskeletal-models` (MPL-2.0), shape model LLP26 of pelvis, left femur, patella, tibia and
fibula with the scores of its 26 people: nodes = mean + modes · scores, in mm, x to the patient's left, z up.
Landmarks are found here by plain geometry: head by a sphere, condyles by their lowest nodes, the frontal
plane by the posterior condyles.
"""

import importlib.metadata
import pickle
from typing import Any

import numpy as np
import pytest

from limbwright.limb.alignment import bone_length_mm
from limbwright.limb.joint_angle import mldfa_deg
from limbwright.limb.lines import Point, midpoint

PELVIS_NODES, FEMUR_NODES = 1946, 634


class _ArraysOnly(pickle.Unpickler):
    """Builds numpy arrays and nothing else."""

    def find_class(self, module: str, name: str) -> Any:
        if (module, name) in {
            ("numpy.core.multiarray", "_reconstruct"),
            ("numpy", "ndarray"),
            ("numpy", "dtype"),
        }:
            return super().find_class(module.replace("numpy.core", "numpy._core"), name)
        raise pickle.UnpicklingError(f"{module}.{name} is no array")


@pytest.fixture(scope="module")
def femora() -> list[np.ndarray]:
    listed = importlib.metadata.files("musculoskeletal-models") or []
    path = next(f for f in listed if str(f).endswith("LLP26_rigid.pc")).locate()
    with open(path, "rb") as file:
        model = _ArraysOnly(file, encoding="latin1").load()
    people = np.ravel(model["mean"])[:, None] + model["modes"] @ model["projectedWeights"]
    nodes = people.T.reshape(-1, 3, people.shape[0] // 3).transpose(0, 2, 1)
    return list(nodes[:, PELVIS_NODES : PELVIS_NODES + FEMUR_NODES])


def head_centre(femur: np.ndarray) -> np.ndarray:
    top = femur[femur[:, 2] > femur[:, 2].max() - 60]
    surface = top[np.argsort(top[:, 0])[:60]]
    for _ in range(20):
        system = np.c_[2 * surface, np.ones(len(surface))]
        solution = np.linalg.lstsq(system, (surface**2).sum(axis=1), rcond=None)[0]
        centre = solution[:3]
        radius = np.sqrt(solution[3] + centre @ centre)
        near = np.abs(np.linalg.norm(top - centre, axis=1) - radius) < 2.0
        surface = top[near & (top[:, 0] < centre[0] + 0.4 * radius)]
    assert 18 < radius < 30
    return centre


def frontal(femur: np.ndarray) -> tuple[Point, Point, Point]:
    """Head centre and lowest points of both condyles, seen at right angles to the posterior condyles."""
    bottom = femur[:, 2].min()
    condyles = femur[femur[:, 2] < bottom + 45]
    shaft = femur[(femur[:, 2] > bottom + 90) & (femur[:, 2] < bottom + 130)]
    backward = np.sign(condyles[:, 1].mean() - shaft[:, 1].mean())
    angle = 0.0
    for _ in range(5):
        turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
        flat = condyles[:, :2] @ turn.T
        is_medial = flat[:, 0] < flat[:, 0].mean()
        a, b = (part[np.argmax(backward * part[:, 1])] for part in (flat[is_medial], flat[~is_medial]))
        angle += np.arctan2(b[1] - a[1], b[0] - a[0])
    seen = np.c_[(condyles[:, :2] @ turn.T)[:, 0], condyles[:, 2]]
    is_medial = seen[:, 0] < seen[:, 0].mean()
    medial, lateral = (Point(*part[np.argmin(part[:, 1])]) for part in (seen[is_medial], seen[~is_medial]))
    head = head_centre(femur)
    return Point((turn @ head[:2])[0], head[2]), medial, lateral


def test_mldfa_of_26_femora(femora: list[np.ndarray]) -> None:
    """Against Jamali et al., J Orthop Surg Res 12:77, 2017: 85.6 ± 2.3 degrees in 87 limbs, also from CT."""
    angles, lengths = [], []
    for femur in femora:
        head, medial, lateral = frontal(femur)
        knee = midpoint(medial, lateral)
        angles.append(mldfa_deg(hip=head, knee=knee, medial_condyle=medial, lateral_condyle=lateral))
        lengths.append(bone_length_mm(proximal_centre=head, distal_centre=knee))
    assert len(angles) == 26
    # Standard error of the difference of the two means is 0.45 degrees.
    assert np.mean(angles) == pytest.approx(85.6, abs=3 * 0.45)
    assert 1.2 < np.std(angles, ddof=1) < 3.4
    assert 380 < np.mean(lengths) < 450
