"""The oblique plane against worked rows and an independent library of 3-D rotations."""

import math

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from limbwright.limb.oblique import (
    apex_azimuth_deg,
    graphical_angulation_deg,
    nearest_approach,
    plane_from_frontal_deg,
    true_angulation_deg,
)
from limbwright.limb.turn import combined_turn_deg, equivalent_turn


@pytest.mark.parametrize(
    ("frontal", "sagittal", "true", "plane", "graphical"),
    [
        (10, 10, 14.00, 45.00, 14.14),
        (12, 5, 12.95, 22.37, 13.00),
        (15, 8, 16.83, 27.68, 17.00),
        (19, 14, 23.03, 35.91, 23.60),
        (20, 15, 24.32, 36.36, 25.00),
        (30, 30, 39.23, 45.00, 42.43),
        (25, 0, 25.00, 0.00, 25.00),
    ],
)
def test_worked_rows(frontal: float, sagittal: float, true: float, plane: float, graphical: float) -> None:
    """Tangent rule of Paley, Principles of Deformity Correction, 2002 (formula from memory, plane rule seen
    in Orthopedic Reviews article 120302); rows worked by hand from it. A published figure for 19 and 14
    degrees prints plane angles that contradict its own method, so it is not used.
    """
    both = {"frontal_deg": frontal, "sagittal_deg": sagittal}
    assert true_angulation_deg(**both) == pytest.approx(true, abs=0.01)
    assert plane_from_frontal_deg(**both) == pytest.approx(plane, abs=0.01)
    assert graphical_angulation_deg(**both) == pytest.approx(graphical, abs=0.01)


def test_a_thousand_random_deformities_against_scipy_rotations() -> None:
    """scipy.spatial.transform.Rotation: tilt a bone about a random axis in the transverse plane, read the
    angles that two films at right angles show, and find size, plane and apex again.
    """
    rng = np.random.Generator(np.random.PCG64(20260101))
    for _ in range(1000):
        size, azimuth = rng.uniform(0.5, 60.0), rng.uniform(-180.0, 180.0)
        pointing = np.array([math.cos(math.radians(azimuth)), math.sin(math.radians(azimuth)), 0.0])
        # The distal end turns away from where the apex points.
        axis = np.cross([0.0, 0.0, -1.0], -pointing)
        down = Rotation.from_rotvec(axis * math.radians(size)).apply([0.0, 0.0, -1.0])
        shown = {
            "frontal_deg": math.degrees(math.atan2(-down[0], -down[2])),
            "sagittal_deg": math.degrees(math.atan2(-down[1], -down[2])),
        }
        assert true_angulation_deg(**shown) == pytest.approx(size, abs=1e-9)
        found = apex_azimuth_deg(**shown)
        assert math.cos(math.radians(found - azimuth)) == pytest.approx(1.0, abs=1e-12)
        folded = abs(azimuth) if abs(azimuth) <= 90 else 180 - abs(azimuth)
        assert plane_from_frontal_deg(**shown) == pytest.approx(folded, abs=1e-6)


def test_a_thousand_turns_in_space_against_scipy_rotations() -> None:
    """The same library: tilt, rotation about the bone and shift; turning about our axis must do the same."""
    rng = np.random.Generator(np.random.PCG64(20260102))
    for _ in range(1000):
        f, s, external = rng.uniform(-45, 45, 3)
        shift = rng.uniform(-30, 30, 3)
        turn = equivalent_turn(
            frontal_deg=f,
            sagittal_deg=s,
            external_deg=external,
            lateral_mm=shift[0],
            anterior_mm=shift[1],
            proximal_mm=shift[2],
        )
        down = np.array([-math.tan(math.radians(f)), -math.tan(math.radians(s)), -1.0])
        down /= np.linalg.norm(down)
        normal = np.cross([0.0, 0.0, -1.0], down)
        tilt = Rotation.from_rotvec(normal / np.linalg.norm(normal) * math.acos(-down[2]))
        wanted = tilt * Rotation.from_euler("z", -external, degrees=True)
        assert turn.angle_deg == pytest.approx(math.degrees(wanted.magnitude()), abs=1e-9)
        axis, point = np.array(turn.axis), np.array(turn.point_mm)
        ours = Rotation.from_rotvec(axis * math.radians(turn.angle_deg))
        for place in (np.zeros(3), np.array([10.0, -20.0, -150.0])):
            assert point + ours.apply(place - point) + turn.slide_mm * axis == pytest.approx(
                wanted.apply(place) + shift, abs=1e-7
            )


def test_rotation_added_to_angulation() -> None:
    """Half-angle rule for two axes at right angles; 20 and 15 degrees give 24.95 (sum of squares: 25.00)."""
    assert combined_turn_deg(angulation_deg=20, rotation_deg=15) == pytest.approx(24.95, abs=0.01)
    both = Rotation.from_euler("x", 20, degrees=True) * Rotation.from_euler("z", 15, degrees=True)
    assert combined_turn_deg(angulation_deg=20, rotation_deg=15) == pytest.approx(
        math.degrees(both.magnitude())
    )


def test_one_level_on_both_films_is_an_oblique_plane_two_levels_are_a_translation_too() -> None:
    """Paley, Principles of Deformity Correction, 2002, chapter 8, from memory."""
    same = nearest_approach(frontal_deg=15, frontal_level_mm=120, sagittal_deg=10, sagittal_level_mm=120)
    other = nearest_approach(frontal_deg=15, frontal_level_mm=120, sagittal_deg=10, sagittal_level_mm=180)
    assert same.distance_mm == 0
    assert other.distance_mm > 5
