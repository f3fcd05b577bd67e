"""Films written by the phantom, judged by a validator that no one here wrote.

dciodvfy of dicom3tools (D. A. Clunie, Debian package dicom3tools): checks a file against the information
object definition it claims, here Digital X-Ray Image Storage - For Presentation, DICOM PS3.3 A.26.
"""

import os
import shutil
import subprocess
from dataclasses import replace
from datetime import date
from io import BytesIO

import pydicom
import pytest

from limbwright.film.phantom import (
    FRONTAL_SETUP,
    SAGITTAL_SETUP,
    Calibration,
    Detail,
    Detector,
    FilmHeader,
    PatientShape,
    dicom_bytes,
    take_film,
)
from limbwright.limb.anatomy import Side

HEADER = FilmHeader(birth_date=date(2001, 5, 4), study_date=date(2026, 3, 2), patient_sex="F")


@pytest.fixture(scope="module")
def plain_film():
    setup = replace(FRONTAL_SETUP, detector=Detector(pixel_mm=2.0, bits=12))
    return take_film(PatientShape(), seed=1, setup=setup, detail=Detail.COARSE)


@pytest.fixture(scope="module")
def plain_side():
    setup = replace(SAGITTAL_SETUP, detector=Detector(pixel_mm=2.0))
    return take_film(PatientShape(), seed=1, setup=setup, side=Side.LEFT, detail=Detail.COARSE)


@pytest.fixture(scope="session")
def dciodvfy():
    """Path of the validator of dicom3tools; installed when possible, never passed over."""
    if shutil.which("dciodvfy") is None and os.geteuid() == 0:
        subprocess.run(["apt-get", "install", "-y", "-q", "dicom3tools"], check=False, capture_output=True)
    found = shutil.which("dciodvfy")
    if found is None:
        pytest.fail(
            "dciodvfy is missing: install the Debian package dicom3tools (apt-get install dicom3tools)."
        )
    return found


def complaints(dciodvfy, data, tmp_path):
    path = tmp_path / "film.dcm"
    path.write_bytes(data)
    done = subprocess.run([dciodvfy, "-new", str(path)], capture_output=True, text=True, check=False)
    text = done.stdout + done.stderr
    return text, [line for line in text.splitlines() if line.startswith(("Error", "Warning"))]


@pytest.mark.parametrize("calibration", list(Calibration))
@pytest.mark.parametrize("name", ["plain_film", "plain_side"])
def test_the_validator_finds_nothing_to_say(dciodvfy, tmp_path, request, name, calibration):
    data = dicom_bytes(request.getfixturevalue(name), replace(HEADER, calibration=calibration))
    text, found = complaints(dciodvfy, data, tmp_path)
    assert "DXImageForPresentation" in text
    assert found == []


def test_a_film_without_a_date_is_valid_too(dciodvfy, tmp_path, plain_film):
    found = complaints(dciodvfy, dicom_bytes(plain_film, FilmHeader()), tmp_path)[1]
    assert all("DICOMDIR" in line for line in found)


def test_the_validator_does_complain_when_something_is_missing(dciodvfy, tmp_path, plain_film):
    ds = pydicom.dcmread(BytesIO(dicom_bytes(plain_film, HEADER)))
    del ds.ImagerPixelSpacing
    out = BytesIO()
    ds.save_as(out)
    assert any("Error" in line for line in complaints(dciodvfy, out.getvalue(), tmp_path)[1])
