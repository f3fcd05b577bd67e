"""Noise, blur, scatter and curve, each on a plain sheet where the answer is known."""

from dataclasses import replace

import numpy as np
import pytest

from limbwright.film.phantom.exposure import blur_sd_mm, exposed
from limbwright.film.phantom.setting import Detector, XraySetup

QUIET = Detector(
    pixel_mm=0.5,
    photons_per_mm2=0.0,
    electronic_noise=0.0,
    blur_mm=0.0,
    focal_spot_mm=0.0,
    scatter_fraction=0.0,
    heel_effect=0.0,
    tissue_texture=0.0,
)


def film(sheet, rng, **detector):
    setup = XraySetup(width_mm=100, height_mm=100, detector=replace(QUIET, **detector))
    picture, presentation = exposed(np.array(sheet, dtype=np.float32), setup, rng, high=6.0)
    return picture, presentation.attenuation(picture)


@pytest.mark.parametrize("power", [0.6, 0.8, 1.0, 1.4])
@pytest.mark.parametrize("bits", [12, 14])
def test_the_presentation_curve_can_be_undone(still, power, bits):
    sheet = np.linspace(0.2, 5.8, 40000).reshape(200, 200)
    picture, found = film(sheet, still, curve_power=power, bits=bits)
    assert picture.max() < 2**bits
    assert found == pytest.approx(sheet, abs=8.0 / 2**bits / min(power, 1.0) + 1e-3)


def test_quantum_noise_is_poisson(still):
    _, found = film(np.full((400, 400), 2.0), still, photons_per_mm2=40000.0)
    expected = np.sqrt(np.exp(2.0) / (40000.0 * 0.25))
    assert found.std() == pytest.approx(expected, rel=0.02)
    assert found.mean() == pytest.approx(2.0, abs=0.001)


def test_electronic_noise_is_the_same_everywhere(still):
    _, found = film(np.full((400, 400), 1.0), still, electronic_noise=0.002)
    assert found.std() == pytest.approx(0.002 * np.e, rel=0.02)


def test_an_edge_is_blurred_by_detector_and_focal_spot_together(still):
    setup = XraySetup(detector=replace(QUIET, pixel_mm=0.1, blur_mm=0.5, focal_spot_mm=6.0))
    sheet = np.full((200, 400), 1.0, dtype=np.float32)
    sheet[:, 200:] = 1.02
    picture, presentation = exposed(sheet, setup, still, high=1.03)
    profile = presentation.attenuation(picture).mean(axis=0)
    weights = np.gradient(profile)
    place = np.arange(len(weights)) * 0.1
    weights /= weights.sum()
    spread = np.sqrt(weights @ place**2 - (weights @ place) ** 2)
    penumbra = 6.0 * (setup.magnification - 1.0) / np.sqrt(12.0)
    assert spread == pytest.approx(np.hypot(0.5, penumbra), rel=0.03)
    assert blur_sd_mm(setup) == pytest.approx(np.hypot(0.5, penumbra))


def test_scatter_flattens_contrast_most_behind_thick_parts(still):
    sheet = np.full((200, 200), 0.7, dtype=np.float32)
    sheet[:, :100] = 5.0
    _, found = film(sheet, still, scatter_fraction=0.2)
    assert found[:, 20].mean() < 4.5
    assert found[:, 180].mean() == pytest.approx(0.7, abs=0.12)


def test_heel_effect_weakens_the_beam_toward_the_lower_edge(still):
    _, found = film(np.full((200, 200), 1.0), still, heel_effect=0.2)
    rows = found.mean(axis=1)
    assert np.all(np.diff(rows) > 0)
    assert rows[-1] - rows[0] == pytest.approx(-np.log(0.8), rel=0.03)


def test_compensating_filter_adds_evenly_down_the_film(still):
    _, found = film(np.full((200, 200), 1.0), still, compensation_per_mm=0.01)
    assert found[-1].mean() - found[0].mean() == pytest.approx(0.995, abs=0.02)


def test_each_exposure_of_a_stitched_film_has_its_own_gain_and_heel_effect(still):
    sheet = np.full((200, 200), 2.0)
    _, found = film(sheet, still, seam_mm=(50.0,), heel_effect=0.2)
    rows = found.mean(axis=1)
    assert rows[100] - rows[0] == pytest.approx(0.025, abs=2e-3)
    assert rows[99] - rows[0] == pytest.approx(rows[199] - rows[100], abs=2e-3)
    assert rows[99] - rows[100] == pytest.approx(-np.log(0.8) - 0.025, abs=0.01)


def test_without_a_given_white_the_brightest_hundredth_is_white(still):
    sheet = np.linspace(0.5, 4.0, 40000).reshape(200, 200).astype(np.float32)
    setup = XraySetup(width_mm=100, height_mm=100, detector=QUIET)
    _, presentation = exposed(sheet, setup, still)
    assert presentation.high == pytest.approx(4.0 - 0.008 * 3.5, abs=0.04)
