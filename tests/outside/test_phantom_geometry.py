"""Perspective and rotation of the phantom against hand arithmetic and an independent rotation library."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from limbwright.film.phantom import FRONTAL_SETUP, Ball, Detail, Detector, PatientShape, take_film
from limbwright.film.phantom.motion import turned


@pytest.mark.parametrize(
    ("source_mm", "away_mm", "magnification"), [(3050.0, 150.0, 1.0517), (1800.0, 100.0, 1.0588)]
)
def test_magnification_is_source_distance_over_source_object_distance(source_mm, away_mm, magnification):
    """M = SID / (SID - o), similar triangles; common practice, no source."""
    setup = replace(
        FRONTAL_SETUP,
        source_detector_mm=source_mm,
        bone_detector_mm=away_mm,
        width_mm=100,
        height_mm=100,
        top_above_hip_mm=-400.0,
        detector=Detector(pixel_mm=1.0),
    )
    film = take_film(
        PatientShape(), seed=1, setup=setup, balls=(Ball(below_hip_mm=445.0),), detail=Detail.COARSE
    )
    (circle,) = film.truth.balls
    assert 2.0 * circle.radius_px / 25.0 == pytest.approx(magnification, abs=1e-4)


def test_a_bend_in_two_planes_has_the_size_of_the_tangent_rule():
    """True size: atan(sqrt(tan^2 frontal + tan^2 sagittal)). Paley, Principles of Deformity Correction, 2002
    (value from memory); the rotation itself is checked by scipy's Rotation on 1000 random deformities."""
    rng = np.random.Generator(np.random.PCG64(1))
    for frontal, sagittal in rng.uniform(-30.0, 30.0, (1000, 2)):
        turn = Rotation.from_rotvec(turned(frontal, sagittal, 0.0))
        size = np.degrees(turn.magnitude())
        expected = np.degrees(np.arctan(np.hypot(np.tan(np.radians(frontal)), np.tan(np.radians(sagittal)))))
        assert size == pytest.approx(expected, abs=1e-9)
        aim = turn.apply([0.0, -1.0, 0.0])
        assert np.degrees(np.arctan2(-aim[2], -aim[1])) == pytest.approx(frontal, abs=1e-9)
        assert np.degrees(np.arctan2(-aim[0], -aim[1])) == pytest.approx(sagittal, abs=1e-9)


def test_external_rotation_turns_the_front_outward():
    turn = Rotation.from_rotvec(turned(0.0, 0.0, 30.0))
    assert turn.apply([1.0, 0.0, 0.0]) == pytest.approx([np.cos(np.pi / 6), 0.0, 0.5])
