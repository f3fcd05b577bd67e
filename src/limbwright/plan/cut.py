"""Cutting a leg at an osteotomy, and putting the moved fragments together again."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from limbwright.error import OutOfRange
from limbwright.limb.anatomy import Bone, Fragment
from limbwright.limb.landmark import Landmark, bone_of
from limbwright.plan.leg import JOINT_CENTRES, SHAFT_POINTS, LegModel, LegPoint, LegWall
from limbwright.plan.motion import PROXIMAL, Floats, Motion, Triple
from limbwright.quantity import Value

_PROXIMAL_END = frozenset(
    {
        Landmark.FEMORAL_HEAD_CENTRE,
        Landmark.GREATER_TROCHANTER_TIP,
        Landmark.FEMORAL_NECK_CENTRE,
        Landmark.TIBIA_KNEE_CENTRE,
        Landmark.MEDIAL_PLATEAU,
        Landmark.LATERAL_PLATEAU,
        Landmark.PLATEAU_ANTERIOR,
        Landmark.PLATEAU_POSTERIOR,
        # The proximal tibiofibular screw holds the fibular head to the proximal fragment.
        Landmark.FIBULAR_HEAD_TIP,
    }
)
_DISTAL_END = frozenset(
    {
        Landmark.MEDIAL_FEMORAL_CONDYLE,
        Landmark.LATERAL_FEMORAL_CONDYLE,
        Landmark.DISTAL_FEMORAL_PHYSIS_ANTERIOR,
        Landmark.DISTAL_FEMORAL_PHYSIS_POSTERIOR,
        Landmark.FEMUR_KNEE_CENTRE,
        Landmark.MEDIAL_PLAFOND,
        Landmark.LATERAL_PLAFOND,
        Landmark.PLAFOND_ANTERIOR,
        Landmark.PLAFOND_POSTERIOR,
        Landmark.ANKLE_CENTRE,
        Landmark.LATERAL_MALLEOLUS_TIP,
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut(Value):
    """The plane in which a bone is cut, in the leg as it stands."""

    bone: Bone
    """Bone that is cut; with the tibia the fibula is cut too."""
    point_mm: Triple
    """A point of the plane, on the nail's line: anterior, proximal, lateral [mm]."""
    normal: Triple
    """Unit normal, toward the proximal fragment."""

    def height_mm(self, points_mm: Floats) -> Floats:
        """Signed distance from the plane, toward the proximal fragment +, (..., 3) to (...). [mm]"""
        height: Floats = (points_mm - np.array(self.point_mm)) @ np.array(self.normal)
        return height


def split(leg: LegModel, cut: Cut) -> tuple[LegModel, LegModel]:
    """The part of a leg above a cut and the part below, with everything that hangs on each.

    The ends of a bone go with their fragment by name, shaft points by their side of the cut. A pair of shaft
    points with the cut between them names one line: a proximal pair stays with the proximal fragment, a
    distal pair goes with the distal one, and a middle pair belongs to neither and is left out.

    Raises
    ------
    OutOfRange
        If the cut does not pass between the bone's two joint centres.
    """
    upper, lower = JOINT_CENTRES[cut.bone]
    for centre, beyond in ((upper, -1.0), (lower, 1.0)):
        if leg.has(centre) and float(cut.height_mm(leg.place_mm(centre))) * beyond >= 0:
            raise OutOfRange(
                f"the cut at level {cut.point_mm[PROXIMAL]:.1f} mm does not pass between the joints of the "
                f"{cut.bone}.",
                where=f"{leg.side} leg, {cut.bone}",
                next_step="Move the osteotomy between the bone's two joint lines.",
            )
    above, below = (
        replace(
            leg,
            frontal=_chosen(leg.frontal, cut, fragment),
            sagittal=_chosen(leg.sagittal, cut, fragment),
            walls=tuple(w for wall in leg.walls for w in _part(wall, cut, fragment)),
        )
        for fragment in (Fragment.PROXIMAL, Fragment.DISTAL)
    )
    return above, below


def cut_leg(leg: LegModel, cuts: Sequence[Cut]) -> tuple[LegModel, ...]:
    """Parts of a leg from proximal to distal, one more than cuts; cuts from proximal to distal.

    Walls of a bone between two cuts of it belong to its middle fragment.
    """
    parts = []
    rest = leg
    for i, cut in enumerate(cuts):
        above, rest = split(rest, cut)
        parts.append(above if not i or cuts[i - 1].bone is not cut.bone else _middle(above, cut.bone))
    return (*parts, rest)


def _middle(part: LegModel, bone: Bone) -> LegModel:
    own = {bone, Bone.FIBULA} if bone is Bone.TIBIA else {bone}
    return replace(
        part,
        walls=tuple(replace(w, fragment=Fragment.MIDDLE) if w.bone in own else w for w in part.walls),
    )


def assembled(parts: Sequence[LegModel], motions: Sequence[Motion]) -> LegModel:
    """The leg put together from its parts, each moved; the first motion belongs to the first part."""
    moved = [part.moved(motion) for part, motion in zip(parts, motions, strict=True)]
    return replace(
        moved[0],
        frontal={k: v for part in moved for k, v in part.frontal.items()},
        sagittal={k: v for part in moved for k, v in part.sagittal.items()},
        walls=tuple(wall for part in moved for wall in part.walls),
    )


def _chosen(points: Mapping[Landmark, LegPoint], cut: Cut, fragment: Fragment) -> dict[Landmark, LegPoint]:
    return {k: p for k, p in points.items() if _fragment_of(k, points, cut) is fragment}


def _fragment_of(landmark: Landmark, points: Mapping[Landmark, LegPoint], cut: Cut) -> Fragment | None:
    """Fragment a landmark moves with; None for a middle shaft line that the cut runs through."""
    bone = bone_of(landmark)
    if cut.bone is Bone.FEMUR and bone is not Bone.FEMUR:
        return Fragment.DISTAL
    if cut.bone is Bone.TIBIA and bone is Bone.FEMUR:
        return Fragment.PROXIMAL
    if landmark in _PROXIMAL_END:
        return Fragment.PROXIMAL
    if landmark in _DISTAL_END:
        return Fragment.DISTAL
    side = _side(points[landmark], cut)
    shaft = SHAFT_POINTS[cut.bone]
    if landmark in shaft:
        place = shaft.index(landmark)
        partner = points.get(shaft[place ^ 1])
        if partner is not None and _side(partner, cut) is not side:
            return (Fragment.PROXIMAL, None, Fragment.DISTAL)[place // 2]
    return side


def _side(point: LegPoint, cut: Cut) -> Fragment:
    return Fragment.PROXIMAL if float(cut.height_mm(point.array())) >= 0 else Fragment.DISTAL


def _part(wall: LegWall, cut: Cut, fragment: Fragment) -> tuple[LegWall, ...]:
    """The part of a wall that belongs to a fragment, ending exactly at the cut; empty when none does."""
    if wall.bone is not cut.bone and not (wall.bone is Bone.FIBULA and cut.bone is Bone.TIBIA):
        hangs_below = cut.bone is Bone.FEMUR
        return (wall,) if hangs_below is (fragment is Fragment.DISTAL) else ()
    points = wall.array()
    height = cut.height_mm(points)
    inside = height >= 0 if fragment is Fragment.PROXIMAL else height < 0
    if not inside.any():
        return ()
    kept = []
    for i, point in enumerate(points):
        if i and inside[i] != inside[i - 1]:
            share = height[i - 1] / (height[i - 1] - height[i])
            kept.append(points[i - 1] + share * (point - points[i - 1]))
        if inside[i]:
            kept.append(point)
    return (replace(wall.with_points(np.array(kept)), fragment=fragment),)
