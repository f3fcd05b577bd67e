"""Where a bone is usually pulled while it lengthens, and how far a rigid nail lets it go.

The usual direction is published; how far a leg drifts is not. The rigid nail gives a bound from the play of
the nail in the canal alone, whatever the pull; an elastic forecast takes its place as a `Drift` through the
same door (`drift_motion`).
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from limbwright.error import OutOfRange
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.view import Border
from limbwright.plan.motion import Floats, Motion, motion_about, shift, turn
from limbwright.plan.reduction import Reduction
from limbwright.published import Source, table
from limbwright.quantity import Sense, Value


class Third(StrEnum):
    """Third of a long bone, as the literature on drift names levels."""

    PROXIMAL = "proximal"
    MIDDLE = "middle"
    DISTAL = "distal"


CONCAVE: dict[Sense, Border] = {
    Sense.VALGUS: Border.LATERAL,
    Sense.VARUS: Border.MEDIAL,
    Sense.PROCURVATUM: Border.POSTERIOR,
    Sense.RECURVATUM: Border.ANTERIOR,
}
"""Side toward which a deformity is hollow, where a blocking screw acts against it."""

PLANE: dict[Sense, Projection] = {
    Sense.VALGUS: Projection.FRONTAL,
    Sense.VARUS: Projection.FRONTAL,
    Sense.PROCURVATUM: Projection.SAGITTAL,
    Sense.RECURVATUM: Projection.SAGITTAL,
}
"""Film on which a deformity shows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedDrift(Value):
    """The usual drift at one level of one bone."""

    bone: Bone
    """Bone that is lengthened."""
    third: Third
    """Third of the bone that is cut."""
    frontal: Sense
    """Varus or valgus."""
    sagittal: Sense
    """Procurvatum or recurvatum."""
    degree: str
    """How often or how much, in the source's words: usual, mild."""
    source: Source
    """Where it comes from."""

    def senses(self) -> tuple[Sense, Sense]:
        """Both directions."""
        return self.frontal, self.sagittal


def third_of(below_joint_mm: float, length_mm: float) -> Third:
    """Third of the bone a level lies in."""
    if not 0 <= below_joint_mm <= length_mm:
        raise OutOfRange(
            f"level {below_joint_mm:.1f} mm lies outside the bone of {length_mm:.1f} mm.",
            where="expected drift",
            next_step="Give a level between the two joint lines.",
        )
    return tuple(Third)[min(int(3 * below_joint_mm / length_mm), 2)]


def expected_drift(bone: Bone, third: Third) -> ExpectedDrift:
    """The published tendency; a tendency, not a prediction for one patient."""
    for row in table("plan", "expected_drift"):
        if row.text("bone") == bone and row.text("level") == third:
            return ExpectedDrift(
                bone=bone,
                third=third,
                frontal=Sense(row.text("frontal")),
                sagittal=Sense(row.text("sagittal")),
                degree=row.text("degree"),
                source=row.source,
            )
    raise OutOfRange(
        f"no drift is published for the {third} third of the {bone}.",
        where="expected drift",
        next_step="Ask for the bone that the nail lengthens: femur or tibia.",
    )


def toggle_angle_deg(
    canal_width_mm: npt.ArrayLike, nail_diameter_mm: npt.ArrayLike, contact_length_mm: npt.ArrayLike
) -> Floats:
    """Angle a rigid straight nail can tilt in a straight canal, atan((Dc - Dn) / Lc), never below zero. [deg]

    Parameters
    ----------
    canal_width_mm : array
        Free width of the canal, or between blocking screw and far wall. [mm]
    nail_diameter_mm : array
        Diameter of the nail there. [mm]
    contact_length_mm : array
        Distance between the two places where the nail touches. [mm]
    """
    play = np.maximum(np.asarray(canal_width_mm, dtype=float) - np.asarray(nail_diameter_mm), 0.0)
    angle: Floats = np.degrees(np.arctan2(play, np.asarray(contact_length_mm, dtype=float)))
    return angle


def fragment_tilt_deg(
    gap_near_cut_mm: npt.ArrayLike, play_far_mm: npt.ArrayLike, span_mm: npt.ArrayLike
) -> Floats:
    """Tilt toward the drift that a rigid nail leaves one fragment. [deg]

    Parameters
    ----------
    gap_near_cut_mm : array
        Gap beside the nail on the concave side near the cut; a blocking screw makes it the screw's clearance.
    play_far_mm : array
        Gap on the opposite side at the far end of the fragment, or the play of a locking screw that holds
        this plane.
    span_mm : array
        Distance between the two.

    Notes
    -----
    The pair of contacts that stops the drift: the nail lies against the concave wall near the cut and against
    the other side far from it, atan((gap + play) / span). The two fragments' tilts add.
    """
    play = np.maximum(np.asarray(gap_near_cut_mm, dtype=float), 0.0) + np.maximum(
        np.asarray(play_far_mm, dtype=float), 0.0
    )
    angle: Floats = np.degrees(np.arctan2(play, np.asarray(span_mm, dtype=float)))
    return angle


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift(Value):
    """Where the distal fragment goes beside the nail's line, however it was estimated.

    Its axis is the nail's line in it: the part of the drift that is not a turn is told where that axis
    crosses the fragment's own cut face.
    """

    varus_deg: float = 0.0
    """Varus + [deg]."""
    procurvatum_deg: float = 0.0
    """Procurvatum + [deg]."""
    lateral_mm: float = 0.0
    """Shift at the cut, lateral + [mm]."""
    anterior_mm: float = 0.0
    """Shift at the cut, anterior + [mm]."""

    def shift_mm(self, beyond_cut_mm: float) -> tuple[float, float]:
        """Shift of the fragment's axis this far distal of its cut face, lateral + and anterior + [mm]."""
        return (
            self.lateral_mm - np.tan(np.radians(self.varus_deg)) * beyond_cut_mm,
            self.anterior_mm - np.tan(np.radians(self.procurvatum_deg)) * beyond_cut_mm,
        )


def drift_motion(drift: Drift, reduced: Reduction, gained_mm: float) -> Motion:
    """Motion that a drift adds to the distal fragment after reduction and lengthening.

    Parameters
    ----------
    drift : Drift
        Estimate from any model.
    reduced : Reduction
        The reduction of the bone.
    gained_mm : float
        Length gained: the fragment turns about the point where the nail's line crosses its own cut face,
        wherever that has gone by then. [mm]
    """
    rotation = turn(varus_deg=drift.varus_deg, procurvatum_deg=drift.procurvatum_deg, external_deg=0.0)
    face = np.array(reduced.cut.point_mm) + gained_mm * np.array(reduced.along)
    return motion_about(rotation, face).then(shift(np.array([drift.anterior_mm, 0.0, drift.lateral_mm])))
