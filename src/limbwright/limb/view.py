"""One leg as one film shows it, in the limb plane frame, independent of side.

Frame: `across_mm` is lateral + (frontal) or anterior + (sagittal); `proximal_mm` is + toward the head.
Two films of one leg that were taken separately (femur film, tibia film) are two patches: their points
share no frame, so nothing may be measured across them unless the patches have been joined.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from limbwright.error import Missing
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark, plain_words
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot(Value):
    """A landmark in the limb plane frame."""

    across_mm: float
    """Lateral + (frontal) or anterior + (sagittal) [mm; film pixels times the film's scale]."""
    proximal_mm: float
    """Toward the head + [mm]."""
    sd_mm: float
    """Standard uncertainty of each coordinate from marking [mm]."""
    patch: str = ""
    """Name of the film the point was read from; points of different patches share no frame."""


class Surface(StrEnum):
    """Cortical edge: inner (endosteal) or outer (periosteal)."""

    INNER = "inner"
    OUTER = "outer"


class Border(StrEnum):
    """Side of the bone that a wall bounds."""

    MEDIAL = "medial"
    LATERAL = "lateral"
    ANTERIOR = "anterior"
    POSTERIOR = "posterior"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall(Value):
    """A traced cortical edge: points from proximal to distal in the limb plane frame."""

    bone: Bone
    """Bone the edge belongs to."""
    surface: Surface
    """Inner (canal) or outer edge."""
    border: Border
    """Which side of the bone."""
    across_mm: tuple[float, ...]
    """Across coordinates [mm]."""
    proximal_mm: tuple[float, ...]
    """Proximal coordinates, falling [mm]."""
    sd_mm: float
    """Standard uncertainty across [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class View(Value):
    """One leg in one projection."""

    side: Side
    """Side of the body; geometry does not depend on it any more."""
    projection: Projection
    """Plane shown."""
    spots: Mapping[Landmark, Spot]
    """Landmarks by name."""
    walls: tuple[Wall, ...] = ()
    """Traced cortical edges."""
    scaled: bool
    """False when the film has no scale: coordinates are then pixels, and lengths are refused."""
    scale_relative_sd: float
    """Relative standard uncertainty of the scale, common to all points (0.01 = 1 %)."""

    def spot(self, landmark: Landmark) -> Spot:
        """The landmark, or a plain error that says which is missing."""
        try:
            return self.spots[landmark]
        except KeyError:
            raise Missing(
                f"landmark '{plain_words(landmark)}' is not marked.",
                where=f"{self.side} leg, {self.projection} film",
                next_step="Mark it, or leave out the measurements that need it.",
            ) from None

    def has(self, *landmarks: Landmark) -> bool:
        """Whether all of these landmarks are marked."""
        return all(landmark in self.spots for landmark in landmarks)
