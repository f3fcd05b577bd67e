"""Both planes of a bone's deformity together: its true size and plane, and the one turn it amounts to."""

from dataclasses import dataclass, replace

from limbwright.case.measured import MeasuredCase
from limbwright.case.situation import BoneDeformity
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.oblique import Oblique, oblique_angulation
from limbwright.limb.turn import Turn, turn_of_apexes
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class SpatialDeformity(Value):
    """The deformity of one bone in space."""

    bone: Bone
    """Femur or tibia."""
    oblique: Oblique
    """True angulation, its plane, and where its apex points."""
    turn: Turn | None
    """Angulation and translation as one turn about an axis, seen from the frontal apex; absent unless both
    planes have one apex with a level."""


def spatial_deformities(
    measured: MeasuredCase, seen: tuple[BoneDeformity, ...]
) -> tuple[SpatialDeformity, ...]:
    """Bones of which both planes are known, each in space.

    A femur is bowed forward without being deformed, so its sagittal angle counts beyond the other femur's;
    where that was not measured, the femur is left out.
    """
    return tuple(found for part in seen if (found := _in_space(measured, part)) is not None)


def _in_space(measured: MeasuredCase, seen: BoneDeformity) -> SpatialDeformity | None:
    if seen.frontal is None or seen.sagittal is None:
        return None
    sagittal = seen.sagittal.total
    if seen.bone is Bone.FEMUR:
        if seen.other_bow is None:
            return None
        sagittal = replace(sagittal, value=sagittal.value - seen.other_bow.value)
    return SpatialDeformity(
        bone=seen.bone, oblique=oblique_angulation(seen.frontal.total, sagittal), turn=_turn(measured, seen)
    )


def _turn(measured: MeasuredCase, seen: BoneDeformity) -> Turn | None:
    frontal = seen.frontal.resolution if seen.frontal else None
    sagittal = seen.sagittal.resolution if seen.sagittal else None
    if seen.bone is Bone.FEMUR or frontal is None or sagittal is None:
        return None
    level, other = frontal.from_proximal_joint, sagittal.from_proximal_joint
    if level is None or other is None:
        return None
    views = measured.treated.views
    return turn_of_apexes(
        views.need(Projection.FRONTAL),
        frontal,
        views.need(Projection.SAGITTAL),
        sagittal,
        from_proximal_joint_mm=level.value,
    )
