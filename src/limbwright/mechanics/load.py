"""Loads on the moving fragment: soft-tissue moment and force, axial compression, new bone."""

from dataclasses import dataclass

from limbwright.mechanics.plane import Plane
from limbwright.quantity import Value, require_within

_CHECK = "Check the load scenario."


@dataclass(frozen=True, slots=True, kw_only=True)
class Load(Value):
    """What acts on the moving fragment in one plane."""

    moment_nm: float = 0.0
    """Moment toward varus (+) or procurvatum (+)."""
    force_n: float = 0.0
    """Sideways force, lateral + or anterior +."""
    force_beyond_osteotomy_mm: float = 0.0
    """How far beyond the osteotomy, along the moving fragment, the sideways force acts."""
    axial_n: float = 0.0
    """Compression along the nail from lock to lock: soft-tissue tension and weight bearing together."""

    def __post_init__(self) -> None:
        require_within("moment", self.moment_nm, -60, 60, "N m", next_step=_CHECK)
        require_within("sideways force", self.force_n, -1000, 1000, "N", next_step=_CHECK)
        require_within("axial compression", self.axial_n, 0, 5000, "N", next_step=_CHECK)
        require_within(
            "place of the force", self.force_beyond_osteotomy_mm, -500, 500, "mm", next_step=_CHECK
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SpatialLoad(Value):
    """Loads of both planes at one moment; the axial compressions of the two must be the same."""

    frontal: Load
    """Load in the frontal plane."""
    sagittal: Load
    """Load in the sagittal plane."""

    def in_plane(self, plane: Plane) -> Load:
        """Load of one plane."""
        return self.frontal if plane is Plane.FRONTAL else self.sagittal


@dataclass(frozen=True, slots=True, kw_only=True)
class Regenerate(Value):
    """New bone as a spring between the cut faces, with the angle and the step at which it was laid down."""

    angular_nm_per_deg: float = 0.0
    """Bending stiffness."""
    shear_n_per_mm: float = 0.0
    """Shear stiffness."""
    rest_angulation_deg: float = 0.0
    """Angulation at which it is free of moment, varus + or procurvatum +."""
    rest_shear_mm: float = 0.0
    """Step half way along the gap at which it is free of force, lateral + or anterior +."""

    def __post_init__(self) -> None:
        require_within("stiffness of new bone", self.angular_nm_per_deg, 0, 1000, "N m/deg", next_step=_CHECK)
        require_within("shear stiffness of new bone", self.shear_n_per_mm, 0, 1e5, "N/mm", next_step=_CHECK)
