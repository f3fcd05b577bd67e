"""Bending of nails against the formulas of strength of materials, and by integration.

Second moment of area of a round section, π/64 (D⁴ − d⁴): any textbook of strength of materials. The figures
for nail diameters are arithmetic on it, with titanium alloy at 114 GPa and steel at 193 GPa (general
textbooks, values from memory).
"""

import math

import pytest
from scipy.integrate import quad

from limbwright.implant.section import (
    bending_stiffness_n_m2,
    bending_stress_mpa,
    elastic_modulus_gpa,
    second_moment_of_area_mm4,
)


@pytest.mark.parametrize(
    ("diameter_mm", "area_mm4", "titanium_n_m2", "steel_n_m2"),
    [
        (8.5, 256.2, 29.2, 49.5),
        (10.0, 490.9, 56.0, 94.7),
        (10.7, 643.4, 73.35, 124.2),
        (11.5, 858.5, 97.9, 165.7),
        (12.5, 1198.4, 136.6, 231.3),
    ],
)
def test_solid_nails(diameter_mm: float, area_mm4: float, titanium_n_m2: float, steel_n_m2: float) -> None:
    assert second_moment_of_area_mm4(diameter_mm=diameter_mm) == pytest.approx(area_mm4, rel=1e-3)
    for material, expected in (("titanium alloy", titanium_n_m2), ("stainless steel", steel_n_m2)):
        found = bending_stiffness_n_m2(
            diameter_mm=diameter_mm, elastic_modulus_gpa=elastic_modulus_gpa(material)
        )
        assert found == pytest.approx(expected, rel=2e-3)


def test_a_hollow_nail_keeps_nine_tenths() -> None:
    hollow = second_moment_of_area_mm4(diameter_mm=10.7, bore_mm=6.0)
    assert hollow == pytest.approx(579.8, abs=0.1)
    assert hollow / second_moment_of_area_mm4(diameter_mm=10.7) == pytest.approx(0.90, abs=0.005)


@pytest.mark.parametrize(("thick_mm", "thin_mm", "ratio"), [(10.7, 8.5, 2.511), (12.5, 10.7, 1.863)])
def test_stiffness_grows_with_the_fourth_power(thick_mm: float, thin_mm: float, ratio: float) -> None:
    found = bending_stiffness_n_m2(diameter_mm=thick_mm, elastic_modulus_gpa=114) / bending_stiffness_n_m2(
        diameter_mm=thin_mm, elastic_modulus_gpa=114
    )
    assert found == pytest.approx(ratio, abs=1e-3)
    assert found == pytest.approx((thick_mm / thin_mm) ** 4)


@pytest.mark.parametrize(("diameter_mm", "bore_mm"), [(8.5, 0.0), (10.7, 6.0), (12.5, 3.2)])
def test_second_moment_by_integration_over_the_section(diameter_mm: float, bore_mm: float) -> None:
    """∫ y² · width(y) dy by the quadrature of scipy, for the bar less its bore."""

    def bar(size_mm: float) -> float:
        radius = size_mm / 2
        return quad(lambda y: y**2 * 2 * math.sqrt(radius**2 - y**2), -radius, radius)[0]

    expected = bar(diameter_mm) - (bar(bore_mm) if bore_mm else 0.0)
    found = second_moment_of_area_mm4(diameter_mm=diameter_mm, bore_mm=bore_mm)
    assert found == pytest.approx(expected, rel=1e-7)


def test_end_rotation_of_a_cantilever_nail() -> None:
    """10 N m at the end of 50 mm of a solid titanium nail of 10.7 mm: M l / (E I) = 0.39 degrees."""
    stiffness = bending_stiffness_n_m2(diameter_mm=10.7, elastic_modulus_gpa=114)
    assert math.degrees(10 * 0.05 / stiffness) == pytest.approx(0.39, abs=0.005)
    assert bending_stress_mpa(moment_n_m=10, diameter_mm=10.7) == pytest.approx(
        32 * 10_000 / (math.pi * 10.7**3)
    )


def test_steel_is_about_1_7_times_as_stiff_as_titanium() -> None:
    """Ratio of the two moduli, textbooks, values from memory."""
    assert elastic_modulus_gpa("stainless steel") / elastic_modulus_gpa("titanium alloy") == pytest.approx(
        1.7, abs=0.02
    )
