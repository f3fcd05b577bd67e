import numpy as np
import pytest

from limbwright.film.phantom.grain import Grain
from limbwright.film.phantom.mesh import Texture
from limbwright.film.phantom.setting import Detector, XraySetup
from limbwright.film.phantom.texture import broken_up

SETUP = XraySetup(width_mm=60.0, height_mm=60.0, detector=Detector(pixel_mm=0.1))


def lean_deg(sheet):
    """Direction a texture runs in, from its gradients: 0 is down, + leans the upper end to the right."""
    down, right = np.gradient(sheet)
    angle = 0.5 * np.arctan2(2.0 * (down * right).mean(), (right**2).mean() - (down**2).mean())
    return float(np.degrees(angle))


@pytest.mark.parametrize("texture", [Texture.SPONGY, Texture.MUSCLE])
def test_texture_keeps_the_mean_and_is_faint(still, texture):
    sheet = np.ones((600, 600), dtype=np.float32)
    broken_up(sheet, texture, SETUP, still)
    assert sheet.mean() == pytest.approx(1.0, abs=0.004)
    assert 0.005 < sheet.std() < 0.05


def test_trabeculae_run_down_the_film_and_turn_where_a_grain_says_so(still):
    sheet = np.ones((600, 600), dtype=np.float32)
    patch = Grain(centre_px=(300.0, 300.0), radius_px=280.0, turned_deg=30.0)
    broken_up(sheet, Texture.SPONGY, SETUP, still, (patch,))
    assert lean_deg(sheet[:, :40]) == pytest.approx(0.0, abs=6.0)
    assert abs(lean_deg(sheet[250:350, 250:350])) == pytest.approx(30.0, abs=8.0)
    assert lean_deg(sheet[250:350, 250:350]) > 0


def test_a_grain_beside_the_film_changes_nothing():
    sheets = []
    for grains in ((), (Grain(centre_px=(-900.0, 50.0), radius_px=100.0, turned_deg=20.0),)):
        sheet = np.ones((600, 600), dtype=np.float32)
        broken_up(sheet, Texture.SPONGY, SETUP, np.random.Generator(np.random.PCG64(1)), grains)
        sheets.append(sheet)
    assert np.array_equal(*sheets)
