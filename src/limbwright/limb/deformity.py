"""The deformity of a bone in one plane: straight parts, the apexes between them, and how many there are.

All anatomic axes of a bone, from proximal to distal, form a chain: joint-based, upper, middle and lower
shaft line, joint-based. Neighbours that agree within their uncertainty are one straight part; every pair of
parts that does not has an apex between them. The axes of the inner parts are the intermediate axes, and
the angles of all apexes add up to the angle between the two end axes. Where only mechanical axes can be
drawn, these are used.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from limbwright.error import Missing
from limbwright.finding import Finding
from limbwright.limb import deformity_finding
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.apex import Apex, ApexOutcome, apex
from limbwright.limb.axes import SHAFTS, Axis, AxisKind, Construction, Part, axes
from limbwright.limb.limit import limit
from limbwright.limb.lines import along_mm, distance_mm, point_of
from limbwright.limb.reading import Measure
from limbwright.limb.template import Template
from limbwright.limb.view import View
from limbwright.quantity import PROCURVATUM_RECURVATUM, VARUS_VALGUS, Directed, Measured, Value, directed


class Pattern(StrEnum):
    """What kind of deformity a bone has in one plane."""

    STRAIGHT = "no deformity"
    ONE_APEX = "one apex"
    WITH_TRANSLATION = "one angle with translation, or a hidden second apex"
    TRANSLATION = "translation only"
    SEVERAL = "more than one apex"


@dataclass(frozen=True, slots=True, kw_only=True)
class Deformity(Value):
    """The deformity of a bone in one plane."""

    bone: Bone
    """The bone."""
    projection: Projection
    """The plane."""
    pattern: Pattern
    """How many apexes, in words."""
    parts: tuple[Axis, ...]
    """Axis of every straight part, from proximal to distal; the inner ones are intermediate axes."""
    apexes: tuple[Apex, ...]
    """One between every two parts; their angles add up to `total`."""
    total: Measured
    """Angle between the first and the last part, varus + or procurvatum + [deg]."""
    resolution: Apex | None
    """The one apex that would correct all of it; absent when the bone is one straight part."""
    alternatives: tuple[Apex, ...]
    """The apex of every other pair of proximal and distal axes of one kind, anatomic and mechanical."""
    findings: tuple[Finding, ...]
    """What to weigh before one of them is believed."""

    def shown(self) -> Directed:
        """The total as it leaves the package."""
        senses = VARUS_VALGUS if self.projection is Projection.FRONTAL else PROCURVATUM_RECURVATUM
        return directed(self.total.value, unit="deg", senses=senses)


def deformity(view: View, bone: Bone, templates: Mapping[Measure, Template]) -> Deformity:
    """The deformity of femur or tibia in the plane of a view.

    Parameters
    ----------
    view : View
        One leg in one projection.
    bone : Bone
        Femur or tibia.
    templates : mapping
        What the angles should be (`limb.template.templates`).

    Raises
    ------
    Missing
        If fewer than two axes of one kind can be drawn.

    Notes
    -----
    Two neighbouring axes are parts of their own when they differ by more than 2 degrees and by more than
    1.96 standard uncertainties, or, both being shaft lines, when they are parallel but offset.
    """
    drawn = _in_one_frame(view, axes(view, bone, templates))
    chain = _chain(drawn)
    if len(chain) < 2:
        raise Missing(
            f"fewer than two axes of the {bone} can be drawn on the {view.projection} film.",
            where=f"{view.side} leg, {view.projection} film",
            next_step="Mark two shaft points of its proximal and two of its distal part, or its joint lines.",
        )
    groups = _straight_parts(view, chain)
    parts = tuple(_longest(view, group) for group in groups)
    apexes = tuple(apex(view, up, low) for up, low in pairwise(parts))
    total = apex(view, parts[0], parts[-1]) if len(parts) > 1 else None
    ends = apex(view, chain[0], chain[-1])
    pattern = _pattern(view, groups, apexes)
    alternatives = _alternatives(view, drawn, apexes)
    return Deformity(
        bone=bone,
        projection=view.projection,
        pattern=pattern,
        parts=parts,
        apexes=apexes,
        total=ends.angulation if total is None else total.angulation,
        resolution=total,
        alternatives=alternatives,
        findings=deformity_finding.of(
            bone=bone,
            projection=view.projection,
            hidden=pattern is Pattern.WITH_TRANSLATION,
            apexes=apexes,
            total=ends.angulation if total is None else total.angulation,
            alternatives=alternatives,
        ),
    )


def _in_one_frame(view: View, drawn: tuple[Axis, ...]) -> tuple[Axis, ...]:
    """The axes of the film that shows most of the bone, when its films share no frame."""
    frames = [view.frame_of(axis.landmarks[0]) for axis in drawn]
    most = max(frames, key=frames.count, default="")
    return tuple(axis for axis, frame in zip(drawn, frames, strict=True) if frame == most)


def _chain(drawn: tuple[Axis, ...]) -> tuple[Axis, ...]:
    """Axes of one kind from proximal to distal: anatomic when they span the bone, else mechanical."""

    def place(axis: Axis) -> float:
        order = {Part.PROXIMAL: 0.0, Part.MIDDLE: 1.0, Part.DISTAL: 2.0}[axis.part]
        joint = axis.construction is not Construction.SHAFT_LINE
        return order + (0.0 if not joint else -0.5 if axis.part is Part.PROXIMAL else 0.5)

    anatomic = sorted((a for a in drawn if a.kind is AxisKind.ANATOMIC), key=place)
    if len(anatomic) > 1 and anatomic[0].part is not anatomic[-1].part:
        return tuple(anatomic)
    mechanical = [a for a in drawn if a.kind is AxisKind.MECHANICAL]
    ends = [next((a for a in mechanical if a.part is part), None) for part in (Part.PROXIMAL, Part.DISTAL)]
    spanning = tuple(a for a in ends if a is not None)
    # A shaft line and a joint line of one end still show a deformity between the two.
    return spanning if len(spanning) == 2 else tuple(anatomic)


def _straight_parts(view: View, chain: tuple[Axis, ...]) -> list[list[Axis]]:
    groups = [[chain[0]]]
    for axis in chain[1:]:
        if _agree(view, _longest(view, groups[-1]), axis):
            groups[-1].append(axis)
        else:
            groups.append([axis])
    return groups


def _agree(view: View, up: Axis, low: Axis) -> bool:
    between = apex(view, up, low)
    angle = between.angulation
    if abs(angle.value) > max(limit("angle below which two axes count as parallel"), 1.96 * angle.sd):
        return False
    shafts = up.construction is low.construction is Construction.SHAFT_LINE
    shifted = between.outcome is ApexOutcome.TRANSLATION and between.translation is not None
    return not (
        shafts
        and shifted
        and between.translation is not None
        and abs(between.translation.value) > 1.96 * between.translation.sd
    )


def _longest(view: View, group: list[Axis]) -> Axis:
    """The shaft line with the longest base; without one the first axis."""
    shafts = [axis for axis in group if axis.construction is Construction.SHAFT_LINE]
    if not shafts:
        return group[0]
    return max(
        shafts,
        key=lambda axis: distance_mm(point_of(view, axis.landmarks[0]), point_of(view, axis.landmarks[1])),
    )


def _pattern(view: View, groups: list[list[Axis]], apexes: tuple[Apex, ...]) -> Pattern:
    if not apexes:
        return Pattern.STRAIGHT
    if len(apexes) > 1:
        return Pattern.SEVERAL
    if apexes[0].outcome is ApexOutcome.TRANSLATION:
        return Pattern.TRANSLATION
    return (
        Pattern.WITH_TRANSLATION
        if _away_from_bend(view, groups[0], groups[1], apexes[0])
        else Pattern.ONE_APEX
    )


def _away_from_bend(view: View, upper: list[Axis], lower: list[Axis], between: Apex) -> bool:
    """Whether the apex lies inside a stretch of shaft that was marked as straight."""
    if between.point is None:
        return False
    line = between.proximal.line
    room = limit("room for an apex beyond the marked ends of two shaft lines")
    level = along_mm(between.point, line)
    known = [m for m in (between.from_proximal_joint, between.from_distal_joint) if m is not None]
    slack = room + 1.96 * min((m.sd for m in known), default=0.0)
    marks = [
        [along_mm(point_of(view, mark), line) for axis in group if _is_shaft(axis) for mark in axis.landmarks]
        for group in (upper, lower)
    ]
    above_upper_end = bool(marks[0]) and level < max(marks[0]) - slack
    below_lower_end = bool(marks[1]) and level > min(marks[1]) + slack
    return above_upper_end or below_lower_end


def _is_shaft(axis: Axis) -> bool:
    return axis.construction is Construction.SHAFT_LINE and axis.landmarks in SHAFTS.values()


def _alternatives(view: View, drawn: tuple[Axis, ...], apexes: tuple[Apex, ...]) -> tuple[Apex, ...]:
    used = [(a.proximal, a.distal) for a in apexes]
    return tuple(
        apex(view, up, low)
        for up in drawn
        for low in drawn
        if up.part is Part.PROXIMAL
        and low.part is Part.DISTAL
        and up.kind is low.kind
        and (up, low) not in used
    )
