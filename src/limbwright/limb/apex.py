"""The apex of a deformity (CORA): where the axes of two parts of a bone cross, with its uncertainty.

Axes that are nearly parallel have no apex: dividing by the sine of a small angle would put it anywhere.
They are named instead (`ApexOutcome`).
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from limbwright.error import Refused
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.axes import Axis
from limbwright.limb.landmark import Landmark
from limbwright.limb.limit import limit
from limbwright.limb.lines import (
    Line,
    Point,
    along_mm,
    angulation_deg,
    crossing,
    midpoint,
    offset_mm,
    point_of,
)
from limbwright.limb.uncertainty import linear_sd
from limbwright.limb.view import View
from limbwright.quantity import (
    ANTERIOR_POSTERIOR,
    LATERAL_MEDIAL,
    PROCURVATUM_RECURVATUM,
    VARUS_VALGUS,
    Directed,
    Measured,
    Value,
    directed,
)

_STEP = 1e-4  # of a template angle [deg] or a joint point [mm], for derivatives
_NO_ANGLE_DEG = 1e-3

Turned = tuple[float, float]

JOINT_POINTS: dict[tuple[Bone, Projection], tuple[tuple[Landmark, ...], tuple[Landmark, ...]]] = {
    (Bone.FEMUR, Projection.FRONTAL): ((Landmark.FEMORAL_HEAD_CENTRE,), (Landmark.FEMUR_KNEE_CENTRE,)),
    (Bone.FEMUR, Projection.SAGITTAL): (
        (Landmark.FEMORAL_HEAD_CENTRE,),
        (Landmark.DISTAL_FEMORAL_PHYSIS_ANTERIOR, Landmark.DISTAL_FEMORAL_PHYSIS_POSTERIOR),
    ),
    (Bone.TIBIA, Projection.FRONTAL): ((Landmark.TIBIA_KNEE_CENTRE,), (Landmark.ANKLE_CENTRE,)),
    (Bone.TIBIA, Projection.SAGITTAL): (
        (Landmark.PLATEAU_ANTERIOR, Landmark.PLATEAU_POSTERIOR),
        (Landmark.PLAFOND_ANTERIOR, Landmark.PLAFOND_POSTERIOR),
    ),
}
"""The joint point at each end of a bone that levels are counted from: a centre, or the middle of two ends."""


class ApexOutcome(StrEnum):
    """What two axes tell about a deformity."""

    APEX = "apex in the bone"
    OUTSIDE = "apex outside the bone"
    TRANSLATION = "translation only"
    NONE = "no deformity"
    WITHOUT_SCALE = "angle only, the film has no scale"


@dataclass(frozen=True, slots=True, kw_only=True)
class Apex(Value):
    """Where two axes of a bone cross, or why they do not."""

    bone: Bone
    """The bone."""
    projection: Projection
    """The plane."""
    outcome: ApexOutcome
    """Whether there is an apex, and where."""
    proximal: Axis
    """Axis of the part above."""
    distal: Axis
    """Axis of the part below."""
    angulation: Measured
    """Varus + (frontal) or procurvatum + (sagittal) [deg]."""
    point: Point | None
    """The apex; absent when the axes are nearly parallel or the film has no scale [mm]."""
    from_proximal_joint: Measured | None
    """Level along the proximal axis, distal of the proximal joint + [mm]."""
    from_distal_joint: Measured | None
    """Level along the distal axis, proximal of the distal joint + [mm]."""
    translation: Measured | None
    """Offset of the distal axis when the axes are nearly parallel, lateral + or anterior + [mm]."""

    def shown(self) -> Directed:
        """The angulation as it leaves the package."""
        senses = VARUS_VALGUS if self.projection is Projection.FRONTAL else PROCURVATUM_RECURVATUM
        return directed(self.angulation.value, unit="deg", senses=senses)

    def translation_shown(self) -> Directed | None:
        """The translation of the distal part as it leaves the package."""
        return None if self.translation is None else shift_shown(self.translation, self.projection)


def shift_shown(translation: Measured, projection: Projection) -> Directed:
    """A translation of the distal part as it leaves the package."""
    senses = LATERAL_MEDIAL if projection is Projection.FRONTAL else ANTERIOR_POSTERIOR
    return directed(translation.value, unit="mm", senses=senses)


def apex(
    view: View,
    proximal: Axis,
    distal: Axis,
    *,
    parallel_below_deg: float | None = None,
    offset_below_mm: float | None = None,
) -> Apex:
    """The apex between the axes of two parts of a bone.

    Parameters
    ----------
    view : View
        The view both axes were drawn on.
    proximal, distal : Axis
        Of one bone and one kind (`limb.axes.axes`).
    parallel_below_deg, offset_below_mm : float, optional
        Angles below the first give no apex; parallel axes offset by less than the second are one. From
        the limits table unless given. [deg], [mm]

    Raises
    ------
    Refused
        If the axes belong to different bones, planes or kinds, or to films that share no frame.

    Notes
    -----
    The uncertainty comes from all landmarks of both axes and joints, from the scale, from the template
    angles (other leg: its reading; population: a quarter of the normal range) and from published joint
    points.
    """
    _require_pair(view, proximal, distal)
    parallel_below_deg = (
        limit("angle below which two axes count as parallel")
        if parallel_below_deg is None
        else parallel_below_deg
    )
    offset_below_mm = (
        limit("offset below which two parallel axes count as one")
        if offset_below_mm is None
        else offset_below_mm
    )
    pair = _Pair(view, proximal, distal)
    angulation = pair.measured(lambda _, up, low: angulation_deg(up, low), unit="deg")
    found = crossing(proximal.line, distal.line, parallel_below_deg=max(parallel_below_deg, _NO_ANGLE_DEG))
    above = below = translation = None
    if not view.scaled:
        outcome, found = ApexOutcome.WITHOUT_SCALE, None
    elif found is None:
        translation = pair.measured(lambda v, up, low: _offset_halfway_mm(v, up, low, proximal), unit="mm")
        outcome = ApexOutcome.TRANSLATION if abs(translation.value) >= offset_below_mm else ApexOutcome.NONE
    else:
        above, below = pair.levels()
        outside = any(level is not None and level.value < 0 for level in (above, below))
        outcome = ApexOutcome.OUTSIDE if outside else ApexOutcome.APEX
    return Apex(
        bone=proximal.bone,
        projection=proximal.projection,
        outcome=outcome,
        proximal=proximal,
        distal=distal,
        angulation=angulation,
        point=found,
        from_proximal_joint=above,
        from_distal_joint=below,
        translation=translation,
    )


def translation_at(view: View, deformity: Apex, *, from_proximal_joint_mm: float) -> Measured:
    """Offset of the distal axis from the proximal one at a given level, perpendicular to the proximal axis.

    Parameters
    ----------
    view : View
        The view of the apex, with scale.
    deformity : Apex
        Its two axes.
    from_proximal_joint_mm : float
        Level along the proximal axis, counted as in `Apex.from_proximal_joint`. [mm]

    Returns
    -------
    Measured
        Translation of the distal part, lateral + or anterior +; 0 at the apex itself. [mm]

    Raises
    ------
    Refused
        If the film has no scale, or the proximal joint is not marked.
    """
    if not view.scaled or joint_point(view, deformity.bone, proximal=True) is None:
        raise Refused(
            f"the translation of the {deformity.bone} at a level needs a scale and its proximal joint.",
            where=f"{view.side} leg, {view.projection} film",
            next_step="Mark the joint and a calibration object.",
        )

    def offset(moved: View, up: Line, low: Line) -> float:
        joint = joint_point(moved, deformity.bone, proximal=True)
        start = 0.0 if joint is None else along_mm(joint, up)
        return axis_offset_mm(up, low, along_proximal_mm=start + from_proximal_joint_mm)

    return _Pair(view, deformity.proximal, deformity.distal).measured(offset, unit="mm")


def axis_offset_mm(proximal: Line, distal: Line, *, along_proximal_mm: float) -> float:
    """Where the distal axis passes a level of the proximal one, across + of it, perpendicular to it [mm].

    `along_proximal_mm` counts from `proximal.through`, distal + [mm].
    """
    return -offset_mm(proximal.at(along_proximal_mm), distal) / math.cos(
        math.radians(angulation_deg(proximal, distal))
    )


def joint_point(view: View, bone: Bone, *, proximal: bool) -> Point | None:
    """The point of the proximal or distal joint that levels are counted from, None when it is not marked."""
    ends = JOINT_POINTS[bone, view.projection]
    marks = ends[0] if proximal else ends[1]
    if not view.has(*marks):
        return None
    points = [point_of(view, mark) for mark in marks]
    return points[0] if len(points) == 1 else midpoint(points[0], points[1])


def _require_pair(view: View, proximal: Axis, distal: Axis) -> None:
    same = (
        proximal.bone is distal.bone
        and proximal.kind is distal.kind
        and proximal.projection is distal.projection is view.projection
        and view.in_one_frame(*proximal.landmarks, *distal.landmarks)
    )
    if not same:
        raise Refused(
            f"the {proximal.kind} axis of the {proximal.part} {proximal.bone} and the {distal.kind} axis of "
            f"the {distal.part} {distal.bone} do not belong together.",
            where=f"{view.side} leg, {view.projection} film",
            next_step="Take two axes of one bone, one kind and one film.",
        )


def _offset_halfway_mm(view: View, up: Line, low: Line, proximal: Axis) -> float:
    """Offset of two nearly parallel axes half way down the bone, or between their own points."""
    ends = [joint_point(view, proximal.bone, proximal=end) for end in (True, False)]
    top, bottom = (joint or own for joint, own in zip(ends, (up.through, low.through), strict=True))
    middle = (along_mm(top, up) + along_mm(bottom, up)) / 2
    return axis_offset_mm(up, low, along_proximal_mm=middle)


@dataclass(frozen=True, slots=True)
class _Pair:
    """Two axes on a view, and what their landmarks and template angles do to a number computed from them."""

    view: View
    proximal: Axis
    distal: Axis

    def measured(self, of_lines: Callable[[View, Line, Line], float], *, unit: str) -> Measured:
        def at(view: View, *, turned: Turned = (0.0, 0.0), moved: Turned = (0.0, 0.0)) -> float:
            return of_lines(
                view,
                self.proximal.on(view, turned_deg=turned[0], moved_mm=moved[0]),
                self.distal.on(view, turned_deg=turned[1], moved_mm=moved[1]),
            )

        marks = [
            *self.proximal.landmarks,
            *self.distal.landmarks,
            *(m for end in JOINT_POINTS[self.proximal.bone, self.view.projection] for m in end),
        ]
        present = [m for m in dict.fromkeys(marks) if m in self.view.spots]
        spread = [linear_sd(self.view, at, landmarks=present)]
        h = _STEP
        for axis, plus, minus in ((self.proximal, (h, 0.0), (-h, 0.0)), (self.distal, (0.0, h), (0.0, -h))):
            if axis.template is not None:
                change = at(self.view, turned=plus) - at(self.view, turned=minus)
                spread.append(change / (2 * h) * axis.template.sd)
            if axis.point_sd_mm > 0:
                change = at(self.view, moved=plus) - at(self.view, moved=minus)
                spread.append(change / (2 * h) * axis.point_sd_mm)
        return Measured(value=at(self.view), sd=math.hypot(*spread), unit=unit)

    def levels(self) -> tuple[Measured | None, Measured | None]:
        """Level of the crossing below the proximal joint and above the distal one."""

        def below_proximal(view: View, up: Line, low: Line) -> float:
            joint = joint_point(view, self.proximal.bone, proximal=True)
            return _along_at_crossing(up, low) - (0.0 if joint is None else along_mm(joint, up))

        def above_distal(view: View, up: Line, low: Line) -> float:
            joint = joint_point(view, self.distal.bone, proximal=False)
            # Seen along the distal axis; the angle changes sign with the order of the two.
            return (0.0 if joint is None else along_mm(joint, low)) - _along_at_crossing(low, up)

        bone = self.proximal.bone
        return (
            None
            if joint_point(self.view, bone, proximal=True) is None
            else self.measured(below_proximal, unit="mm"),
            None
            if joint_point(self.view, bone, proximal=False) is None
            else self.measured(above_distal, unit="mm"),
        )


def _along_at_crossing(line: Line, other: Line) -> float:
    """How far along `line` it meets `other`; the caller has made sure that they are not parallel [mm]."""
    return -offset_mm(line.through, other) / math.sin(math.radians(angulation_deg(line, other)))
