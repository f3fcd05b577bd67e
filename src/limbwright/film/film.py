"""A radiograph as a case keeps it: projection, size, evidence of scale, landmarks and walls in pixels.

Film frame here: pixels, x to the viewer's right, y down, origin at the centre of the top left pixel.
Millimetres appear only once the scale is known (`film.scale`), and the side is resolved once, when films
become a `limb.View` (`film.leg`).
"""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum

from limbwright.error import Contradiction, Missing, OutOfRange
from limbwright.film.consistency import require_consistent_marks, require_wall_on_film
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.view import Border, Surface
from limbwright.quantity import Value, require_within

LARGEST_SIDE_PX = 65535  # DICOM Rows and Columns are 16-bit numbers


class ViewerSide(StrEnum):
    """A side of the picture as the viewer sees it."""

    VIEWER_LEFT = "viewer left"
    VIEWER_RIGHT = "viewer right"


class Provenance(StrEnum):
    """How a point came to be where it is."""

    CLICKED = "clicked"
    SNAPPED = "snapped"
    EDITED = "edited"
    PINNED = "pinned"
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

    def __post_init__(self) -> None:
        _require_finite("x_px", self.x_px, "px")
        _require_finite("y_px", self.y_px, "px")
        if self.sd_px is not None:
            _require_positive("sd_px", self.sd_px, "px")


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

    def __post_init__(self) -> None:
        step = "Give the true diameter of the ball in millimetres; 25 mm is usual."
        require_within("diameter_mm", self.diameter_mm, 5, 100, "mm", next_step=step)
        _require_positive("radius_px", self.radius_px, "px")
        _require_positive("radius_sd_px", self.radius_sd_px, "px")
        _require_depth(self.depth_off_bone_mm, self.depth_off_bone_sd_mm)


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

    def __post_init__(self) -> None:
        step = "Give the true distance between the two ticks in millimetres."
        require_within("length_mm", self.length_mm, 5, 2000, "mm", next_step=step)
        if (self.start.x_px, self.start.y_px) == (self.end.x_px, self.end.y_px):
            raise Contradiction(
                f"both ticks are marked at {self.start.x_px:g}, {self.start.y_px:g} px.",
                where="end",
                next_step="Mark two different ticks of the ruler.",
            )
        _require_depth(self.depth_off_bone_mm, self.depth_off_bone_sd_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownNail(Value):
    """A nail of known diameter seen on the film."""

    diameter_mm: float
    """True diameter of the segment that was measured [mm]."""
    diameter_px: float
    """Its width on the film, across the nail [px]."""
    diameter_sd_px: float = 0.5
    """Standard uncertainty of that width [px]."""

    def __post_init__(self) -> None:
        step = "Give the diameter of the nail's measured segment in millimetres."
        require_within("diameter_mm", self.diameter_mm, 3, 20, "mm", next_step=step)
        _require_positive("diameter_px", self.diameter_px, "px")
        _require_positive("diameter_sd_px", self.diameter_sd_px, "px")


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

    def __post_init__(self) -> None:
        for name, pair in (
            ("pixel_spacing_mm", self.pixel_spacing_mm),
            ("imager_pixel_spacing_mm", self.imager_pixel_spacing_mm),
        ):
            for index, spacing_mm in enumerate(pair or ()):
                _require_positive(f"{name}[{index}]", spacing_mm, "mm")
        for name, value in (
            ("magnification", self.magnification),
            ("source_to_detector_mm", self.source_to_detector_mm),
            ("source_to_patient_mm", self.source_to_patient_mm),
        ):
            if value is not None:
                _require_positive(name, value, "mm" if name.endswith("_mm") else "times")


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedMagnification(Value):
    """A magnification typed by the user, with the spacing at the detector from the header."""

    magnification: float
    """Image size over true size, 1.0 or more."""
    sd: float = 0.03
    """Standard uncertainty of it."""

    def __post_init__(self) -> None:
        step = "Give image size over true size: 1.05 for 5 %, not 105."
        require_within("magnification", self.magnification, 1, 3, "times", next_step=step)
        _require_positive("sd", self.sd, "times")


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
    provenance: Provenance = Provenance.CLICKED
    """How it came to be where it is; `pinned` when it was traced through points that the reader set."""
    pins: tuple[tuple[float, float], ...] = ()
    """Those points, x and y, so that it can be traced again [px]."""

    def __post_init__(self) -> None:
        _require_positive("sd_px", self.sd_px, "px")
        if len(self.x_px) != len(self.y_px) or len(self.x_px) < 2:
            raise Contradiction(
                f"{len(self.x_px)} x and {len(self.y_px)} y coordinates of a wall, expected as many of both, "
                "two or more.",
                where="x_px",
                next_step="Trace the wall again.",
            )
        pinned = tuple(value for pin in self.pins for value in pin)
        for name, coordinates in (("x_px", self.x_px), ("y_px", self.y_px), ("pins", pinned)):
            for index, value in enumerate(coordinates):
                _require_finite(f"{name}[{index}]", value, "px")


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

    def __post_init__(self) -> None:
        self._require_name_and_file()
        for name, size_px in (("width_px", self.width_px), ("height_px", self.height_px)):
            step = "Give the size of the image in pixels."
            require_within(name, size_px, 1, LARGEST_SIDE_PX, "px", next_step=step)
        if (self.projection is Projection.SAGITTAL) != (self.anterior_at is not None):
            sagittal = self.projection is Projection.SAGITTAL
            raise (Missing if sagittal else Contradiction)(
                "a sagittal film that does not say where anterior is."
                if sagittal
                else f"a frontal film with anterior at the {self.anterior_at}.",
                where="anterior_at",
                next_step=f"Give '{ViewerSide.VIEWER_LEFT}' or '{ViewerSide.VIEWER_RIGHT}'."
                if sagittal
                else "Leave it out, or correct the projection.",
            )
        require_consistent_marks(
            {side: {name: (m.x_px, m.y_px) for name, m in self.marks(side).items()} for side in Side},
            projection=self.projection,
            width_px=self.width_px,
            height_px=self.height_px,
            right_side_at_left=self.right_side_at is ViewerSide.VIEWER_LEFT,
            anterior_at_left=self.anterior_at is ViewerSide.VIEWER_LEFT,
        )
        for index, wall in enumerate(self.walls):
            require_wall_on_film(
                wall.x_px,
                wall.y_px,
                border=wall.border,
                projection=self.projection,
                width_px=self.width_px,
                height_px=self.height_px,
                where=f"walls[{index}]",
            )

    def _require_name_and_file(self) -> None:
        if not self.name.strip() or len(self.name) > 80 or not self.name.isprintable():
            raise OutOfRange(
                f"{self.name[:80]!r} is no name for a film.",
                where="name",
                next_step="Give a short name of 1 to 80 letters, such as 'standing frontal'.",
            )
        parts = re.split(r"[/\\]", self.file) if self.file is not None else ["film"]
        if self.file is not None and (
            any(part in {"", ".", ".."} for part in parts) or ":" in self.file or not self.file.isprintable()
        ):
            raise OutOfRange(
                f"{self.file[:80]!r} does not lie beside the case file.",
                where="file",
                next_step="Give a file name relative to the case file, without '..' or a drive.",
            )
        if self.sha256 is not None and not re.fullmatch("[0-9a-f]{64}", self.sha256):
            raise OutOfRange(
                f"{self.sha256[:80]!r} is no SHA-256.",
                where="sha256",
                next_step="Give its 64 hexadecimal digits in lower case, or leave it out.",
            )

    def marks(self, side: Side) -> Mapping[Landmark, Mark]:
        """Landmarks of one leg."""
        return self.right if side is Side.RIGHT else self.left

    def columns_of(self, side: Side) -> tuple[float, float]:
        """Columns that show one leg [px]: all, or the half on its side when both legs are marked."""
        mine, other = self.marks(side), self.marks(side.other())
        both = [landmark for landmark in mine if landmark in other]
        if not both:
            return -0.5, self.width_px - 0.5
        middle = sum(mine[m].x_px + other[m].x_px for m in both) / (2 * len(both))
        on_left = sum(mine[m].x_px for m in both) / len(both) < middle
        return (-0.5, middle) if on_left else (middle, self.width_px - 0.5)

    def with_marks(self, side: Side, marks: Mapping[Landmark, Mark]) -> "Film":
        """A copy with other landmarks of one leg; one that cannot be true is refused."""
        return replace(self, right=marks) if side is Side.RIGHT else replace(self, left=marks)


def _require_finite(name: str, value: float, unit: str) -> None:
    if not math.isfinite(value):
        raise OutOfRange(
            f"{value} {unit} is not a number.", where=name, next_step="Mark or measure it again."
        )


def _require_positive(name: str, value: float, unit: str) -> None:
    if not (math.isfinite(value) and value > 0):
        raise OutOfRange(
            f"{value:g} {unit}, expected more than 0 {unit}.",
            where=name,
            next_step="Measure it again, or leave it out.",
        )


def _require_depth(depth_mm: float, sd_mm: float) -> None:
    step = "Give how far it stands off the plane of the bone in millimetres, toward the source +."
    require_within("depth_off_bone_mm", depth_mm, -500, 500, "mm", next_step=step)
    require_within("depth_off_bone_sd_mm", sd_mm, 0, 500, "mm", next_step=step)
