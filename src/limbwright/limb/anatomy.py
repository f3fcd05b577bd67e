"""Sides, projections, bones: the words every other room shares."""

from enum import StrEnum


class Side(StrEnum):
    """Side of the body."""

    RIGHT = "right"
    LEFT = "left"

    def other(self) -> "Side":
        """The opposite side."""
        return Side.LEFT if self is Side.RIGHT else Side.RIGHT


class Projection(StrEnum):
    """Plane a film shows; the across axis is lateral + (frontal) or anterior + (sagittal)."""

    FRONTAL = "frontal"
    SAGITTAL = "sagittal"


class Bone(StrEnum):
    """Bone of the leg."""

    FEMUR = "femur"
    TIBIA = "tibia"
    FIBULA = "fibula"


class Fragment(StrEnum):
    """The part of a cut bone above or below the osteotomy, or between two of them."""

    PROXIMAL = "proximal"
    DISTAL = "distal"
    MIDDLE = "middle"


SIDES_OF_A_CUT = (Fragment.PROXIMAL, Fragment.DISTAL)
"""The two sides of one osteotomy, as fragments."""
