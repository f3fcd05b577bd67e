"""What the choice of bone rests on: apexes of both planes and shortening, bone by bone."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from limbwright.case.case import Case
from limbwright.case.measured import MeasuredCase
from limbwright.error import Missing
from limbwright.finding import Finding
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.apex import JOINT_POINTS, Apex, ApexOutcome
from limbwright.limb.axes import Construction
from limbwright.limb.deformity import Deformity, deformity
from limbwright.limb.landmark import Landmark
from limbwright.limb.lines import point_of
from limbwright.limb.reading import Measure
from limbwright.limb.template import Origin, Template
from limbwright.limb.view import View
from limbwright.plan.outlook_finding import SAGITTAL_ANGLES
from limbwright.plan.situation import Angulation, BoneSituation, LegSituation
from limbwright.practice.profile import Profile
from limbwright.quantity import Directed, Measured, Sense, Value

LONG_BONES = (Bone.FEMUR, Bone.TIBIA)
_LENGTHS = {Bone.FEMUR: Measure.FEMUR_LENGTH, Bone.TIBIA: Measure.TIBIA_LENGTH}


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneDeformity(Value):
    """The deformity of one bone as both films show it."""

    bone: Bone
    """Femur or tibia."""
    frontal: Deformity | None
    """In the frontal plane; absent when its axes cannot be drawn."""
    sagittal: Deformity | None
    """In the sagittal plane; absent when its axes cannot be drawn."""
    other_bow: Measured | None
    """The same sagittal angle of the other leg's femur, its normal bow; absent for the tibia [deg]."""
    not_found: tuple[str, ...]
    """Why a plane is absent, in plain words."""

    def planes(self) -> tuple[Deformity, ...]:
        """The planes that are there, frontal first."""
        return tuple(plane for plane in (self.frontal, self.sagittal) if plane is not None)

    def findings(self) -> tuple[Finding, ...]:
        """What to weigh about either plane."""
        return tuple(finding for plane in self.planes() for finding in plane.findings)


def deformities(
    measured: MeasuredCase, wanted: Mapping[Measure, float] | None = None
) -> tuple[BoneDeformity, ...]:
    """Deformity of femur and tibia of the treated leg, in both planes as far as axes can be drawn.

    Parameters
    ----------
    measured : MeasuredCase
        Both legs.
    wanted : mapping, optional
        Angles the surgeon wants; the sagittal ones stand in for their templates, so that what deviates from
        them is what is corrected. Frontal ones are aimed at as they are read at full length. [deg]
    """
    aims = {
        **measured.templates,
        **{m: _as_template(m, value) for m, value in (wanted or {}).items() if m in SAGITTAL_ANGLES},
    }
    found = []
    for bone in LONG_BONES:
        planes: dict[Projection, Deformity] = {}
        absent = []
        for projection in Projection:
            try:
                view = measured.treated.views.need(projection)
                planes[projection] = deformity(view, bone, aims)
            except Missing as reason:
                absent.append(str(reason))
        found.append(
            BoneDeformity(
                bone=bone,
                frontal=planes.get(Projection.FRONTAL),
                sagittal=planes.get(Projection.SAGITTAL),
                other_bow=_other_bow(measured) if bone is Bone.FEMUR else None,
                not_found=tuple(absent),
            )
        )
    return tuple(found)


def _as_template(measure: Measure, value: float) -> Template:
    return Template(
        measure=measure,
        value=value,
        sd=0.0,
        origin=Origin.GOAL,
        reason="the angle set in the goal of the case",
    )


def _other_bow(measured: MeasuredCase) -> Measured | None:
    """Bow of the other femur, by the same lines; a femur is bowed forward without being deformed."""
    view = None if measured.other is None else measured.other.views.sagittal
    if view is None:
        return None
    try:
        return deformity(view, Bone.FEMUR, measured.templates).total
    except Missing:
        return None


def situation(
    case: Case, measured: MeasuredCase, seen: tuple[BoneDeformity, ...], profile: Profile
) -> LegSituation:
    """Shortening and deformity of the treated leg, bone by bone.

    Raises
    ------
    Missing
        If a bone's length or its difference from the other leg was not measured; a plan would be a guess.
    """
    parts = {part.bone: _bone_situation(case, measured, part, profile) for part in seen}
    foot = case.examination.foot_height_difference_mm
    return LegSituation(
        femur=parts[Bone.FEMUR], tibia=parts[Bone.TIBIA], foot_short_mm=0.0 if foot is None else foot
    )


def _bone_situation(
    case: Case, measured: MeasuredCase, seen: BoneDeformity, profile: Profile
) -> BoneSituation:
    bone = seen.bone
    length_mm = measured.treated.frontal.need(_LENGTHS[bone]).value.value
    between = measured.difference
    short = None if between is None else between.femur if bone is Bone.FEMUR else between.tibia
    if short is None:
        raise Missing(
            f"the length of the {bone} of the other leg was not measured.",
            where=f"{measured.side.other()} leg",
            next_step="Mark the landmarks of both legs on the frontal film; their difference is needed.",
        )
    examined = case.examination
    turned = examined.femur_rotation if bone is Bone.FEMUR else examined.tibia_rotation
    return BoneSituation(
        bone=bone,
        length_mm=length_mm,
        short_mm=-short.value,
        angulations=_angulations(
            seen, (measured.treated.views.frontal, measured.treated.views.sagittal), profile
        ),
        rotation_deg=None if turned is None else _external_deg(turned),
    )


def _external_deg(rotation: Directed) -> float:
    return -rotation.magnitude if rotation.direction is Sense.INTERNAL else rotation.magnitude


def _angulations(
    seen: BoneDeformity, views: tuple[View | None, View | None], profile: Profile
) -> tuple[Angulation, ...]:
    """Apexes of both planes; two at one level are one angulation in an oblique plane."""
    front, side = views
    frontal = list(seen.frontal.apexes) if seen.frontal else []
    sagittal = list(seen.sagittal.apexes) if seen.sagittal and seen.bone is not Bone.FEMUR else []
    joined = []
    for apex in frontal:
        partner = next((s for s in sagittal if _one_level(apex, s, profile)), None)
        if partner is not None:
            sagittal.remove(partner)
        joined.append(
            Angulation(
                below_joint_mm=_level_mm(apex, front),
                frontal_deg=apex.angulation.value,
                sagittal_deg=0.0 if partner is None else partner.angulation.value,
                lateral_mm=_offset_mm(apex),
                anterior_mm=0.0 if partner is None else _offset_mm(partner),
            )
        )
    joined += [
        Angulation(
            below_joint_mm=_level_mm(apex, side),
            sagittal_deg=apex.angulation.value,
            anterior_mm=_offset_mm(apex),
        )
        for apex in sagittal
    ]
    joined += _beyond_the_bow(seen)
    return tuple(sorted(joined, key=lambda a: (a.below_joint_mm is None, a.below_joint_mm or 0.0)))


def _beyond_the_bow(seen: BoneDeformity) -> list[Angulation]:
    """Sagittal angulation of a femur beyond the bow of the other one; none when that was not measured."""
    plane, bow = seen.sagittal, seen.other_bow
    if seen.bone is not Bone.FEMUR or plane is None or plane.resolution is None or bow is None:
        return []
    beyond = plane.total.value - bow.value
    if abs(beyond) <= 1.96 * math.hypot(plane.total.sd, bow.sd):
        return []
    return [Angulation(below_joint_mm=_level_mm(plane.resolution), sagittal_deg=beyond)]


def _level_mm(apex: Apex, view: View | None = None) -> float | None:
    """Level of an apex; of a step between parallel parts the middle between the marks of both."""
    if apex.from_proximal_joint is not None:
        return apex.from_proximal_joint.value
    if apex.outcome is not ApexOutcome.TRANSLATION or view is None:
        return None
    both = (apex.proximal, apex.distal)
    tops, bottoms = JOINT_POINTS[apex.bone, apex.projection]
    if any(a.construction is not Construction.SHAFT_LINE for a in both) or not view.has(*tops, *bottoms):
        return None

    def middle(marks: tuple[Landmark, ...]) -> tuple[float, float]:
        points = [point_of(view, mark) for mark in marks]
        return (
            sum(p.across_mm for p in points) / len(points),
            sum(p.proximal_mm for p in points) / len(points),
        )

    upper = min((point_of(view, m) for m in apex.proximal.landmarks), key=lambda p: p.proximal_mm)
    lower = max((point_of(view, m) for m in apex.distal.landmarks), key=lambda p: p.proximal_mm)
    top, bottom = middle(tops), middle(bottoms)
    length = math.dist(top, bottom)
    across, down = (upper.across_mm + lower.across_mm) / 2, (upper.proximal_mm + lower.proximal_mm) / 2
    return ((across - top[0]) * (bottom[0] - top[0]) + (down - top[1]) * (bottom[1] - top[1])) / length


def _offset_mm(apex: Apex) -> float:
    """Offset of the part below where the axes are parallel and apart; 0 elsewhere. [mm]"""
    step = apex.outcome is ApexOutcome.TRANSLATION and apex.translation is not None
    return apex.translation.value if step and apex.translation is not None else 0.0


def _one_level(a: Apex, b: Apex, profile: Profile) -> bool:
    """Whether the apexes of the two planes agree in level, within the setting or within their uncertainty."""
    upper, lower = a.from_proximal_joint, b.from_proximal_joint
    if upper is None or lower is None:
        return True
    apart = abs(upper.value - lower.value)
    return apart <= max(profile.apex_levels_agree_mm, 1.96 * math.hypot(upper.sd, lower.sd))
