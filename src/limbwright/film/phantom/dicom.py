"""A phantom film as DICOM: Digital X-Ray Image Storage - For Presentation (PS3.3 A.26)."""

import hashlib
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from io import BytesIO
from typing import TYPE_CHECKING

from limbwright.film.phantom.films import PhantomFilm
from limbwright.limb.anatomy import Projection, Side
from limbwright.quantity import Value

if TYPE_CHECKING:
    from pydicom.dataset import Dataset

SYNTHETIC = "Synthetic image of an invented patient, made by computation, not by X-rays"


class Calibration(StrEnum):
    """What the header says about scale."""

    NONE = "none"
    """Imager pixel spacing only."""
    MAGNIFICATION = "magnification"
    """Imager pixel spacing with the source distances and the estimated magnification."""
    GEOMETRY = "geometry"
    """Pixel spacing corrected for an assumed distance of the bones (calibration type GEOMETRY)."""
    FIDUCIAL = "fiducial"
    """Pixel spacing from an object of known size (calibration type FIDUCIAL)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmHeader(Value):
    """Who and when; every name must be invented and say so."""

    patient_name: str = "Invented^Demo A"
    """Patient's name, family^given."""
    patient_id: str = "INVENTED-A"
    """Patient's identifier."""
    patient_sex: str = "O"
    """M, F or O."""
    birth_date: date | None = None
    """Date of birth."""
    study_date: date | None = None
    """Day of the film."""
    study_time: str = "093000"
    """Time of the film, HHMMSS."""
    accession_number: str = ""
    """Order number."""
    study_number: int = 1
    """Films with the same patient, date and study number belong to one study."""
    instance_number: int = 1
    """Number of the film in its series."""
    calibration: Calibration = Calibration.MAGNIFICATION
    """What the header says about scale."""


def _uid(*parts: object) -> str:
    """Unique identifier that depends on nothing but what is named (2.25 root, PS3.5 B.2)."""
    digest = hashlib.sha256("\x1f".join(str(part) for part in parts).encode()).digest()
    return f"2.25.{int.from_bytes(digest[:15], 'big')}"


def _code(value: str, scheme: str, meaning: str) -> "Dataset":
    from pydicom.dataset import Dataset

    item = Dataset()
    item.CodeValue, item.CodingSchemeDesignator, item.CodeMeaning = value, scheme, meaning
    return item


def _patient_and_study(ds: "Dataset", header: FilmHeader) -> None:
    ds.SpecificCharacterSet = "ISO_IR 192"
    ds.PatientName, ds.PatientID, ds.PatientSex = header.patient_name, header.patient_id, header.patient_sex
    ds.PatientBirthDate = f"{header.birth_date:%Y%m%d}" if header.birth_date else ""
    ds.PatientComments = SYNTHETIC
    day = f"{header.study_date:%Y%m%d}" if header.study_date else ""
    ds.StudyDate = ds.SeriesDate = ds.ContentDate = ds.AcquisitionDate = day
    ds.StudyTime = ds.SeriesTime = ds.ContentTime = ds.AcquisitionTime = header.study_time if day else ""
    ds.AccessionNumber, ds.ReferringPhysicianName, ds.StudyID = (
        header.accession_number,
        "",
        str(header.study_number),
    )
    ds.StudyDescription = "Long standing films of the legs"
    ds.StudyInstanceUID = _uid("study", header.patient_id, day, header.study_number)


def _projection(ds: "Dataset", film: PhantomFilm) -> None:
    from pydicom.sequence import Sequence

    frontal = film.truth.projection is Projection.FRONTAL
    side = film.truth.legs[0].side
    ds.SeriesDescription = "Both legs, frontal" if frontal else f"{side.capitalize()} leg, sagittal"
    ds.ImageLaterality = "B" if frontal else "R" if side is Side.RIGHT else "L"
    if frontal:
        ds.PatientOrientation, ds.ViewPosition = ["L", "F"], "AP"
        view = _code("399348003", "SCT", "antero-posterior")
    else:
        # The detector stands at the lateral side, and the film is looked at from there.
        right = side is Side.RIGHT
        ds.PatientOrientation, ds.ViewPosition = ["A" if right else "P", "F"], "RL" if right else "LL"
        code, meaning = ("399198007", "right lateral") if right else ("399173006", "left lateral")
        view = _code(code, "SCT", meaning)
    ds.ViewCodeSequence = Sequence([view])
    ds.ViewCodeSequence[0].ViewModifierCodeSequence = Sequence([])
    ds.AnatomicRegionSequence = Sequence([_code("61685007", "SCT", "Lower limb")])
    ds.BodyPartExamined = "LEG"
    ds.PositionerType = "NONE"


def _scale(ds: "Dataset", film: PhantomFilm, header: FilmHeader) -> None:
    setup = film.setup
    pixel = setup.detector.pixel_mm
    ds.ImagerPixelSpacing = [pixel, pixel]
    if header.calibration is Calibration.NONE:
        return
    ds.DistanceSourceToDetector = setup.source_detector_mm
    ds.DistanceSourceToPatient = setup.source_detector_mm - setup.bone_detector_mm
    ds.EstimatedRadiographicMagnificationFactor = round(setup.magnification, 6)
    if header.calibration is not Calibration.MAGNIFICATION:
        ds.PixelSpacing = [round(pixel / setup.magnification, 6)] * 2
        ds.PixelSpacingCalibrationType = header.calibration.upper()
        ds.PixelSpacingCalibrationDescription = "Scale of the plane of the bones"


def _picture(ds: "Dataset", film: PhantomFilm) -> None:
    from pydicom.sequence import Sequence

    bits = film.setup.detector.bits
    ds.SamplesPerPixel, ds.PhotometricInterpretation = 1, "MONOCHROME2"
    ds.Rows, ds.Columns = film.picture.shape
    ds.BitsAllocated, ds.BitsStored, ds.HighBit, ds.PixelRepresentation = 16, bits, bits - 1, 0
    ds.PixelIntensityRelationship, ds.PixelIntensityRelationshipSign = "LOG", -1
    ds.RescaleIntercept, ds.RescaleSlope, ds.RescaleType = "0", "1", "US"
    ds.PresentationLUTShape, ds.LossyImageCompression, ds.BurnedInAnnotation = "IDENTITY", "00", "NO"
    white = 2**bits
    ds.WindowCenter, ds.WindowWidth = str(white // 2), str(white)
    ds.ImageType = ["DERIVED", "PRIMARY"]
    shown = film.truth.presentation
    ds.DerivationDescription = (
        f"Computed from a parametric model; attenuation {shown.low:.4f} to {shown.high:.4f} "
        f"shown as {shown.white} times the share to the power {shown.power:g}"
    )
    ds.PresentationIntentType = "FOR PRESENTATION"
    ds.AcquisitionContextSequence = Sequence([])
    ds.DetectorType = ""
    ds.PixelData = film.picture.astype("<u2").tobytes()


def dicom_bytes(film: PhantomFilm, header: FilmHeader) -> bytes:
    """The film as a DICOM file (Part 10, explicit VR little endian, uncompressed).

    Unique identifiers depend on header and picture alone, so the same film is the same file, byte for byte.
    """
    from pydicom.dataset import Dataset, FileDataset, FileMetaDataset
    from pydicom.uid import UID, DigitalXRayImageStorageForPresentation, ExplicitVRLittleEndian

    ds = Dataset()
    ds.SOPClassUID = DigitalXRayImageStorageForPresentation
    mark = hashlib.sha256(film.picture.tobytes()).hexdigest()
    ds.SOPInstanceUID = _uid("film", header, mark)
    _patient_and_study(ds, header)
    ds.Modality, ds.SeriesNumber, ds.InstanceNumber = "DX", 1, header.instance_number
    ds.SeriesInstanceUID = _uid("series", ds.StudyInstanceUID)
    ds.Manufacturer = "Invented"
    ds.ManufacturerModelName = "Film phantom"
    _projection(ds, film)
    _scale(ds, film, header)
    _picture(ds, film)
    meta = FileMetaDataset()
    meta.MediaStorageSOPClassUID, meta.MediaStorageSOPInstanceUID = ds.SOPClassUID, ds.SOPInstanceUID
    meta.TransferSyntaxUID = ExplicitVRLittleEndian
    meta.ImplementationClassUID = UID(_uid("limbwright film phantom"))
    meta.ImplementationVersionName = "LIMBWRIGHT"
    buffer = BytesIO()
    FileDataset(buffer, ds, preamble=b"\0" * 128, file_meta=meta).save_as(buffer, enforce_file_format=True)
    return buffer.getvalue()
