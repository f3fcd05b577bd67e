"""The leg, nail and screws as lines in millimetres for report and screen, at any moment of lengthening.

Points are (across, proximal) in the limb plane frame of the leg model: across is lateral + on a frontal and
anterior + on a sagittal drawing, origin at the tibial knee centre as it stands.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.landmark import Landmark
from limbwright.limb.view import Surface
from limbwright.plan.canal import ACROSS, outer_edges_mm
from limbwright.plan.cut import assembled, cut_leg
from limbwright.plan.decision import BonePlan, Plan
from limbwright.plan.drawn_nail import Pose, blocking_shapes, nail_shapes, pin_shapes
from limbwright.plan.drift import Drift
from limbwright.plan.end_alignment import bone_progress, chained, standing
from limbwright.plan.leg import JOINT_CENTRES, LegModel
from limbwright.plan.motion import PROXIMAL, STAY, Floats, Motion
from limbwright.plan.osteotomy import bone_line
from limbwright.plan.path import vector
from limbwright.plan.reduction import Reduction, reductions_of
from limbwright.plan.shape import Shape, ShapeKind, flat
from limbwright.plan.stage import StageName
from limbwright.quantity import Value

_CUT_HALF_MM = 25.0  # drawn half-width of an osteotomy where the bone's width is not known
_JOINT_LINES = {
    Projection.FRONTAL: (
        ("distal femoral line", Landmark.MEDIAL_FEMORAL_CONDYLE, Landmark.LATERAL_FEMORAL_CONDYLE),
        ("proximal tibial line", Landmark.MEDIAL_PLATEAU, Landmark.LATERAL_PLATEAU),
        ("ankle line", Landmark.MEDIAL_PLAFOND, Landmark.LATERAL_PLAFOND),
        ("hip line", Landmark.GREATER_TROCHANTER_TIP, Landmark.FEMORAL_HEAD_CENTRE),
    ),
    Projection.SAGITTAL: (
        (
            "distal femoral line",
            Landmark.DISTAL_FEMORAL_PHYSIS_POSTERIOR,
            Landmark.DISTAL_FEMORAL_PHYSIS_ANTERIOR,
        ),
        ("proximal tibial line", Landmark.PLATEAU_POSTERIOR, Landmark.PLATEAU_ANTERIOR),
        ("ankle line", Landmark.PLAFOND_POSTERIOR, Landmark.PLAFOND_ANTERIOR),
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing(Value):
    """One plane at one moment."""

    projection: Projection
    """Plane."""
    stage: StageName
    """Moment."""
    gained_mm: float
    """Length gained in all bones together [mm]."""
    shapes: tuple[Shape, ...]
    """What to draw, in drawing order."""

    def of_kind(self, kind: ShapeKind) -> tuple[Shape, ...]:
        """Shapes of one kind."""
        return tuple(s for s in self.shapes if s.kind is kind)


def poses(
    leg: LegModel,
    plan: Plan,
    stage: StageName,
    *,
    gained_mm: Mapping[Bone, float] | None = None,
    drifts: Mapping[Bone, Drift] | None = None,
) -> Mapping[Bone, Pose]:
    """Where the fragments of every planned bone are, the leg standing (`end_alignment.standing`).

    Parameters
    ----------
    leg : LegModel
        The treated leg as it stands.
    gained_mm : mapping, optional
        Length gained per bone; none when corrected, all of it at full length unless given. [mm]
    drifts : mapping, optional
        Drift of each bone at that moment.
    """
    found: dict[Bone, Pose] = {}
    above = STAY
    for bone in sorted(plan.bones, key=lambda b: b.bone is not Bone.FEMUR):
        reduced = reductions_of(bone)
        if stage is StageName.AS_IT_STANDS:
            still = (STAY,) * (len(reduced) + 1)
            found[bone.bone] = Pose(reductions=reduced, motions=still, gained_mm=0.0)
            continue
        full = bone.lengthening_mm if stage is StageName.FULL_LENGTH else 0.0
        gained = (gained_mm or {}).get(bone.bone, full)
        own = chained(p.motion() for p in bone_progress(reduced, gained, (drifts or {}).get(bone.bone)))
        found[bone.bone] = Pose(
            reductions=reduced, motions=tuple(m.then(above) for m in own), gained_mm=gained
        )
        above = found[bone.bone].distal
    if stage is StageName.AS_IT_STANDS:
        return found
    up = standing(leg, put_together(leg, found))
    return {
        bone: replace(pose, motions=tuple(m.then(up) for m in pose.motions)) for bone, pose in found.items()
    }


def put_together(leg: LegModel, at: Mapping[Bone, Pose]) -> LegModel:
    """The leg from its parts in their poses."""
    ordered = [at[b] for b in (Bone.FEMUR, Bone.TIBIA) if b in at]
    if not ordered:
        return leg
    parts = cut_leg(leg, [r.cut for pose in ordered for r in pose.reductions])
    return assembled(parts, [ordered[0].proximal, *(m for pose in ordered for m in pose.motions[1:])])


def drawing(
    leg: LegModel,
    plan: Plan,
    projection: Projection,
    stage: StageName,
    *,
    gained_mm: Mapping[Bone, float] | None = None,
    drifts: Mapping[Bone, Drift] | None = None,
) -> Drawing:
    """Everything to draw of a leg in one plane at one moment.

    Parameters
    ----------
    leg : LegModel
        The treated leg as it stands.
    gained_mm, drifts
        As in `poses`; with them any day of lengthening is drawn.
    """
    if projection is Projection.SAGITTAL:
        leg.require_sagittal("a sagittal drawing")
    at = poses(leg, plan, stage, gained_mm=gained_mm, drifts=drifts)
    shown = leg if stage is StageName.AS_IT_STANDS else put_together(leg, at)
    shapes = [*_walls(shown, projection), *_lines(shown, projection)]
    for bone in plan.bones:
        pose = at[bone.bone]
        shapes += cut_shapes(leg, bone, pose, projection)
        if stage is StageName.AS_IT_STANDS:
            shapes += [*nail_line_shapes(bone, projection), *_apexes(leg, bone, projection)]
        else:
            shapes += [*nail_shapes(bone, pose, projection), *blocking_shapes(bone, pose, projection)]
        if stage is not StageName.FULL_LENGTH:  # the fixator comes off once the nail is locked
            shapes += pin_shapes(leg, bone, pose, projection)
    return Drawing(
        projection=projection,
        stage=stage,
        gained_mm=sum(pose.gained_mm for pose in at.values()),
        shapes=tuple(shapes),
    )


def _walls(leg: LegModel, projection: Projection) -> list[Shape]:
    return [
        Shape(
            kind=ShapeKind.INNER_WALL if w.surface is Surface.INNER else ShapeKind.OUTER_WALL,
            points_mm=flat(w.array(), projection),
            label=f"{w.border} {w.surface} edge of the {w.bone}",
            bone=w.bone,
            fragment=w.fragment,
        )
        for w in leg.walls
        if w.projection is projection
    ]


def _lines(leg: LegModel, projection: Projection) -> list[Shape]:
    points = leg.points(projection)
    wanted = [(ShapeKind.JOINT_LINE, *line) for line in _JOINT_LINES[projection]]
    wanted += [
        (ShapeKind.BONE_AXIS, f"axis of the {bone}", *centres) for bone, centres in JOINT_CENTRES.items()
    ]
    wanted.append(
        (
            ShapeKind.MECHANICAL_AXIS,
            "mechanical axis of the leg",
            Landmark.FEMORAL_HEAD_CENTRE,
            Landmark.ANKLE_CENTRE,
        )
    )
    lines = [
        Shape(kind=kind, points_mm=flat([points[a].array(), points[b].array()], projection), label=label)
        for kind, label, a, b in wanted
        if a in points and b in points
    ]
    marks = [
        Shape(kind=ShapeKind.LANDMARK, points_mm=flat(p.array(), projection), label=landmark.value)
        for landmark, p in points.items()
    ]
    return lines + marks


def cut_shapes(leg: LegModel, plan: BonePlan, pose: Pose, projection: Projection) -> list[Shape]:
    """Both faces of every cut of a bone; one line while they lie on each other.

    Parameters
    ----------
    leg : LegModel
        The leg as it stands; its outer edges give the width of the bone.
    """
    shapes = []
    for reduced, fragment in pose.faces():
        cut = reduced.cut
        normal = np.array(cut.normal)
        across = np.zeros(3)
        across[ACROSS[projection]] = 1.0
        across -= (across @ normal) * normal
        edges = outer_edges_mm(leg, plan.bone, projection, cut.point_mm, -normal)
        face = np.array(cut.point_mm) + np.outer(edges or (-_CUT_HALF_MM, _CUT_HALF_MM), across)
        name = "osteotomy" if reduced.lengthens else "second osteotomy"
        shapes.append(
            Shape(
                kind=ShapeKind.OSTEOTOMY,
                points_mm=flat(pose.of(fragment).moved(face), projection),
                label=f"{name} of the {plan.bone}, {fragment} face",
                bone=plan.bone,
                fragment=fragment,
            )
        )
    return shapes


def nail_line_shapes(plan: BonePlan, projection: Projection) -> list[Shape]:
    """The nail's line in every fragment as it stands."""
    lines = (plan.path.proximal, plan.path.middle, plan.path.distal)
    return [
        Shape(
            kind=ShapeKind.NAIL_LINE,
            points_mm=flat([vector(path.upper), vector(path.lower)], projection),
            label=f"nail's line in the {path.fragment} fragment of the {plan.bone}",
            bone=plan.bone,
            fragment=path.fragment,
        )
        for path in lines
        if path is not None
    ]


def _apexes(leg: LegModel, plan: BonePlan, projection: Projection) -> list[Shape]:
    """The level of each apex that an osteotomy corrects."""
    return [
        Shape(
            kind=ShapeKind.APEX,
            points_mm=flat(
                bone_line(leg, plan.bone).point_mm(cut.below_joint_mm - cut.off_apex_mm), projection
            ),
            label=f"level of the apex of the {plan.bone}",
            bone=plan.bone,
        )
        for cut in plan.osteotomies()
        if cut.off_apex_mm is not None
    ]


def film_to_stage(
    limb_from_film: npt.ArrayLike,
    knee_centre: tuple[float, float],
    motion: Motion,
    projection: Projection,
    depth_mm: float,
) -> Floats:
    """Affine map from film pixels to a fragment's place at one moment, (2, 3).

    Parameters
    ----------
    limb_from_film : (2, 3) array
        Map from (x, y, 1) in pixels to (across, proximal) of the view the leg was made of. [px → mm]
    knee_centre : pair of float
        Tibial knee centre in that view, where the leg frame has its origin. [mm]
    motion : Motion
        Motion of the fragment from where it stands (`poses`).
    depth_mm : float
        Coordinate the film does not show, taken at the osteotomy for the whole fragment. [mm]

    Notes
    -----
    A film has no depth: points nearer or farther than `depth_mm` are off by the sine of the turn in the other
    plane times that distance. For pictures only; measurements use the landmarks.
    """
    across = ACROSS[projection]
    hidden = 3 - across - PROXIMAL
    shown = [across, PROXIMAL]
    affine = np.asarray(limb_from_film, dtype=float).copy()
    affine[:, 2] -= knee_centre
    rotation = motion.matrix()
    turned: Floats = rotation[np.ix_(shown, shown)] @ affine
    turned[:, 2] += rotation[shown, hidden] * depth_mm + motion.offset_mm()[shown]
    return turned


def fragment_depth_mm(reduced: Reduction, projection: Projection) -> float:
    """Depth of the osteotomy in a plane, for `film_to_stage`. [mm]"""
    return float(reduced.cut.point_mm[3 - ACROSS[projection] - PROXIMAL])
