"""Which landmarks a film can be asked for, and how each is found there."""

from dataclasses import dataclass
from enum import StrEnum

from limbwright.film.snap import JointLine
from limbwright.limb.anatomy import Projection
from limbwright.limb.landmark import Landmark, shown_in


class How(StrEnum):
    """How a landmark is found."""

    CIRCLE = "circle"
    TIP = "tip"
    LINE = "line"
    MIDDLE_OF_A_LINE = "middle of a line"
    MID_LINE = "mid line"


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapping:
    """How one landmark is found, and on which films."""

    how: How
    """By what."""
    projections: tuple[Projection, ...]
    """On films of these projections."""
    ends: tuple[Landmark, ...] = ()
    """Both ends of the line it belongs to, medial or anterior first."""
    line: JointLine | None = None
    """The line."""
    points_up: bool = False
    """Whether a tip points up the film."""


LINES = {
    JointLine.CONDYLES: (Landmark.MEDIAL_FEMORAL_CONDYLE, Landmark.LATERAL_FEMORAL_CONDYLE),
    JointLine.PLATEAU: (Landmark.MEDIAL_PLATEAU, Landmark.LATERAL_PLATEAU),
    JointLine.PLAFOND: (Landmark.MEDIAL_PLAFOND, Landmark.LATERAL_PLAFOND),
}
_FRONTAL = (Projection.FRONTAL,)
_RIMS = (Landmark.PLATEAU_ANTERIOR, Landmark.PLATEAU_POSTERIOR)
_MIDDLES = {
    Landmark.FEMUR_KNEE_CENTRE: JointLine.CONDYLES,
    Landmark.TIBIA_KNEE_CENTRE: JointLine.PLATEAU,
    Landmark.ANKLE_CENTRE: JointLine.PLAFOND,
}


def _snappings() -> dict[Landmark, Snapping]:
    found = {
        Landmark.FEMORAL_HEAD_CENTRE: Snapping(how=How.CIRCLE, projections=_FRONTAL),
        Landmark.GREATER_TROCHANTER_TIP: Snapping(how=How.TIP, projections=_FRONTAL, points_up=True),
        Landmark.LATERAL_MALLEOLUS_TIP: Snapping(how=How.TIP, projections=_FRONTAL),
    }
    for line, ends in LINES.items():
        for end in ends:
            found[end] = Snapping(how=How.LINE, projections=_FRONTAL, ends=ends, line=line)
    for end in _RIMS:
        found[end] = Snapping(
            how=How.LINE, projections=(Projection.SAGITTAL,), ends=_RIMS, line=JointLine.PLATEAU
        )
    for landmark, line in _MIDDLES.items():
        found[landmark] = Snapping(
            how=How.MIDDLE_OF_A_LINE, projections=_FRONTAL, ends=LINES[line], line=line
        )
    for landmark in Landmark:
        if "_shaft_" in landmark:
            shown = tuple(p for p in Projection if shown_in(landmark, p))
            found[landmark] = Snapping(how=How.MID_LINE, projections=shown)
    return {landmark: found[landmark] for landmark in Landmark if landmark in found}


SNAPPINGS = _snappings()
"""Every landmark that can be snapped, in anatomical order."""
