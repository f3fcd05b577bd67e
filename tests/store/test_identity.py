"""An export without identity: nothing that tells who it is, everything that is measured."""

import io
import json
import zipfile
from dataclasses import fields, is_dataclass, replace
from datetime import date, timedelta
from enum import Enum

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydicom import dcmread
from pydicom.config import IGNORE
from pydicom.dataelem import DataElement
from pydicom.dataset import Dataset, FileMetaDataset
from pydicom.filewriter import dcmwrite
from pydicom.uid import ExplicitVRLittleEndian, RLELossless

from limbwright.case.patient import Patient
from limbwright.course.visit import GainedLength, Visit
from limbwright.error import Refused
from limbwright.growth.growth import Sex
from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import Examination
from limbwright.store.audit import Action
from limbwright.store.case_identity import Treatment, case_without_identity, treatments
from limbwright.store.export import export_archive
from limbwright.store.film_identity import action_for, film_without_identity
from limbwright.store.import_ import import_archive
from limbwright.store.manifest import MANIFEST
from limbwright.store.pseudonym import Pseudonyms
from limbwright.store.rules import rules
from limbwright.store.store import open_store

KEY = bytes(range(32))
NAME = "Hidden"
PIXELS = np.arange(64, dtype=np.uint16).reshape(8, 8)


def dicom_film(**changes):
    """A small film whose header says NAME wherever it can."""
    ds = Dataset()
    ds.file_meta = FileMetaDataset()
    ds.file_meta.TransferSyntaxUID = ExplicitVRLittleEndian
    ds.file_meta.SourceApplicationEntityTitle = NAME
    ds.SOPClassUID, ds.SOPInstanceUID = "1.2.840.10008.5.1.4.1.1.1.1", "1.2.3.4.5.6"
    ds.StudyInstanceUID, ds.SeriesInstanceUID = "1.2.3.4", "1.2.3.4.5"
    ds.PatientName, ds.PatientID, ds.PatientBirthDate, ds.PatientSex = f"{NAME}^A", NAME, "19980914", "F"
    ds.PatientAge, ds.OtherPatientNames, ds.PatientComments = "027Y", NAME, NAME
    ds.StudyDate, ds.ContentDate, ds.AcquisitionDateTime = "20260301", "20260301", "20260301101112.5+0100"
    ds.StudyTime, ds.AccessionNumber, ds.StudyID = "101112", NAME, NAME
    ds.InstitutionName, ds.ReferringPhysicianName, ds.OperatorsName = NAME, NAME, NAME
    ds.StudyDescription, ds.StationName, ds.DeviceSerialNumber = NAME, NAME, NAME
    ds.Modality, ds.PhotometricInterpretation, ds.SamplesPerPixel = "DX", "MONOCHROME2", 1
    ds.Rows, ds.Columns, ds.BitsAllocated, ds.BitsStored, ds.HighBit = 8, 8, 16, 16, 15
    ds.PixelRepresentation, ds.PixelSpacing, ds.ViewPosition = 0, [0.143, 0.143], "AP"
    ds.BurnedInAnnotation = "NO"
    item = Dataset()
    item.ReferencedSOPClassUID, item.ReferencedSOPInstanceUID = ds.SOPClassUID, "1.2.3.4.5.6"
    item.PersonName = NAME
    ds.ReferencedImageSequence = [item]
    view = Dataset()
    view.CodeValue, view.CodingSchemeDesignator, view.CodeMeaning = "R-10206", "SRT", "antero-posterior"
    view.ResponsiblePerson = NAME
    ds.ViewCodeSequence = [view]
    block = ds.private_block(0x0011, NAME, create=True)
    block.add_new(0x01, "LO", NAME)
    ds.add_new(0x60004000, "LT", NAME)
    ds.add_new(0x00081195, "UI", "1.2.3.4.5.6")
    ds.add_new(0x00100099, "LO", NAME)  # no attribute of the standard
    ds.PixelData = PIXELS.tobytes()
    ds["PixelData"].VR = "OW"
    for keyword, value in changes.items():
        old = ds[keyword]
        del ds[keyword]
        if value is not None:
            ds.add(DataElement(old.tag, old.VR, value, validation_mode=IGNORE))
    out = io.BytesIO()
    dcmwrite(out, ds, enforce_file_format=True)
    return NAME.encode().ljust(128, b" ") + out.getvalue()[128:]


def cleaned(**changes):
    result = film_without_identity(
        dicom_film(**changes), patient="mrn 1", pseudonyms=Pseudonyms(KEY), name="film 1"
    )
    return result, None if result.content is None else dcmread(io.BytesIO(result.content))


def test_no_name_is_left_anywhere_in_the_file():
    assert dicom_film().count(NAME.encode()) > 15
    result, ds = cleaned()
    assert NAME.encode() not in result.content
    assert result.content[:128] == bytes(128)
    assert not any(element.tag.is_private for element in ds.iterall())
    assert result.findings == ()


def test_the_profile_is_applied_attribute_by_attribute():
    _, ds = cleaned()
    assert (ds.PatientName, ds.PatientBirthDate, ds.PatientSex, ds.StudyTime, ds.AccessionNumber) == ("",) * 5
    assert ds.PatientID == Pseudonyms(KEY).patient("mrn 1")
    for keyword in ("PatientAge", "OtherPatientNames", "PatientComments", "StudyDescription"):
        assert keyword not in ds
    assert ds.InstitutionName == "REMOVED"
    assert ds.PatientIdentityRemoved == "YES"
    assert ds.LongitudinalTemporalInformationModified == "MODIFIED"
    assert [code.CodeValue for code in ds.DeidentificationMethodCodeSequence] == ["113100", "113107"]


def test_what_is_measured_stays():
    _, ds = cleaned()
    assert np.array_equal(ds.pixel_array, PIXELS)
    assert ds.PixelSpacing == [0.143, 0.143]
    assert (ds.ViewPosition, ds.Modality) == ("AP", "DX")
    assert ds.ViewCodeSequence[0].CodeValue == "R-10206"
    assert "ResponsiblePerson" not in ds.ViewCodeSequence[0]


def test_dates_move_together_and_times_of_day_go():
    _, ds = cleaned()
    moved = Pseudonyms(KEY).moved(date(2026, 3, 1), patient="mrn 1").strftime("%Y%m%d")
    assert ds.StudyDate == ds.ContentDate == ds.AcquisitionDateTime == moved != "20260301"
    _, odd = cleaned(StudyDate="2026030", ContentDate="", AcquisitionDateTime="noon")
    assert (odd.StudyDate, odd.ContentDate, odd.AcquisitionDateTime) == ("", "", "")


def test_identifiers_are_replaced_alike_everywhere():
    _, ds = cleaned()
    stand_in = Pseudonyms(KEY).uid("1.2.3.4.5.6")
    assert ds.SOPInstanceUID == ds.file_meta.MediaStorageSOPInstanceUID == stand_in
    assert ds.ReferencedImageSequence[0].ReferencedSOPInstanceUID == stand_in
    assert ds.SOPClassUID == ds.file_meta.MediaStorageSOPClassUID == "1.2.840.10008.5.1.4.1.1.1.1"
    assert len({ds.SOPInstanceUID, ds.StudyInstanceUID, ds.SeriesInstanceUID}) == 3
    assert "SourceApplicationEntityTitle" not in ds.file_meta


@pytest.mark.parametrize(
    ("burned_in", "finding", "goes_along"),
    [
        ("NO", None, True),
        (None, "export-film-burned-in-unknown", True),
        ("YES", "export-film-burned-in", False),
    ],
)
def test_writing_in_the_picture_is_reported(burned_in, finding, goes_along):
    result, _ = cleaned(BurnedInAnnotation=burned_in)
    assert [f.id for f in result.findings] == ([] if finding is None else [finding])
    assert (result.content is not None) is goes_along


@pytest.mark.parametrize(
    ("content", "finding"),
    [
        (b"not a film", "export-film-unreadable"),
        (dicom_film()[:400], "export-film-unreadable"),
    ],
)
def test_what_cannot_be_cleaned_is_left_out(content, finding):
    result = film_without_identity(content, patient="1", pseudonyms=Pseudonyms(KEY), name="film 1")
    assert (result.content, [f.id for f in result.findings]) == (None, [finding])


def test_a_packed_picture_stays_packed_as_it_was():
    original = dcmread(io.BytesIO(dicom_film()))
    original.compress(RLELossless, generate_instance_uid=False)
    out = io.BytesIO()
    dcmwrite(out, original, enforce_file_format=True)
    result = film_without_identity(out.getvalue(), patient="1", pseudonyms=Pseudonyms(KEY), name="film 1")
    ds = dcmread(io.BytesIO(result.content))
    assert ds.file_meta.TransferSyntaxUID == RLELossless
    assert ds.PixelData == original.PixelData
    assert NAME.encode() not in result.content


def test_what_the_profile_replaces_gets_a_value_of_its_kind():
    """Attributes with D that a film may have: numbers, bytes, identifiers, times, sequences."""
    film = dcmread(io.BytesIO(dicom_film()))
    film.add_new(0x00189623, "FD", 3.25)  # Functional Sync Pulse is kept out of films; any number would do
    film.ContentTime, film.AcquisitionFieldOfViewLabel = "101112", NAME
    film.ReferencedStudySequence = [Dataset()]
    film.PersonIdentificationCodeSequence = [Dataset()]
    film.PersonName = f"{NAME}^B"
    out = io.BytesIO()
    dcmwrite(out, film, enforce_file_format=True)
    result = film_without_identity(out.getvalue(), patient="1", pseudonyms=Pseudonyms(KEY), name="film 1")
    ds = dcmread(io.BytesIO(result.content))
    assert NAME.encode() not in result.content
    assert ds.ContentTime == "000000"
    assert ds.AcquisitionFieldOfViewLabel == "REMOVED"
    assert ds.PersonName == "Removed"
    assert "PersonIdentificationCodeSequence" not in ds
    assert "3.25" not in str(ds.get(0x00189623))


def test_a_photograph_is_left_out():
    from PIL import Image

    out = io.BytesIO()
    Image.fromarray(np.zeros((8, 8), np.uint8)).save(out, "PNG")
    result = film_without_identity(out.getvalue(), patient="1", pseudonyms=Pseudonyms(KEY), name="film 1")
    assert (result.content, [f.id for f in result.findings]) == (None, ["export-film-not-dicom"])


def test_every_remark_names_the_film_and_says_what_to_do():
    for rule_id, row in rules().items():
        assert row.text("rule").endswith("."), rule_id
        assert row.text("next_step").endswith("."), rule_id


@pytest.mark.parametrize(
    ("tag", "action"),
    [(0x00100010, "Z"), (0x60024000, "X"), (0x50FE3000, "X"), (0x00280010, None), (0x00080018, "U")],
)
def test_actions_are_found_for_single_and_repeating_groups(tag, action):
    assert action_for(tag) == action


# -- the case


def whole_case(invented, film, course):
    visits = (
        Visit(
            seen_on=date(2026, 3, 30),
            films=(f"{NAME} day 14",),
            gained=(GainedLength(bone=Bone.TIBIA, measured_mm=6.5),),
            note=f"{NAME} is well",
        ),
    )
    return invented(
        f"{NAME}-77",
        diagnosis=f"{NAME}: short tibia",
        patient=Patient(id=f"{NAME}-1", sex=Sex.FEMALE, birth_date=date(1998, 9, 14)),
        films=(film(f"{NAME} standing", file=f"{NAME}.dcm", sha256="1" * 64), film(f"{NAME} day 14")),
        examination=Examination(previous_surgery=f"{NAME} had a plate", block_test_mm=35.0),
        course=course(visits=visits),
    )


def test_no_text_of_a_user_is_left_in_the_case(invented, film, course):
    case = whole_case(invented, film, course)
    without = case_without_identity(case, pseudonyms=Pseudonyms(KEY), films={"1" * 64: "2" * 64})
    assert repr(case).count(NAME) == 9
    assert NAME not in repr(without)
    assert without.diagnosis == without.examination.previous_surgery == without.course.visits[0].note == ""
    assert [f.name for f in without.films] == ["film 1", "film 2"]
    assert without.course.visits[0].films == ("film 2",)
    assert [(f.sha256, f.file) for f in without.films] == [("2" * 64, f"{'2' * 64}.dcm"), (None, None)]


def test_everything_measured_stays_and_all_days_move_alike(invented, film, course):
    case = whole_case(invented, film, course)
    without = case_without_identity(case, pseudonyms=Pseudonyms(KEY), films={})
    assert without.films[0].left == case.films[0].left
    assert without.examination.block_test_mm == 35.0
    assert without.goal == case.goal
    assert without.course.treatments[0].prescription == case.course.treatments[0].prescription
    shift = case.films[0].taken_on - without.films[0].taken_on
    assert shift == case.course.visits[0].seen_on - without.course.visits[0].seen_on
    assert timedelta(days=30) <= shift <= timedelta(days=3650)
    day = date(2026, 3, 16)
    assert without.age_years(day - shift) == case.age_years(day)


def texts_in(value, owner="", field=""):
    """Every text of a stored value with the field it stands in."""
    if is_dataclass(value):
        for one in fields(value):
            yield from texts_in(getattr(value, one.name), type(value).__name__, one.name)
    elif isinstance(value, dict):
        for member in value.values():
            yield from texts_in(member, owner, field)
    elif isinstance(value, tuple):
        for member in value:
            yield from texts_in(member, owner, field)
    elif isinstance(value, str) and not isinstance(value, Enum):
        yield owner, field, value


def test_whatever_is_not_listed_is_taken_out(invented, film, course):
    """Of any text that stays, somebody decided that it may."""
    case = whole_case(invented, film, course)
    without = case_without_identity(case, pseudonyms=Pseudonyms(KEY), films={"1" * 64: "2" * 64})
    for owner, field, text in texts_in(without):
        listed = treatments().get((owner, field), Treatment.TAKE_OUT)
        assert listed is not Treatment.TAKE_OUT or text in ("", "removed"), (owner, field, text)


def test_a_case_that_needs_a_text_that_goes_is_refused(invented, film, monkeypatch):
    from limbwright.store import case_identity

    monkeypatch.setattr(case_identity, "TAKEN_OUT", "")
    without_film_names = {k: v for k, v in treatments().items() if k != ("Film", "name")}
    monkeypatch.setattr(case_identity, "treatments", lambda: without_film_names)
    with pytest.raises(Refused, match="does not hold together"):
        case_without_identity(invented(), pseudonyms=Pseudonyms(KEY), films={})


# -- the archive


def test_an_archive_without_identity_tells_nobody_and_can_be_read_again(
    store, tmp_path, clock, invented, film
):
    sha256 = store.films.put(dicom_film(BurnedInAnnotation=None)).sha256
    case = invented(
        f"{NAME}-1",
        films=(film(f"{NAME} a", sha256=sha256), film(f"{NAME} b", sha256="0" * 64)),
        patient=Patient(id=NAME, sex=Sex.MALE, birth_date=date(1990, 1, 1)),
    )
    store.cases.create(case, who=NAME, why=NAME, beside={"note": NAME})
    store.cases.save(replace(case, diagnosis=NAME), based_on=1, who=NAME, why=NAME)
    path = tmp_path / "shared.zip"
    exported = export_archive(store, path, who=NAME, without_identity=True)
    assert [f.id for f in exported.findings] == ["export-film-burned-in-unknown", "export-film-absent"]
    assert NAME not in repr(exported.findings)
    with zipfile.ZipFile(path) as archive:
        for name in archive.namelist():
            assert NAME.encode() not in archive.read(name), name
        manifest = json.loads(archive.read(MANIFEST))
    assert (manifest["without_identity"], len(manifest["films"])) == (True, 1)
    with open_store(tmp_path / "colleague", now=clock) as colleague:
        (new,) = import_archive(colleague, path, who="colleague").new_cases
        received = colleague.cases.at(new)
        assert received.films[0].left == case.films[0].left
        ds = dcmread(io.BytesIO(colleague.films.of(received.films[0])))
        assert ds.StudyDate == (
            date(2026, 3, 1) - (case.films[0].taken_on - received.films[0].taken_on)
        ).strftime("%Y%m%d")
        assert ds.PatientID == received.patient.id
    assert [e.case_id for e in store.audit.all() if e.action is Action.EXPORTED_WITHOUT_IDENTITY] == [
        f"{NAME}-1"
    ]


def test_two_exports_of_one_practice_agree_and_two_practices_do_not(store, tmp_path, clock, invented):
    store.cases.create(invented(), who="a", why="")
    one = export_archive(store, tmp_path / "1.zip", who="a", without_identity=True)
    two = export_archive(store, tmp_path / "2.zip", who="a", without_identity=True)
    assert one.manifest.cases[0].id == two.manifest.cases[0].id
    with open_store(tmp_path / "other", now=clock) as other:
        other.cases.create(invented(), who="a", why="")
        three = export_archive(other, tmp_path / "3.zip", who="a", without_identity=True)
    assert three.manifest.cases[0].id != one.manifest.cases[0].id


@given(identifier=st.text(max_size=40), day=st.dates(date(1920, 1, 1), date(2100, 1, 1)))
def test_stand_ins_are_the_same_every_time_and_say_nothing(identifier, day):
    one, two = Pseudonyms(KEY), Pseudonyms(KEY)
    assert one.patient(identifier) == two.patient(identifier)
    assert one.patient(identifier)[2:] != one.case(identifier)[2:]
    assert len(one.uid(identifier)) <= 64
    assert one.moved(day, patient=identifier) == day - timedelta(days=one.days_earlier(identifier))
    assert Pseudonyms(bytes(32)).patient(identifier) != one.patient(identifier)


def test_a_short_key_is_a_mistake_of_ours():
    with pytest.raises(ValueError, match="a key of 3 bytes"):
        Pseudonyms(b"abc")
