"""De-identification against things no one here wrote.

- The table of actions, DICOM PS3.15 annex E, table E.1-1 (value from memory): the rows every radiology
department
  knows by heart.
- pydicom's data dictionary (generated from DICOM PS3.6 by its authors): tags and keywords of the table. -
dciodvfy of dicom3tools (D. A. Clunie, Debian package dicom3tools): a cleaned film is still a valid Digital
X-Ray
  image.
"""

import os
import shutil
import subprocess
from dataclasses import replace
from datetime import date

import pydicom
import pytest
from pydicom.datadict import dictionary_has_tag, dictionary_is_retired, keyword_for_tag, tag_for_keyword
from pydicom.uid import UID

from limbwright.film.phantom import (
    FRONTAL_SETUP,
    Detail,
    Detector,
    FilmHeader,
    PatientShape,
    dicom_bytes,
    take_film,
)
from limbwright.published import table
from limbwright.store.film_identity import film_without_identity, profile
from limbwright.store.pseudonym import Pseudonyms

# DICOM PS3.15 table E.1-1, column Basic Prof. (value from memory).
KNOWN_BY_HEART = {
    "AccessionNumber": "Z",
    "AcquisitionDate": "X/Z",
    "ContentDate": "Z/D",
    "DeviceSerialNumber": "X/Z/D",
    "InstitutionAddress": "X",
    "InstitutionName": "X/Z/D",
    "OtherPatientIDs": "X",
    "PatientAddress": "X",
    "PatientAge": "X",
    "PatientBirthDate": "Z",
    "PatientName": "Z",
    "PatientSex": "Z",
    "PatientSize": "X",
    "PatientWeight": "X",
    "ReferringPhysicianName": "Z",
    "SOPInstanceUID": "U",
    "SeriesDate": "X/D",
    "SeriesDescription": "X",
    "SeriesInstanceUID": "U",
    "StudyDate": "Z",
    "StudyDescription": "X",
    "StudyID": "Z",
    "StudyInstanceUID": "U",
    "StudyTime": "Z",
}


@pytest.mark.parametrize("keyword", sorted(KNOWN_BY_HEART))
def test_well_known_rows_of_the_profile(keyword):
    assert profile()[f"{tag_for_keyword(keyword):08x}"] == KNOWN_BY_HEART[keyword]


def test_every_row_that_pydicom_knows_has_its_keyword():
    known = 0
    for row in table("store", "basic_profile"):
        tag = row.text("tag")
        if "x" not in tag and dictionary_has_tag(int(tag, 16)):
            known += 1
            assert row.text("keyword") == keyword_for_tag(int(tag, 16)), tag
    assert known > 600


def test_every_person_and_unique_identifier_of_a_film_is_in_the_profile():
    """Persons and instances that a Digital X-Ray image can name (DICOM PS3.3 A.26; value from memory)."""
    for keyword in (
        "PatientName",
        "PatientMotherBirthName",
        "OtherPatientNames",
        "ResponsiblePerson",
        "ReferringPhysicianName",
        "PhysiciansOfRecord",
        "PerformingPhysicianName",
        "NameOfPhysiciansReadingStudy",
        "OperatorsName",
        "RequestingPhysician",
        "StudyInstanceUID",
        "SeriesInstanceUID",
        "SOPInstanceUID",
        "FrameOfReferenceUID",
        "DeviceUID",
        "IrradiationEventUID",
    ):
        tag = tag_for_keyword(keyword)
        assert not dictionary_is_retired(tag)
        assert f"{tag:08x}" in profile(), keyword


def test_the_actions_are_those_of_the_standard():
    assert {row.text("action") for row in table("store", "basic_profile")} == {
        "D",
        "Z",
        "X",
        "U",
        "Z/D",
        "X/Z",
        "X/D",
        "X/Z/D",
        "X/Z/U*",
    }


def test_stand_ins_for_unique_identifiers_are_valid_ones():
    """PS3.5 section 9.1 as pydicom checks it: components without leading zeros, at most 64 characters."""
    for number in range(500):
        assert UID(Pseudonyms(bytes(32)).uid(str(number))).is_valid


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


def test_a_cleaned_film_is_still_a_valid_image(dciodvfy, tmp_path):
    def complaints(content):
        path = tmp_path / "film.dcm"
        path.write_bytes(content)
        run = subprocess.run([dciodvfy, "-new", str(path)], check=False, capture_output=True, text=True)
        said = run.stderr + run.stdout
        assert "DXImageForPresentation" in said
        # What has been emptied on purpose would be missed in the index of a disc; nothing else may be said.
        return [
            line
            for line in said.splitlines()
            if line.startswith(("Error", "Warning")) and "DICOMDIR" not in line
        ]

    setup = replace(FRONTAL_SETUP, detector=Detector(pixel_mm=2.0, bits=12))
    film = take_film(PatientShape(), seed=1, setup=setup, detail=Detail.COARSE)
    header = FilmHeader(birth_date=date(2001, 5, 4), study_date=date(2026, 3, 2), patient_sex="F")
    original = dicom_bytes(film, header)
    cleaned = film_without_identity(
        original, patient="INVENTED", pseudonyms=Pseudonyms(bytes(32)), name="film 1"
    ).content
    assert complaints(original) == complaints(cleaned) == []
    before, after = (pydicom.dcmread(pydicom.filebase.DicomBytesIO(c)) for c in (original, cleaned))
    assert after.pixel_array.tobytes() == before.pixel_array.tobytes()
    assert after.StudyDate < before.StudyDate
