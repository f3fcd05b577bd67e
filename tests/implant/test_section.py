"""Bending of round sections."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.error import OutOfRange
from limbwright.implant.section import (
    bending_stiffness_n_m2,
    bending_stress_mpa,
    elastic_modulus_gpa,
    second_moment_of_area_mm4,
    thick_bending_stiffness_n_m2,
    thin_bending_stiffness_n_m2,
)
from limbwright.implant.shipped import shipped_catalogue


@given(st.floats(1, 50), st.floats(0.01, 0.99))
def test_a_tube_is_the_bar_less_its_bore(diameter_mm: float, share: float) -> None:
    bore_mm = diameter_mm * share
    tube = second_moment_of_area_mm4(diameter_mm=diameter_mm, bore_mm=bore_mm)
    bar = second_moment_of_area_mm4(diameter_mm=diameter_mm)
    assert tube == pytest.approx(bar * (1 - share**4))


@given(st.floats(1, 20), st.floats(-50, 50))
def test_surface_stress_of_a_solid_bar(diameter_mm: float, moment_n_m: float) -> None:
    expected = 32 * moment_n_m * 1000 / (math.pi * diameter_mm**3)
    assert bending_stress_mpa(moment_n_m=moment_n_m, diameter_mm=diameter_mm) == pytest.approx(expected)


def test_stiffness_of_a_nail_s_two_parts() -> None:
    nail = shipped_catalogue().nail("T-10.7/305")
    assert thick_bending_stiffness_n_m2(nail) == pytest.approx(73.35, abs=0.01)
    assert thin_bending_stiffness_n_m2(nail) == pytest.approx(
        bending_stiffness_n_m2(diameter_mm=8, elastic_modulus_gpa=114)
    )


def test_impossible_sections_are_refused() -> None:
    with pytest.raises(OutOfRange, match="bore is 11 mm in a bar of 10 mm, expected at least 0 and less"):
        second_moment_of_area_mm4(diameter_mm=10, bore_mm=11)
    with pytest.raises(OutOfRange, match=r"diameter is 0 mm, expected 0\.1 to 100 mm"):
        second_moment_of_area_mm4(diameter_mm=0)
    with pytest.raises(OutOfRange, match="elastic modulus is 0 GPa"):
        bending_stiffness_n_m2(diameter_mm=10, elastic_modulus_gpa=0)


def test_moduli_come_from_the_table() -> None:
    assert elastic_modulus_gpa("titanium alloy") == 114
    with pytest.raises(
        OutOfRange, match="no material 'wood', expected one of titanium alloy, stainless steel"
    ):
        elastic_modulus_gpa("wood")
