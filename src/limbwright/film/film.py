"""A radiograph as a case keeps it: projection, size, evidence of scale, landmarks and walls in pixels.

Film frame here: pixels, x to the viewer's right, y down, origin at the centre of the top left pixel.
Millimetres appear only once the scale is known (`film.scale`), and the side is resolved once, when films
become a `limb.View` (`film.leg`).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.view import Border, Surface
from limbwright.quantity import Value


class ViewerSide(StrEnum):
    """A side of the picture as the viewer sees it."""

    VIEWER_LEFT = "viewer left"
    VIEWER_RIGHT = "viewer right"


class Provenance(StrEnum):
    """How a point came to be where it is."""

    CLICKED = "clicked"
    SNAPPED = "snapped"
    EDITED = "edited"
    KNOWN = "known"


class CalibrationType(StrEnum):
    """DICOM Pixel Spacing Calibration Type (0028,0A02); `unstated` where the header has none."""

    GEOMETRY = "GEOMETRY"
    FIDUCIAL = "FIDUCIAL"
    UNSTATED = "unstated"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark(Value):
    """A marked point on a film."""

    x_px: float
    """To the viewer's right [px]."""
    y_px: float
    """Down [px]."""
    sd_px: float | None = None
    """Standard uncertainty of each coordinate [px]; the practice's reading error is used when absent."""
    provenance: Provenance = Provenance.CLICKED
    """How it was placed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationBall(Value):
    """A ball of known size marked on the film."""

    diameter_mm: float
    """True diameter [mm]."""
    centre: Mark
    """Centre of its image."""
    radius_px: float
    """Radius of its image [px]."""
    radius_sd_px: float = 0.5
    """Standard uncertainty of the radius [px]."""
    depth_off_bone_mm: float = 0.0
    """Distance of the ball from the plane of the bone along the beam, toward the source + [mm]."""
    depth_off_bone_sd_mm: float = 20.0
    """Standard uncertainty of that distance [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruler(Value):
    """A ruler marked on the film by two of its ticks."""

    start: Mark
    """First tick."""
    end: Mark
    """Second tick."""
    length_mm: float
    """True length between the two ticks [mm]."""
    depth_off_bone_mm: float = 0.0
    """Distance of the ruler from the plane of the bone along the beam, toward the source + [mm]."""
    depth_off_bone_sd_mm: float = 20.0
    """Standard uncertainty of that distance [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownNail(Value):
    """A nail of known diameter seen on the film."""

    diameter_mm: float
    """True diameter of the segment that was measured [mm]."""
    diameter_px: float
    """Its width on the film, across the nail [px]."""
    diameter_sd_px: float = 0.5
    """Standard uncertainty of that width [px]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeaderScale(Value):
    """What the film's header says about scale; anything not in the header stays absent."""

    pixel_spacing_mm: tuple[float, float] | None = None
    """Pixel Spacing (0028,0030): row spacing (vertical) first, then column [mm]."""
    calibration_type: CalibrationType = CalibrationType.UNSTATED
    """Pixel Spacing Calibration Type (0028,0A02)."""
    imager_pixel_spacing_mm: tuple[float, float] | None = None
    """Imager Pixel Spacing (0018,1164), at the detector: row, column [mm]."""
    magnification: float | None = None
    """Estimated Radiographic Magnification Factor (0018,1114)."""
    source_to_detector_mm: float | None = None
    """Distance Source to Detector (0018,1110) [mm]."""
    source_to_patient_mm: float | None = None
    """Distance Source to Patient (0018,1111) [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedMagnification(Value):
    """A magnification typed by the user, with the spacing at the detector from the header."""

    magnification: float
    """Image size over true size, 1.0 or more."""
    sd: float = 0.03
    """Standard uncertainty of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleEvidence(Value):
    """Everything on the film or beside it that tells its scale; each part may be absent."""

    ball: CalibrationBall | None = None
    """Calibration ball marked on the film."""
    ruler: Ruler | None = None
    """Ruler marked on the film."""
    nail: KnownNail | None = None
    """Nail of known diameter on the film."""
    header: HeaderScale = HeaderScale()
    """What the header says."""
    typed: TypedMagnification | None = None
    """Magnification typed by the user."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmWall(Value):
    """A traced cortical edge in film pixels, from proximal to distal."""

    side: Side
    """Leg it belongs to."""
    bone: Bone
    """Bone it belongs to."""
    surface: Surface
    """Inner (canal) or outer edge."""
    border: Border
    """Which side of the bone."""
    x_px: tuple[float, ...]
    """To the viewer's right [px]."""
    y_px: tuple[float, ...]
    """Down [px]."""
    sd_px: float = 1.0
    """Standard uncertainty across [px]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Film(Value):
    """One radiograph with what was read from it."""

    name: str
    """Short name, unique in the case."""
    file: str | None = None
    """File name of the image, relative to the case file; absent when only the readings are kept."""
    sha256: str | None = None
    """SHA-256 of the image file, hexadecimal."""
    projection: Projection
    """Plane shown."""
    taken_on: date | None = None
    """Day the film was taken."""
    width_px: int
    """Columns of the image."""
    height_px: int
    """Rows of the image."""
    standing: bool = True
    """Taken standing, weight on both legs."""
    right_side_at: ViewerSide = ViewerSide.VIEWER_LEFT
    """Frontal films: where the patient's right side appears."""
    anterior_at: ViewerSide | None = None
    """Sagittal films: where anterior appears; required for them."""
    scale: ScaleEvidence = ScaleEvidence()
    """Evidence of scale."""
    right: Mapping[Landmark, Mark] = field(default_factory=dict)
    """Landmarks of the right leg."""
    left: Mapping[Landmark, Mark] = field(default_factory=dict)
    """Landmarks of the left leg."""
    walls: tuple[FilmWall, ...] = ()
    """Traced cortical edges."""

    def marks(self, side: Side) -> Mapping[Landmark, Mark]:
        """Landmarks of one leg."""
        return self.right if side is Side.RIGHT else self.left
