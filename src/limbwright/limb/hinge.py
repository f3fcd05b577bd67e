"""Correction about a hinge: the three osteotomy rules, and what a hinge off its place costs.

Rules (Paley, Principles of Deformity Correction, 2002, from memory; teaching page on osteotomy principles):
1. cut and hinge at the apex: the axes become one line, the ends only angulate;
2. hinge at the apex, cut elsewhere: the axes become one line, the ends angulate and shift;
3. hinge elsewhere: the axes become parallel, not one line.
"At the apex" holds all along the transverse bisector: a hinge on its convex side opens a wedge and
lengthens, on its concave side it closes one and shortens.
"""

import math
from dataclasses import dataclass
from enum import IntEnum

from limbwright.error import Refused
from limbwright.limb.anatomy import Projection
from limbwright.limb.limit import limit
from limbwright.limb.lines import Line, Point, along_mm, angulation_deg, crossing, offset_mm
from limbwright.quantity import (
    ANTERIOR_POSTERIOR,
    LATERAL_MEDIAL,
    LONGER_SHORTER,
    PROCURVATUM_RECURVATUM,
    VARUS_VALGUS,
    Directed,
    Sense,
    Value,
    directed,
    require_within,
)

_STEEPEST_DEG = 80.0


class OsteotomyRule(IntEnum):
    """Which of the three rules a cut and a hinge follow."""

    ANGULATION_ONLY = 1
    ANGULATION_AND_SHIFT = 2
    PARALLEL_OFFSET = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class HingeCorrection(Value):
    """What correcting all angulation about a hinge leads to."""

    rule: OsteotomyRule
    """Osteotomy rule that cut and hinge follow."""
    corrected: Directed
    """The deformity that is taken away [deg]."""
    axis_offset: Directed
    """Where the distal axis ends up beside the proximal one [mm]; none on the bisector."""
    length_change: Directed
    """Change of length along the axis [mm]."""
    end_shift: Directed
    """How far the distal bone end moves across at the cut [mm]."""
    end_travel: Directed
    """How far the distal bone end moves along the axis at the cut [mm]."""
    distal: Line
    """The distal axis after correction."""


def cut_shift_mm(*, cut_from_apex_mm: float, correction_deg: float) -> float:
    """Shift of the bone ends across the axis when the hinge is at the apex and the cut is not (rule 2) [mm].

    t = d·sin a.
    """
    return abs(cut_from_apex_mm) * math.sin(math.radians(abs(correction_deg)))


def cut_axial_mm(*, cut_from_apex_mm: float, correction_deg: float) -> float:
    """Axial part of the same movement (rule 2): d·(1 - cos a) [mm]."""
    return abs(cut_from_apex_mm) * (1 - math.cos(math.radians(correction_deg)))


def cut_chord_mm(*, cut_from_apex_mm: float, correction_deg: float) -> float:
    """Distance that the bone end travels in all (rule 2): 2·d·sin(a/2) [mm]."""
    return 2 * abs(cut_from_apex_mm) * math.sin(math.radians(abs(correction_deg)) / 2)


def axis_offset_of_hinge_mm(*, hinge_from_apex_mm: float, correction_deg: float) -> float:
    """Offset of the axes when the hinge lies on the axis away from the apex (rule 3): h·sin a [mm]."""
    return abs(hinge_from_apex_mm) * math.sin(math.radians(abs(correction_deg)))


def length_gain_mm(*, hinge_to_convex_mm: float, correction_deg: float) -> float:
    """Length gained by a hinge on the transverse bisector, convex side + (opening), concave - [mm].

    2·b·sin(a/2).
    """
    return 2 * hinge_to_convex_mm * math.sin(math.radians(abs(correction_deg)) / 2)


def wedge_base_mm(*, bone_width_mm: float, correction_deg: float, right_angled: bool = False) -> float:
    """Base of the wedge opened or closed about a hinge on the far cortex [mm].

    Isosceles wedge 2·w·sin(a/2); a wedge with one side square to the bone w·tan a.
    """
    require_within(
        "width of the bone", bone_width_mm, 1.0, 150.0, "mm", next_step="Measure it at the level of the cut."
    )
    require_within(
        "correction", correction_deg, -_STEEPEST_DEG, _STEEPEST_DEG, "deg", next_step="Check the two axes."
    )
    angle = math.radians(abs(correction_deg))
    return bone_width_mm * math.tan(angle) if right_angled else 2 * bone_width_mm * math.sin(angle / 2)


def bisector_point(proximal: Line, distal: Line, *, to_convex_mm: float) -> Point:
    """A point of the transverse bisector, so far from the apex toward the convex side [mm].

    Raises
    ------
    Refused
        If the axes are nearly parallel.
    """
    apex = _apex(proximal, distal)
    # A mean of leans, half the angulation from each axis, so a turn past 180 degrees cannot flip it.
    across_deg = proximal.lean_deg - angulation_deg(proximal, distal) / 2 + 90.0
    convex = 1.0 if angulation_deg(proximal, distal) > 0 else -1.0
    return Line(through=apex, lean_deg=across_deg).at(convex * to_convex_mm)


def hinged(
    proximal: Line,
    distal: Line,
    *,
    projection: Projection,
    hinge: Point,
    cut_from_apex_mm: float,
    tolerance_mm: float = 1.0,
) -> HingeCorrection:
    """Correct all angulation between two axes about a hinge.

    Parameters
    ----------
    proximal, distal : Line
        Axes of the two parts.
    projection : Projection
        The plane, for the words.
    hinge : Point
        Angulation correction axis, seen end on. [mm]
    cut_from_apex_mm : float
        Level of the cut along the bone, distal of the apex +. [mm]
    tolerance_mm : float
        Offsets and distances up to this count as none when the rule is named. [mm]

    Raises
    ------
    Refused
        If the axes are nearly parallel: a translation needs no hinge.
    """
    apex = _apex(proximal, distal)
    angle = angulation_deg(proximal, distal)
    moved = Line(through=_turned(distal.through, hinge, angle), lean_deg=proximal.lean_deg)
    offset = offset_mm(moved.through, proximal)
    gain = along_mm(_turned(apex, hinge, angle), proximal) - along_mm(apex, proximal)
    # Above the apex the cut goes through the proximal axis, below it through the distal one.
    side = proximal if cut_from_apex_mm < 0 else distal
    end = Line(through=apex, lean_deg=side.lean_deg).at(cut_from_apex_mm)
    after = _turned(end, hinge, angle)
    at_apex = abs(cut_from_apex_mm) <= tolerance_mm
    on_bisector = abs(offset) <= tolerance_mm
    rule = (
        OsteotomyRule.PARALLEL_OFFSET
        if not on_bisector
        else OsteotomyRule.ANGULATION_ONLY
        if at_apex
        else OsteotomyRule.ANGULATION_AND_SHIFT
    )
    frontal = projection is Projection.FRONTAL
    across = LATERAL_MEDIAL if frontal else ANTERIOR_POSTERIOR
    return HingeCorrection(
        rule=rule,
        corrected=directed(angle, unit="deg", senses=VARUS_VALGUS if frontal else PROCURVATUM_RECURVATUM),
        axis_offset=directed(offset, unit="mm", senses=across),
        length_change=directed(gain, unit="mm", senses=LONGER_SHORTER),
        end_shift=directed(offset_mm(after, proximal) - offset_mm(end, proximal), unit="mm", senses=across),
        end_travel=directed(
            along_mm(after, proximal) - along_mm(end, proximal),
            unit="mm",
            senses=(Sense.DISTAL, Sense.PROXIMAL),
        ),
        distal=moved,
    )


def _apex(proximal: Line, distal: Line) -> Point:
    found = crossing(
        proximal, distal, parallel_below_deg=limit("angle below which two axes count as parallel")
    )
    if found is None:
        raise Refused(
            f"the axes differ by {abs(angulation_deg(proximal, distal)):.1f} degrees only and have no apex.",
            where="hinge",
            next_step="Plan a translation instead of a hinge.",
        )
    return found


def _turned(point: Point, hinge: Point, angle_deg: float) -> Point:
    """A point turned about the hinge so that the lean of anything it carries grows by `angle_deg`."""
    # A lean grows when the distal direction turns from straight down toward across +: counter-clockwise.
    cos, sin = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    x, y = point.across_mm - hinge.across_mm, point.proximal_mm - hinge.proximal_mm
    return Point(hinge.across_mm + cos * x - sin * y, hinge.proximal_mm + sin * x + cos * y)
