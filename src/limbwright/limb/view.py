"""One leg as one film shows it, in the limb plane frame, independent of side.

Frame: `across_mm` is lateral + (frontal) or anterior + (sagittal); `proximal_mm` is + toward the head.
Two films of one leg that were taken separately (femur film, tibia film) are two patches: their points
share no frame, so nothing may be measured across them unless the patches have been joined.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
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
class Join(Value):
    """Two films of one leg laid over each other by the landmarks they share."""

    patch: str
    """The film that was moved."""
    onto: str
    """The film it was laid on."""
    pivot_across_mm: float
    """Centre of the shared landmarks, about which the fit may still be turned [mm]."""
    pivot_proximal_mm: float
    """The same, proximal coordinate [mm]."""
    rotation_sd_deg: float
    """Standard uncertainty of the turn of the fit [deg]."""
    shift_sd_mm: float
    """Standard uncertainty of each coordinate of its shift [mm]."""


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
    joins: tuple[Join, ...] = ()
    """How films that were joined were laid over each other; empty for a single film."""

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

    def frame_of(self, landmark: Landmark) -> str:
        """Name of the frame a landmark lies in: its patch, or the patch that one was joined onto."""
        onto = {join.patch: join.onto for join in self.joins}
        patch = self.spot(landmark).patch
        while patch in onto:
            patch = onto[patch]
        return patch

    def in_one_frame(self, *landmarks: Landmark) -> bool:
        """Whether these landmarks share a frame, so that something may be measured between them."""
        return len({self.frame_of(landmark) for landmark in landmarks}) <= 1

    def moved(self, landmark: Landmark, *, across_mm: float = 0.0, proximal_mm: float = 0.0) -> "View":
        """A copy with one landmark moved."""
        spot = self.spot(landmark)
        spots = dict(self.spots)
        spots[landmark] = replace(
            spot, across_mm=spot.across_mm + across_mm, proximal_mm=spot.proximal_mm + proximal_mm
        )
        return replace(self, spots=spots)

    def rescaled(self, factor: float) -> "View":
        """A copy with every coordinate multiplied by `factor`."""
        spots = {
            landmark: replace(s, across_mm=s.across_mm * factor, proximal_mm=s.proximal_mm * factor)
            for landmark, s in self.spots.items()
        }
        walls = tuple(
            replace(
                wall,
                across_mm=tuple(factor * a for a in wall.across_mm),
                proximal_mm=tuple(factor * p for p in wall.proximal_mm),
            )
            for wall in self.walls
        )
        joins = tuple(
            replace(
                j, pivot_across_mm=j.pivot_across_mm * factor, pivot_proximal_mm=j.pivot_proximal_mm * factor
            )
            for j in self.joins
        )
        return replace(self, spots=spots, walls=walls, joins=joins)

    def refitted(
        self, join: Join, *, rotation_deg: float = 0.0, across_mm: float = 0.0, proximal_mm: float = 0.0
    ) -> "View":
        """A copy in which a joined film, and every film joined onto it, was laid down a little differently.

        `rotation_deg` turns about the pivot from across + toward proximal + [deg].
        """
        moving = {join.patch}
        for later in self.joins:
            if later.onto in moving:
                moving.add(later.patch)
        cos, sin = math.cos(math.radians(rotation_deg)), math.sin(math.radians(rotation_deg))

        def turned(spot: Spot) -> Spot:
            x, y = spot.across_mm - join.pivot_across_mm, spot.proximal_mm - join.pivot_proximal_mm
            return replace(
                spot,
                across_mm=join.pivot_across_mm + cos * x - sin * y + across_mm,
                proximal_mm=join.pivot_proximal_mm + sin * x + cos * y + proximal_mm,
            )

        spots = {k: turned(s) if s.patch in moving else s for k, s in self.spots.items()}
        return replace(self, spots=spots)
