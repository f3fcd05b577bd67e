import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from limbwright.error import OutOfRange, Refused
from limbwright.limb.oblique import (
    apex_azimuth_deg,
    apexes_in_space,
    azimuth_words,
    graphical_angulation_deg,
    nearest_approach,
    oblique_angulation,
    oblique_translation,
    plane_from_frontal_deg,
    true_angulation_deg,
)
from limbwright.quantity import Measured

angles = st.floats(-60, 60)


@given(f=angles, s=angles)
def test_the_true_angle_is_that_of_the_axis_in_space(f: float, s: float):
    down = np.array([-math.tan(math.radians(f)), -math.tan(math.radians(s)), -1.0])
    cosine = 1.0 / np.linalg.norm(down)
    assert math.cos(math.radians(true_angulation_deg(frontal_deg=f, sagittal_deg=s))) == pytest.approx(cosine)


@given(f=angles, s=angles)
def test_true_angle_is_never_less_than_what_a_film_shows(f: float, s: float):
    assert true_angulation_deg(frontal_deg=f, sagittal_deg=s) >= max(abs(f), abs(s)) - 1e-9
    assert 0 <= plane_from_frontal_deg(frontal_deg=f, sagittal_deg=s) <= 90


@given(f=st.floats(-20, 20), s=st.floats(-20, 20))
def test_the_graphical_method_is_within_eleven_tenths_of_a_degree_up_to_twenty(f: float, s: float):
    graph = graphical_angulation_deg(frontal_deg=f, sagittal_deg=s)
    assert 0 <= graph - true_angulation_deg(frontal_deg=f, sagittal_deg=s) + 1e-9 < 1.1


@pytest.mark.parametrize(
    ("f", "s", "azimuth", "words"),
    [
        (20, 15, 36.36, "anterolateral, 36 degrees from lateral toward anterior"),
        (-20, 15, 143.64, "anteromedial, 36 degrees from medial toward anterior"),
        (-20, -15, -143.64, "posteromedial, 36 degrees from medial toward posterior"),
        (20, -15, -36.36, "posterolateral, 36 degrees from lateral toward posterior"),
        (20, 0, 0, "lateral"),
        (-20, 0, 180, "medial"),
        (0, 15, 90, "anterior"),
        (0, -15, -90, "posterior"),
    ],
)
def test_where_the_apex_points(f, s, azimuth, words):
    found = apex_azimuth_deg(frontal_deg=f, sagittal_deg=s)
    assert found == pytest.approx(azimuth, abs=0.01)
    assert azimuth_words(found) == words


def test_angles_beyond_any_film_are_refused():
    with pytest.raises(OutOfRange, match=r"sagittal angulation is 85 deg, expected -80 to 80 deg"):
        true_angulation_deg(frontal_deg=10, sagittal_deg=85)


def test_measured_angles_carry_their_uncertainty():
    f, s = (Measured(value=v, sd=sd, unit="deg") for v, sd in ((20.0, 1.0), (15.0, 0.7)))
    result = oblique_angulation(f, s)
    rng = np.random.Generator(np.random.PCG64(2))
    sample_f, sample_s = 20 + rng.standard_normal(20000), 15 + 0.7 * rng.standard_normal(20000)
    true = np.degrees(np.arctan(np.hypot(np.tan(np.radians(sample_f)), np.tan(np.radians(sample_s)))))
    turn = np.degrees(np.arctan2(np.tan(np.radians(sample_s)), np.tan(np.radians(sample_f))))
    assert result.magnitude.value == pytest.approx(24.32, abs=0.01)
    assert result.magnitude.sd == pytest.approx(true.std(), rel=0.03)
    assert result.azimuth.sd == pytest.approx(turn.std(), rel=0.03)
    assert result.from_frontal.value == pytest.approx(36.36, abs=0.01)
    assert result.words.startswith("apex anterolateral")


def test_translation_adds_by_pythagoras():
    result = oblique_translation(
        Measured(value=-3.0, sd=1.0, unit="mm"), Measured(value=4.0, sd=1.0, unit="mm")
    )
    assert result.magnitude == Measured(value=5.0, sd=1.0, unit="mm")
    assert result.words == "distal part displaced anteromedial, 53 degrees from medial toward anterior"


@pytest.mark.parametrize("value", [0.0, 0.5])
def test_next_to_nothing_has_no_direction(value):
    tiny = Measured(value=value, sd=1.0, unit="deg")
    result = oblique_angulation(tiny, Measured(value=0.0, sd=1.0, unit="deg"))
    assert result.words == "none"
    assert result.azimuth is None
    assert result.from_frontal is None
    assert result.magnitude.value == pytest.approx(value)


@given(
    f=st.floats(5, 40),
    s=st.floats(-40, 40),
    level_f=st.floats(0, 300),
    level_s=st.floats(0, 300),
)
def test_the_nearest_approach_is_the_least_distance(f, s, level_f, level_s):
    result = nearest_approach(
        frontal_deg=f, frontal_level_mm=level_f, sagittal_deg=s, sagittal_level_mm=level_s
    )
    slope_f, slope_s = math.tan(math.radians(f)), math.tan(math.radians(s))
    found = minimize_scalar(lambda z: ((z - level_f) * slope_f) ** 2 + ((z - level_s) * slope_s) ** 2)
    assert result.level_mm == pytest.approx(found.x, abs=1e-3)
    assert result.distance_mm == pytest.approx(math.sqrt(max(found.fun, 0)), abs=1e-3)


def test_one_level_means_that_the_axes_meet():
    result = nearest_approach(frontal_deg=10, frontal_level_mm=150, sagittal_deg=8, sagittal_level_mm=150)
    assert (result.level_mm, result.distance_mm, result.words) == (pytest.approx(150), 0, "the axes meet")


def test_words_of_axes_that_pass_each_other():
    result = nearest_approach(frontal_deg=10, frontal_level_mm=100, sagittal_deg=10, sagittal_level_mm=200)
    assert result.level_mm == pytest.approx(150)
    # Below the frontal apex the axis lies medial, above the sagittal one anterior (apex anterior).
    assert result.words == "distal axis anteromedial, 45 degrees from medial toward anterior"


def test_no_angulation_has_no_level():
    with pytest.raises(Refused, match="have no apex in space"):
        nearest_approach(frontal_deg=0.5, frontal_level_mm=1, sagittal_deg=0.5, sagittal_level_mm=2)


@settings(max_examples=10, deadline=None)
@given(f=st.floats(6, 25), s=st.floats(6, 25))
def test_two_apexes_of_one_bone_in_space(bent_tibia, f, s):
    (_, frontal), (_, sagittal) = bent_tibia(f, s)
    result = apexes_in_space(frontal, sagittal)
    slope = (math.tan(math.radians(f)) ** 2, math.tan(math.radians(s)) ** 2)
    levels = frontal.from_proximal_joint.value, sagittal.from_proximal_joint.value
    assert result.level_mm == pytest.approx(np.average(levels, weights=slope))


def test_apexes_that_do_not_belong_together_are_refused(bent_tibia):
    (_, frontal), (_, sagittal) = bent_tibia(15, 15)
    with pytest.raises(Refused, match="not the frontal and the sagittal one of one bone"):
        apexes_in_space(sagittal, frontal)
    with pytest.raises(Refused, match="one of the two planes has no apex level"):
        apexes_in_space(frontal, replace(sagittal, from_proximal_joint=None))
