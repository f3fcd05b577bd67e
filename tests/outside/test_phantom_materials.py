"""Attenuation coefficients of the phantom against elemental tables.

Elemental coefficients: W. T. Elam, B. D. Ravel, J. R. Sieber, A new atomic database for X-ray spectroscopic
calculations, Radiation Physics and Chemistry 63, 2002, as shipped by the package xraydb. Compositions stand
in the phantom's own table with their sources (values from memory).
"""

import pytest
import xraydb

from limbwright.film.phantom.materials import Material, attenuation_per_mm
from limbwright.published import table

ENERGY_EV = 50_000.0


def composition(material):
    rows = [row for row in table("film/phantom", "composition") if row.text("material") == material]
    return {row.text("element"): row.number("mass_fraction") for row in rows}


@pytest.mark.parametrize("material", list(Material))
def test_attenuation_follows_from_composition_and_density(material):
    parts = composition(material)
    row = next(row for row in table("film/phantom", "materials") if row.text("material") == material)
    per_mass = sum(share * xraydb.mu_elam(element, ENERGY_EV) for element, share in parts.items())
    expected = per_mass * row.number("density_g_per_cm3") / 10.0
    assert sum(parts.values()) == pytest.approx(1.0, abs=0.005)
    assert attenuation_per_mm(material) == pytest.approx(expected, rel=1e-3)


def test_muscle_is_within_a_few_percent_of_water():
    """Muscle is mostly water and 5 % denser; both at 50 keV."""
    water = xraydb.material_mu("H2O", ENERGY_EV, density=1.0) / 10.0
    assert attenuation_per_mm(Material.MUSCLE) == pytest.approx(1.05 * water, rel=0.02)


def test_bone_stops_more_than_three_times_as_much_as_muscle_and_metal_far_more():
    bone, muscle = attenuation_per_mm(Material.CORTICAL_BONE), attenuation_per_mm(Material.MUSCLE)
    assert 3.0 < bone / muscle < 4.0
    assert attenuation_per_mm(Material.TITANIUM_ALLOY) > 5.0 * bone
