"""Locking and blocking screws as supports of the nail."""

import math
from dataclasses import dataclass

from limbwright.mechanics.nail import second_moment_mm4
from limbwright.mechanics.plane import Fragment, ScrewDirection, Side
from limbwright.quantity import Value, require_within

_CHECK = "Check the screw's entry."


@dataclass(frozen=True, slots=True, kw_only=True)
class LockingScrew(Value):
    """A screw through a hole of the nail; it moves with its fragment."""

    fragment: Fragment
    """Fragment it is driven through."""
    depth_mm: float
    """Depth of its hole along the nail before lengthening."""
    direction: ScrewDirection
    """How it is driven; decides what it can hold in each plane."""
    play_mm: float
    """Play of the screw in its hole to either side."""
    frontal_seat_mm: float = 0.0
    """Offset of the nail's centre line, lateral +, at the moment the screw was driven."""
    sagittal_seat_mm: float = 0.0
    """Offset of the nail's centre line, anterior +, at the moment the screw was driven."""

    def __post_init__(self) -> None:
        require_within("locking screw play", self.play_mm, 0, 2, "mm", next_step=_CHECK)
        require_within("locking screw depth", self.depth_mm, 0, 600, "mm", next_step=_CHECK)


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockingScrew(Value):
    """A screw beside the nail: a one-sided support of the nail in one plane."""

    fragment: Fragment
    """Fragment it is driven through."""
    depth_mm: float
    """Depth of its axis along the nail before lengthening."""
    side: Side
    """Side of the nail it stands on; lateral and medial screws are driven anteroposteriorly, and so on."""
    clearance_mm: float
    """Gap between screw and nail when it was placed, before any lengthening."""
    diameter_mm: float = 5.0
    """Diameter of the screw."""
    stiffness_n_per_mm: float | None = None
    """Stiffness of screw and bone against the nail; None for unyielding."""
    seat_mm: float = 0.0
    """Offset of the nail's centre line, lateral + or anterior +, when the screw was placed."""

    def __post_init__(self) -> None:
        require_within("blocking screw clearance", self.clearance_mm, -1, 10, "mm", next_step=_CHECK)
        require_within("blocking screw depth", self.depth_mm, 0, 600, "mm", next_step=_CHECK)
        require_within("blocking screw diameter", self.diameter_mm, 1, 10, "mm", next_step=_CHECK)
        if self.stiffness_n_per_mm is not None:
            require_within(
                "blocking screw stiffness", self.stiffness_n_per_mm, 1, 1e9, "N/mm", next_step=_CHECK
            )

    @property
    def compliance_mm_per_n(self) -> float:
        """Give of the support under 1 N."""
        return 0.0 if self.stiffness_n_per_mm is None else 1.0 / self.stiffness_n_per_mm

    def axis_offset_mm(self, nail_radius_mm: float) -> float:
        """Distance of the screw's axis from the nail's centre line: nail radius, clearance, screw radius."""
        return nail_radius_mm + self.clearance_mm + 0.5 * self.diameter_mm


def screw_stiffness_n_per_mm(
    *,
    diameter_mm: float,
    span_mm: float,
    modulus_gpa: float,
    bone_stiffness_n_per_mm: float = math.inf,
) -> float:
    """Stiffness of a blocking screw held at both cortices against the nail pressing at mid span. [N/mm]

    Notes: beam built in at both ends, 192 E I / L^3 (Young & Budynas, Roark's Formulas for Stress and Strain,
    value from memory), in series with the local stiffness of the bone around it.
    """
    bending = 192.0 * 1e3 * modulus_gpa * second_moment_mm4(diameter_mm) / span_mm**3
    return 1.0 / (1.0 / bending + 1.0 / bone_stiffness_n_per_mm)
