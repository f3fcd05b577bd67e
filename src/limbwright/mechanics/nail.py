"""The nail as an elastic beam: thick segment (housing), thin segment (rod), bend, play of the joint."""

import math
from dataclasses import dataclass

from limbwright.error import Contradiction
from limbwright.mechanics.plane import Plane
from limbwright.quantity import Value, require_within

_CHECK = "Check the nail against its own drawing."


def second_moment_mm4(outer_diameter_mm: float, bore_diameter_mm: float = 0.0) -> float:
    """Second moment of area of a round section, pi/64 (D^4 - d^4). [mm^4]"""
    return math.pi / 64.0 * (outer_diameter_mm**4 - bore_diameter_mm**4)


@dataclass(frozen=True, slots=True, kw_only=True)
class NailBeam(Value):
    """What the equations need to know about a telescoping nail.

    Depths run along the nail from its end at the entry. The step from thick to thin lies at
    `length_mm - exposed_rod_mm`; it stays there while the rod, and with it the moving fragment, moves away.
    """

    length_mm: float
    """Whole length before any lengthening."""
    exposed_rod_mm: float
    """Length of thin rod standing out of the thick segment before any lengthening."""
    thick_diameter_mm: float
    """Outer diameter of the thick segment."""
    thin_diameter_mm: float
    """Outer diameter of the thin segment."""
    modulus_gpa: float
    """Young's modulus of both segments."""
    thick_bore_mm: float = 0.0
    """Bore of the thick segment; 0 counts it as solid, right where a rod of the same metal fills it."""
    thin_bore_mm: float = 0.0
    """Bore of the thin segment."""
    bend_depth_mm: float = 0.0
    """Depth of the bend near the entry."""
    bend_deg: float = 0.0
    """Bend in the sagittal plane; + when the part nearer the entry leans forward (anterior)."""
    joint_clearance_mm: float = 0.0
    """Diametral clearance of the rod in the thick segment."""
    joint_engagement_mm: float = 100.0
    """Length over which the rod is guided in the thick segment before any lengthening."""

    def __post_init__(self) -> None:
        require_within("nail length", self.length_mm, 50, 600, "mm", next_step=_CHECK)
        require_within("exposed rod", self.exposed_rod_mm, 0, self.length_mm, "mm", next_step=_CHECK)
        require_within("thick segment diameter", self.thick_diameter_mm, 4, 20, "mm", next_step=_CHECK)
        require_within(
            "thin segment diameter", self.thin_diameter_mm, 3, self.thick_diameter_mm, "mm", next_step=_CHECK
        )
        require_within("modulus", self.modulus_gpa, 1, 1e9, "GPa", next_step=_CHECK)
        require_within("bend", self.bend_deg, -20, 20, "deg", next_step=_CHECK)
        require_within("bend depth", self.bend_depth_mm, 0, self.length_mm, "mm", next_step=_CHECK)
        require_within("joint clearance", self.joint_clearance_mm, 0, 1, "mm", next_step=_CHECK)
        require_within(
            "joint engagement", self.joint_engagement_mm, 1, self.length_mm, "mm", next_step=_CHECK
        )
        if not (
            0 <= self.thick_bore_mm < self.thick_diameter_mm
            and 0 <= self.thin_bore_mm < self.thin_diameter_mm
        ):
            raise Contradiction(
                f"bores {self.thick_bore_mm:g} and {self.thin_bore_mm:g} mm leave no wall in segments of "
                f"{self.thick_diameter_mm:g} and {self.thin_diameter_mm:g} mm.",
                where="nail",
                next_step=_CHECK,
            )

    @property
    def step_depth_mm(self) -> float:
        """Depth of the step from thick to thin."""
        return self.length_mm - self.exposed_rod_mm

    @property
    def thick_stiffness_nmm2(self) -> float:
        """Bending stiffness EI of the thick segment. [N mm^2]"""
        return 1e3 * self.modulus_gpa * second_moment_mm4(self.thick_diameter_mm, self.thick_bore_mm)

    @property
    def thin_stiffness_nmm2(self) -> float:
        """Bending stiffness EI of the thin segment. [N mm^2]"""
        return 1e3 * self.modulus_gpa * second_moment_mm4(self.thin_diameter_mm, self.thin_bore_mm)

    def radius_mm(self, depth_mm: float) -> float:
        """Radius at a depth; the step itself belongs to the thick segment."""
        return 0.5 * (self.thick_diameter_mm if depth_mm <= self.step_depth_mm else self.thin_diameter_mm)

    def joint_play_rad(self, lengthening_mm: float) -> float:
        """Tilt the rod can make in the thick segment to either side: clearance over the guided length."""
        guided = max(self.joint_engagement_mm - lengthening_mm, 1.0)
        return self.joint_clearance_mm / guided

    def unloaded_offset_mm(self, plane: Plane, depth_mm: float) -> float:
        """Offset of the unloaded nail from the line of its straight part; anterior +."""
        if plane is Plane.FRONTAL:
            return 0.0
        return math.tan(math.radians(self.bend_deg)) * max(self.bend_depth_mm - depth_mm, 0.0)

    def peak_stress_mpa(self, *, thick_moment_nm: float, thin_moment_nm: float) -> float:
        """Largest bending stress M (D/2) / I of both segments under the moments given as magnitudes."""
        thick = second_moment_mm4(self.thick_diameter_mm, self.thick_bore_mm)
        thin = second_moment_mm4(self.thin_diameter_mm, self.thin_bore_mm)
        return 1e3 * max(
            thick_moment_nm * 0.5 * self.thick_diameter_mm / thick,
            thin_moment_nm * 0.5 * self.thin_diameter_mm / thin,
        )
