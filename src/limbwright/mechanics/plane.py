"""Planes, sides and fragments; the one place where the package's signs meet the equations.

Outside the kernel: angulation varus + and procurvatum +, offsets lateral + and anterior + (distal fragment
relative to proximal). In the equations an axis has the slope d(offset)/d(depth), depth distal +. In the
frontal plane a positive slope takes the distal end laterally, which is valgus; in the sagittal plane it
takes the distal end anteriorly, which is recurvatum. So in both planes the angulation is the slope with its
sign turned, and a moment that drives toward varus or procurvatum is a negative couple on the slope.
`angulation_deg` and `couple_nmm` below are the only places that know this.

A retrograde nail enters distally: the depth runs proximally and the moving fragment is the proximal one. The
angulation keeps its sign; the translation of the distal fragment is minus the translation of the moving one.
"""

import math
from enum import StrEnum


class Plane(StrEnum):
    """Plane of a film."""

    FRONTAL = "frontal"
    SAGITTAL = "sagittal"


class Fragment(StrEnum):
    """The two fragments, named by the nail: it enters one and moves the other."""

    ENTRY = "entry fragment"
    MOVING = "moving fragment"


class Side(StrEnum):
    """Side of the nail on which a blocking screw stands."""

    LATERAL = "lateral"
    MEDIAL = "medial"
    ANTERIOR = "anterior"
    POSTERIOR = "posterior"

    @property
    def plane(self) -> Plane:
        """Plane in which a support on this side acts."""
        return Plane.FRONTAL if self in (Side.LATERAL, Side.MEDIAL) else Plane.SAGITTAL

    @property
    def positive(self) -> bool:
        """Whether it stands on the positive side (lateral, anterior)."""
        return self in (Side.LATERAL, Side.ANTERIOR)

    @property
    def opposite(self) -> "Side":
        """The side across the nail."""
        return _OPPOSITE[self]


_OPPOSITE = {
    Side.LATERAL: Side.MEDIAL,
    Side.MEDIAL: Side.LATERAL,
    Side.ANTERIOR: Side.POSTERIOR,
    Side.POSTERIOR: Side.ANTERIOR,
}


class ScrewDirection(StrEnum):
    """How a screw is driven."""

    ANTEROPOSTERIOR = "anteroposterior"
    MEDIOLATERAL = "mediolateral"

    def stops_translation_in(self, plane: Plane) -> bool:
        """Whether a screw in this direction stops the nail from sliding sideways in the plane.

        A screw holds across its axis and lets the nail slide along it: an anteroposterior one stops frontal
        translation, a mediolateral one sagittal translation; in the other plane each stops only tilt.
        """
        return (self is ScrewDirection.ANTEROPOSTERIOR) == (plane is Plane.FRONTAL)


def angulation_deg(slope_rad: float) -> float:
    """Angulation of a moving axis, varus + or procurvatum +, from its slope d(offset)/d(depth)."""
    return -math.degrees(slope_rad)


def couple_nmm(moment_nm: float) -> float:
    """Couple on the slope from a moment toward varus (+) or procurvatum (+) in N m. [N mm]"""
    return -1000.0 * moment_nm


def concave_side(plane: Plane, drift_deg: float) -> Side:
    """Concave side of a drift (varus + or procurvatum +): medial of varus, posterior of procurvatum."""
    if plane is Plane.FRONTAL:
        return Side.MEDIAL if drift_deg > 0 else Side.LATERAL
    return Side.POSTERIOR if drift_deg > 0 else Side.ANTERIOR
