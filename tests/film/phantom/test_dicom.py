from dataclasses import replace
from datetime import date
from io import BytesIO

import numpy as np
import pydicom
import pytest

from limbwright.film.phantom import Calibration, FilmHeader, dicom_bytes

HEADER = FilmHeader(
    patient_name="Invented^Demo A",
    patient_id="INVENTED-A",
    patient_sex="F",
    birth_date=date(2001, 5, 4),
    study_date=date(2026, 3, 2),
)


def test_pydicom_reads_back_picture_and_scale(plain_film):
    ds = pydicom.dcmread(BytesIO(dicom_bytes(plain_film, HEADER)))
    assert np.array_equal(ds.pixel_array, plain_film.picture)
    assert ds.ImagerPixelSpacing == [1.2, 1.2]
    assert float(ds.EstimatedRadiographicMagnificationFactor) == pytest.approx(3000 / 2850)
    assert float(ds.DistanceSourceToDetector) == 3000.0
    assert "PixelSpacing" not in ds
    assert ds.PatientBirthDate == "20010504"
    assert "Invented" in str(ds.PatientName)
    assert "not by X-rays" in ds.PatientComments


def test_calibrated_spacing_is_that_of_the_bone_plane(plain_film):
    data = dicom_bytes(plain_film, replace(HEADER, calibration=Calibration.FIDUCIAL))
    ds = pydicom.dcmread(BytesIO(data))
    assert ds.PixelSpacingCalibrationType == "FIDUCIAL"
    assert 1.0 / float(ds.PixelSpacing[0]) == pytest.approx(plain_film.truth.px_per_mm_at_bone, rel=1e-5)


def test_side_and_projection_are_in_the_header(plain_film, plain_side):
    front, side = (pydicom.dcmread(BytesIO(dicom_bytes(film, HEADER))) for film in (plain_film, plain_side))
    assert (front.ImageLaterality, front.ViewPosition, list(front.PatientOrientation)) == (
        "B",
        "AP",
        ["L", "F"],
    )
    assert (side.ImageLaterality, side.ViewPosition, list(side.PatientOrientation)) == ("R", "RL", ["A", "F"])
    assert front.StudyInstanceUID == side.StudyInstanceUID
    assert front.SOPInstanceUID != side.SOPInstanceUID


def test_the_same_film_is_the_same_file(plain_film):
    assert dicom_bytes(plain_film, HEADER) == dicom_bytes(plain_film, HEADER)
