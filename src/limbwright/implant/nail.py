"""A telescoping lengthening nail as it is ordered: thick part, thin part, stroke, bend and screw holes.

Depths along a nail are measured from its entry end, which is the end of the thick part: proximal for an
antegrade nail, at the knee for a retrograde femoral nail. The thin part slides out of the other end.
"""

from dataclasses import dataclass
from enum import StrEnum

from limbwright.error import OutOfRange
from limbwright.limb.anatomy import Bone, Projection
from limbwright.quantity import Value, require_within

CATALOGUE_STEP = "Correct the nail in the catalogue file against the maker's own list."


class Direction(StrEnum):
    """Way a nail enters its bone."""

    ANTEGRADE = "antegrade"
    RETROGRADE = "retrograde"


class NailEnd(StrEnum):
    """End of a nail that a hole's distance is measured from."""

    THICK = "thick"
    THIN = "thin"


class HoleDirection(StrEnum):
    """Direction of a screw through a nail."""

    MEDIOLATERAL = "mediolateral"
    ANTEROPOSTERIOR = "anteroposterior"
    OBLIQUE = "oblique"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole(Value):
    """A hole for a locking screw."""

    end: NailEnd
    """End the distance is measured from; a hole of the thin end moves out as the nail lengthens."""
    distance_mm: float
    """Distance of the hole's centre from that end, along the nail."""
    direction: HoleDirection
    """Direction of the screw."""
    screw_diameter_mm: float
    """Outer diameter of the locking screw that the hole takes."""

    def __post_init__(self) -> None:
        require_within("hole distance", self.distance_mm, 1, 400, "mm", next_step=CATALOGUE_STEP)
        require_within("screw diameter", self.screw_diameter_mm, 2, 8, "mm", next_step=CATALOGUE_STEP)


@dataclass(frozen=True, slots=True, kw_only=True)
class Nail(Value):
    """One orderable nail, described closed (not lengthened)."""

    name: str
    """Name by which the catalogue's owner orders it; unique in the catalogue."""
    bone: Bone
    """Femur or tibia."""
    direction: Direction
    """Antegrade, or retrograde from the knee (femur only)."""
    thick_diameter_mm: float
    """Outer diameter of the thick part (housing)."""
    thin_diameter_mm: float
    """Outer diameter of the thin part (rod)."""
    thick_bore_mm: float = 0.0
    """Inner diameter that counts in bending of the thick part; 0 when it bends as a solid bar."""
    length_mm: float
    """Total length, closed."""
    stroke_mm: float
    """Longest lengthening the nail can give."""
    exposed_thin_mm: float
    """Length of the thin part that already shows when the nail is closed."""
    bend_deg: float = 0.0
    """Bend near the entry end, 0 for a straight nail. In the sagittal plane the entry end leans anterior
    (apex posterior); in the frontal plane it leans lateral (apex medial)."""
    bend_depth_mm: float = 0.0
    """Depth of the bend's apex from the entry end; 0 for a straight nail."""
    bend_plane: Projection = Projection.SAGITTAL
    """Plane of the bend; without meaning for a straight nail."""
    holes: tuple[Hole, ...] = ()
    """Holes for locking screws."""
    elastic_modulus_gpa: float
    """Young's modulus of the nail's material."""
    weight_limit_kg: float | None = None
    """Weight the maker allows on the leg while lengthening; None where the catalogue does not say."""
    rate_limit_mm_per_day: float | None = None
    """Fastest distraction the maker allows; None where the catalogue does not say."""
    reamer_over_mm: float | None = None
    """How much wider than the thick part the maker wants the canal reamed; None where it does not say."""

    def __post_init__(self) -> None:
        self._require_sane_numbers()
        where = f"nail {self.name!r}"
        for wrong, found in (
            (not self.name.strip(), "the nail has no name."),
            ("{" in self.name or "}" in self.name, "the name has a brace in it, which stands for a size."),
            (self.bone is Bone.FIBULA, "bone is fibula, expected femur or tibia."),
            (
                self.direction is Direction.RETROGRADE and self.bone is not Bone.FEMUR,
                "a retrograde nail is given for the tibia, expected femur.",
            ),
            (
                self.thin_diameter_mm >= self.thick_diameter_mm,
                f"thin part {self.thin_diameter_mm:g} mm is not thinner than the thick part "
                f"{self.thick_diameter_mm:g} mm.",
            ),
            (
                self.thick_bore_mm >= self.thick_diameter_mm,
                f"bore {self.thick_bore_mm:g} mm is not narrower than the thick part "
                f"{self.thick_diameter_mm:g} mm.",
            ),
            (
                self.exposed_thin_mm + self.stroke_mm >= self.length_mm,
                f"exposed thin part {self.exposed_thin_mm:g} mm and stroke {self.stroke_mm:g} mm together "
                f"reach the nail's length {self.length_mm:g} mm; the rod would leave the housing.",
            ),
            (
                (self.bend_deg == 0) != (self.bend_depth_mm == 0),
                f"bend {self.bend_deg:g} deg at depth {self.bend_depth_mm:g} mm, expected both or neither "
                "to be zero.",
            ),
            (
                self.bend_depth_mm >= self.thick_length_mm,
                f"bend at {self.bend_depth_mm:g} mm lies beyond the thick part of "
                f"{self.thick_length_mm:g} mm.",
            ),
        ):
            if wrong:
                raise OutOfRange(found, where=where, next_step=CATALOGUE_STEP)
        self._require_holes_in_their_parts()

    def _require_sane_numbers(self) -> None:
        for name, value, low, high, unit in (
            ("thick diameter", self.thick_diameter_mm, 5, 20, "mm"),
            ("thin diameter", self.thin_diameter_mm, 3, 18, "mm"),
            ("bore of the thick part", self.thick_bore_mm, 0, 18, "mm"),
            ("length", self.length_mm, 100, 600, "mm"),
            ("stroke", self.stroke_mm, 5, 200, "mm"),
            ("exposed thin part", self.exposed_thin_mm, 0, 200, "mm"),
            ("bend", self.bend_deg, 0, 30, "deg"),
            ("bend depth", self.bend_depth_mm, 0, 200, "mm"),
            ("elastic modulus", self.elastic_modulus_gpa, 20, 300, "GPa"),
            ("weight limit", self.weight_limit_kg, 1, 200, "kg"),
            ("rate limit", self.rate_limit_mm_per_day, 0.1, 5, "mm/day"),
            ("over-reaming", self.reamer_over_mm, 0, 5, "mm"),
        ):
            if value is not None:
                require_within(
                    f"{name} of nail {self.name!r}", value, low, high, unit, next_step=CATALOGUE_STEP
                )

    def _require_holes_in_their_parts(self) -> None:
        for hole in self.holes:
            room_mm = self.thick_length_mm if hole.end is NailEnd.THICK else self.exposed_thin_mm
            part_mm = self.thick_diameter_mm if hole.end is NailEnd.THICK else self.thin_diameter_mm
            found = ""
            if hole.distance_mm >= room_mm:
                found = (
                    f"hole {hole.distance_mm:g} mm from the {hole.end} end does not lie in the {hole.end} "
                    f"part, which is {room_mm:g} mm long when the nail is closed."
                )
            elif hole.screw_diameter_mm >= part_mm:
                found = (
                    f"hole for a {hole.screw_diameter_mm:g} mm screw is as wide as the {hole.end} part "
                    f"({part_mm:g} mm)."
                )
            if found:
                raise OutOfRange(found, where=f"nail {self.name!r}", next_step=CATALOGUE_STEP)

    @property
    def thick_length_mm(self) -> float:
        """Length of the thick part outside, from the entry end to where the thin part begins. [mm]"""
        return self.length_mm - self.exposed_thin_mm

    def length_at_mm(self, lengthening_mm: float) -> float:
        """Total length once the nail has lengthened by `lengthening_mm`. [mm]"""
        self._require_within_stroke(lengthening_mm)
        return self.length_mm + lengthening_mm

    def overlap_at_mm(self, *, osteotomy_depth_mm: float, lengthening_mm: float) -> float:
        """Length of the thick part inside the moving fragment; negative once only the rod crosses the cut.

        Parameters
        ----------
        osteotomy_depth_mm : float
            Depth of the osteotomy along the nail from its entry end, before lengthening. [mm]
        lengthening_mm : float
            Length gained so far, 0 to the nail's stroke. [mm]

        Raises
        ------
        OutOfRange
            If the lengthening is beyond the nail's stroke.

        Notes
        -----
        The housing stays with the fragment at the entry end while the other fragment moves away:
        overlap = length - exposed thin part - osteotomy depth - length gained.
        """
        self._require_within_stroke(lengthening_mm)
        return self.thick_length_mm - osteotomy_depth_mm - lengthening_mm

    def diameter_at_mm(self, depth_mm: float) -> float:
        """Outer diameter at a depth from the entry end; the housing ends at one depth at any length. [mm]"""
        return self.thick_diameter_mm if depth_mm <= self.thick_length_mm else self.thin_diameter_mm

    def hole_depth_mm(self, hole: Hole, *, lengthening_mm: float = 0.0) -> float:
        """Depth of a hole's centre from the entry end once the nail has lengthened. [mm]"""
        if hole.end is NailEnd.THICK:
            return hole.distance_mm
        return self.length_at_mm(lengthening_mm) - hole.distance_mm

    def _require_within_stroke(self, lengthening_mm: float) -> None:
        require_within(
            f"lengthening of nail {self.name!r}",
            lengthening_mm,
            0,
            self.stroke_mm,
            "mm",
            next_step="Choose a nail with a longer stroke, or lengthen less or in stages.",
        )
