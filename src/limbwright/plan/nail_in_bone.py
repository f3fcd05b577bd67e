"""What blocking screws are judged by: the surgeon's numbers, and the nail as it lies in the bone."""

from dataclasses import dataclass

from limbwright.limb.anatomy import Bone, Fragment
from limbwright.published import Source
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockingRules(Value):
    """The surgeon's numbers for blocking screws."""

    gap_mm: float
    """Gap on the concave side above which a screw is considered [mm]."""
    min_to_osteotomy_mm: float
    """Least distance from the osteotomy [mm]."""
    max_to_osteotomy_mm: float
    """Greatest distance from the osteotomy [mm]."""
    diameter_mm: float
    """Screw diameter [mm]."""
    drill_mm: float
    """Drill [mm]."""
    clearance_mm: float
    """Play between screw and nail [mm]."""
    to_hardware_mm: float
    """Least distance to other hardware, surface to surface [mm]."""
    notch_mm: float
    """How far a screw may cut into the inner cortex [mm]."""
    locking_play_mm: float
    """Play of a locking screw in its hole, to each side [mm]."""
    most: int
    """Most screws considered in one plan."""
    thick_beyond_mm: float
    """Thick part that must still reach beyond a screw at full length [mm]."""
    worth_deg: float
    """Angulation one more screw must save [deg]."""
    source: Source
    """Where these numbers come from."""

    @property
    def apart_mm(self) -> float:
        """Least distance along the bone between two blocking screws of one fragment. [mm]"""
        return self.diameter_mm + self.to_hardware_mm

    def from_lock_mm(self, hole_diameter_mm: float) -> float:
        """Least distance along the bone between a blocking and a locking screw. [mm]"""
        return (self.diameter_mm + hole_diameter_mm) / 2 + self.to_hardware_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class NailInBone(Value):
    """The nail as it lies in the corrected bone, for blocking screws."""

    bone: Bone
    """Bone."""
    entry_fragment: Fragment
    """Fragment that holds the nail's entry end."""
    osteotomy_depth_mm: float
    """Depth of the osteotomy [mm]."""
    lengthening_mm: float
    """Length to gain [mm]."""
    length_mm: float
    """Closed length of the nail [mm]."""
    thick_length_mm: float
    """Length of the thick part [mm]."""
    thick_diameter_mm: float
    """Diameter of the thick part [mm]."""
    thin_diameter_mm: float
    """Diameter of the thin part [mm]."""
    hole_depths_mm: tuple[float, ...]
    """Depths of the locking screws, nail closed [mm]."""
    hole_diameter_mm: float
    """Diameter of the locking screws [mm]."""

    def sign(self, fragment: Fragment) -> float:
        """+1 where going away from the cut into the fragment goes deeper along the nail, else -1."""
        return -1.0 if fragment is self.entry_fragment else 1.0

    def far_lock_mm(self, fragment: Fragment) -> float | None:
        """Depth of the fragment's locking screw farthest from the cut; None without one. [mm]"""
        sign = self.sign(fragment)
        inside = [d for d in self.hole_depths_mm if sign * (d - self.osteotomy_depth_mm) > 0]
        return max(inside, key=lambda d: sign * d, default=None)

    def radius_mm(self, depth_mm: float) -> float:
        """Radius at a depth, nail closed. [mm]"""
        return (self.thick_diameter_mm if depth_mm <= self.thick_length_mm else self.thin_diameter_mm) / 2

    def slack_mm(self, fragment: Fragment, depth_mm: float) -> float:
        """Play a place of a fragment has gained by full length, the thick part having withdrawn from it. [mm]

        depth_mm : depth of the place, nail closed.
        """
        gained = 0.0 if fragment is self.entry_fragment else self.lengthening_mm
        return self.radius_mm(depth_mm) - self.radius_mm(depth_mm + gained)
