"""Room for the pins of a bone: outline and nail path from the side, and levels to keep clear of."""

import numpy as np

from limbwright.limb.anatomy import Fragment, Projection
from limbwright.plan.canal import outer_edges_mm
from limbwright.plan.circumstances import Examination
from limbwright.plan.decision import BonePlan
from limbwright.plan.hardware_limits import hardware_limits
from limbwright.plan.leg import LegModel
from limbwright.plan.osteotomy import bone_line
from limbwright.plan.path import distal_direction, vector
from limbwright.plan.pins import PinLevels, SagittalRoom
from limbwright.plan.theatre import level_scale
from limbwright.practice.profile import Profile

_STEP_MM = 2.0


def pin_levels(leg: LegModel, plan: BonePlan, examination: Examination, profile: Profile) -> PinLevels:
    """Osteotomies, nail tip, and what hardware leaves free of one bone."""
    length = bone_line(leg, plan.bone).length_mm
    limits = hardware_limits(bone=plan.bone, length_mm=length, hardware=examination.hardware, profile=profile)
    return PinLevels(
        bone_length_mm=length,
        osteotomies_mm=tuple(sorted(cut.below_joint_mm for cut in plan.osteotomies())),
        nail_tip_mm=level_scale(plan).below_joint_mm(plan.nail.length_mm),
        free=limits.pins if examination.hardware else None,
    )


def room_at(leg: LegModel, plan: BonePlan, fragment: Fragment, level_mm: float) -> SagittalRoom | None:
    """Outline and nail path of a fragment at one level; None where its outer edges are not traced."""
    if not leg.has_sagittal:
        return None
    line, path = bone_line(leg, plan.bone), plan.path.of(fragment)
    upper, along = vector(path.upper), distal_direction(path)
    per_mm = float(along @ line.direction())
    point = upper + along * (level_mm - line.below_joint_mm(upper)) / per_mm
    edges = outer_edges_mm(leg, plan.bone, Projection.SAGITTAL, point, along)
    if edges is None or not edges[0] < 0 < edges[1]:
        return None
    return SagittalRoom(
        below_joint_mm=level_mm,
        path_anterior_mm=0.0,
        anterior_border_mm=edges[1],
        posterior_border_mm=edges[0],
    )


def first_room(
    leg: LegModel, plan: BonePlan, fragment: Fragment, *, from_mm: float, to_mm: float
) -> SagittalRoom | None:
    """The room where the outer edges are first traced on the way from the joint to the cut."""
    step = _STEP_MM if to_mm > from_mm else -_STEP_MM
    levels = np.arange(from_mm, to_mm, step)
    return next(
        (r for level in levels if (r := room_at(leg, plan, fragment, float(level))) is not None), None
    )
