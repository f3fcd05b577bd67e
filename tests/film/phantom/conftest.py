from dataclasses import replace

import numpy as np
import pytest

from limbwright.film.phantom import (
    FRONTAL_SETUP,
    SAGITTAL_SETUP,
    Detail,
    Detector,
    PatientShape,
    XraySetup,
    take_film,
)
from limbwright.limb.anatomy import Side

COARSE_DETECTOR = Detector(
    pixel_mm=1.2,
    photons_per_mm2=0.0,
    electronic_noise=0.0,
    scatter_fraction=0.0,
    heel_effect=0.0,
    tissue_texture=0.0,
    curve_power=1.0,
    blur_mm=0.0,
    focal_spot_mm=0.0,
)


@pytest.fixture(scope="session")
def clean_frontal() -> XraySetup:
    """Frontal film without noise, blur, scatter or texture, coarse pixels."""
    return replace(FRONTAL_SETUP, detector=COARSE_DETECTOR)


@pytest.fixture(scope="session")
def clean_sagittal() -> XraySetup:
    return replace(SAGITTAL_SETUP, detector=COARSE_DETECTOR)


@pytest.fixture(scope="session")
def plain_film(clean_frontal):
    return take_film(PatientShape(), seed=1, setup=clean_frontal, detail=Detail.COARSE)


@pytest.fixture(scope="session")
def plain_side(clean_sagittal):
    return take_film(PatientShape(), seed=1, setup=clean_sagittal, side=Side.RIGHT, detail=Detail.COARSE)


@pytest.fixture
def still() -> np.random.Generator:
    return np.random.Generator(np.random.PCG64(7))
