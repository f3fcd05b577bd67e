"""What a film's header says about itself, as far as it could be read; never the patient's name."""

from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from limbwright.film.film import HeaderScale, ViewerSide
from limbwright.limb.anatomy import Projection, Side
from limbwright.quantity import Value


class FileKind(StrEnum):
    """File formats that are read, recognised by content."""

    DICOM = "DICOM"
    PNG = "PNG"
    JPEG = "JPEG"
    TIFF = "TIFF"


class MarkedSide(StrEnum):
    """Side as headers state it."""

    RIGHT = "right"
    LEFT = "left"
    BOTH = "both"
    UNPAIRED = "unpaired"

    def side(self) -> Side | None:
        """The one side, None when both or unpaired."""
        return {MarkedSide.RIGHT: Side.RIGHT, MarkedSide.LEFT: Side.LEFT}.get(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeaderFacts(Value):
    """Facts of one film file; what is absent or unreadable stays None, with a finding when unreadable."""

    kind: FileKind
    """File format."""
    rows: int
    """Pixels from top to bottom."""
    columns: int
    """Pixels from left to right."""
    bits_stored: int
    """Bits of depth of one pixel."""
    photometric: str
    """Photometric interpretation: MONOCHROME1, MONOCHROME2, RGB, ...; for picture files the colour mode."""
    transfer_syntax: str = ""
    """Encoding of a DICOM file by its registered name; compression of a TIFF."""
    modality: str | None = None
    """Modality (0008,0060): CR, DX, SC, XA, ..."""
    sop_class_uid: str | None = None
    """SOP Class UID (0008,0016)."""
    sop_instance_uid: str | None = None
    """SOP Instance UID (0008,0018)."""
    scale: HeaderScale = field(default_factory=HeaderScale)
    """Pixel spacing, imager pixel spacing, magnification and distances that passed their checks."""
    calibration_description: str | None = None
    """Pixel Spacing Calibration Description (0028,0A04)."""
    laterality: MarkedSide | None = None
    """Image Laterality (0020,0062) or Laterality (0020,0060); None when they contradict each other."""
    view_position: str | None = None
    """View Position (0018,5101) as written."""
    view_code: str | None = None
    """Meaning of the View Code Sequence (0054,0220)."""
    projection: Projection | None = None
    """Plane shown, from view position, view code or orientation; None when unsaid or contradictory."""
    patient_orientation: tuple[str, str] | None = None
    """Patient Orientation (0020,0020): toward which the row runs to the right, and the column down."""
    right_side_at: ViewerSide | None = None
    """Where the patient's right side appears, from the patient orientation."""
    anterior_at: ViewerSide | None = None
    """Where anterior appears, from the patient orientation."""
    body_part: str | None = None
    """Body Part Examined (0018,0015)."""
    study_date: date | None = None
    """Study Date (0008,0020)."""
    acquisition_date: date | None = None
    """Acquisition Date (0008,0022)."""
    patient_id: str | None = None
    """Patient ID (0010,0020)."""
    patient_sex: str | None = None
    """Patient's Sex (0010,0040): M, F or O."""
    patient_birth_date: date | None = None
    """Patient's Birth Date (0010,0030)."""
    burned_in_annotation: bool | None = None
    """Whether marks or text are burned into the picture (0028,0301)."""
    presentation_intent: str | None = None
    """Presentation Intent Type (0008,0068): FOR PRESENTATION or FOR PROCESSING."""
    intensity_relationship: str | None = None
    """Pixel Intensity Relationship (0028,1040): LIN, LOG or DISP."""
    lossy: bool | None = None
    """Whether the picture was ever compressed with loss; None when the file does not say."""
