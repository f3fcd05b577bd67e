"""The leg at one moment of a plan, quickly: values, cut faces, motions of the fragments, drawings."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from limbwright.case.planned import wanted_at_end
from limbwright.finding import ordered
from limbwright.interop.plain import directed_plain, finding_plain
from limbwright.interop.plain_plan import cut_faces_plain, pin_plain, second_plain
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.landmark import Landmark
from limbwright.limb.reading import Measure, Reading
from limbwright.limb.view import View
from limbwright.plan.decision import BonePlan, Plan
from limbwright.plan.drawing import (
    Drawing,
    cut_shapes,
    drawing,
    film_to_stage,
    fragment_depth_mm,
    nail_line_shapes,
    poses,
    put_together,
)
from limbwright.plan.drawn_nail import Pose, blocking_shapes, nail_shapes, pin_shapes
from limbwright.plan.leg import LegModel
from limbwright.plan.motion import PROXIMAL, Motion
from limbwright.plan.nail_fit import NailDemand, NailVerdict, nail_verdict
from limbwright.plan.outlook_finding import GEOMETRY_IDS, face_findings, target_findings
from limbwright.plan.path import crossing, distal_direction, vector
from limbwright.plan.planner import PlannedBone
from limbwright.plan.planner_rules import nail_rules
from limbwright.plan.reduction import Reduction, lengthening_of, reductions_of
from limbwright.plan.route import Route, canals_on
from limbwright.plan.stage import CutFaces, StageName, cut_faces
from limbwright.practice.profile import Profile
from limbwright.quantity import (
    LONGER_SHORTER,
    directed,
)
from limbwright.web.work.drawn import drawing_plain, matrix_plain
from limbwright.web.work.quick import quick_readings, short_plain
from limbwright.web.work.state import WorkState

_IN_PLANE = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
_STAND = (Landmark.FEMORAL_HEAD_CENTRE, Landmark.ANKLE_CENTRE)


@dataclass(frozen=True, slots=True, kw_only=True)
class At:
    """A moment by stage and length gained."""

    stage: StageName
    gained_mm: Mapping[Bone, float] | None = None


def bare_leg(leg: LegModel) -> LegModel:
    """The leg with only what decides how it stands: hip and ankle, and the cuts' own joint centres."""
    keep = {*_STAND, Landmark.FEMUR_KNEE_CENTRE, Landmark.TIBIA_KNEE_CENTRE}
    return replace(
        leg,
        frontal={k: v for k, v in leg.frontal.items() if k in keep},
        sagittal={k: v for k, v in leg.sagittal.items() if k in keep},
        walls=(),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Stood:
    """A leg put together at one moment: the poses of its planned bones, and its points where they are."""

    poses: tuple[tuple[BonePlan, Pose], ...]
    """From proximal to distal."""
    leg: LegModel
    """The moved leg, without walls."""


def stood(leg: LegModel, plan: Plan, at: At) -> Stood:
    """The leg at a moment, worked out once for values, drawings and motions."""
    where = poses(bare_leg(leg), plan, at.stage, gained_mm=at.gained_mm)
    ordered = tuple((b, where[b.bone]) for b in _from_proximal(plan))
    without_walls = replace(leg, walls=())
    if not ordered or at.stage is StageName.AS_IT_STANDS:
        return Stood(poses=ordered, leg=without_walls)
    return Stood(poses=ordered, leg=put_together(without_walls, where))


def _from_proximal(plan: Plan) -> list[BonePlan]:
    return sorted(plan.bones, key=lambda b: b.bone is not Bone.FEMUR)


def values_of(stood_leg: LegModel, *, age_years: float) -> list[Reading]:
    """Measured values of a leg, without uncertainty, in the order of `Measure`."""
    found: dict[Measure, Reading] = {}
    for view in stood_leg.views():
        if view is not None:
            for reading in quick_readings(view, age_years=age_years):
                found.setdefault(reading.measure, reading)
    return [found[m] for m in Measure if m in found]


def quick_drawing(leg: LegModel, standing: Stood, projection: Projection, stage: StageName) -> Drawing:
    """What a drag draws: lines and marks of the moved leg, cuts, nail and screws; no walls."""
    bare = Plan(side=leg.side, bones=(), staging=None, steps=(), findings=())
    lines = drawing(standing.leg, bare, projection, StageName.AS_IT_STANDS)
    shapes = list(lines.shapes)
    for bone, pose in standing.poses:
        shapes += cut_shapes(leg, bone, pose, projection)
        if stage is StageName.AS_IT_STANDS:
            shapes += nail_line_shapes(bone, projection)
        else:
            shapes += [*nail_shapes(bone, pose, projection), *blocking_shapes(bone, pose, projection)]
        if stage is not StageName.FULL_LENGTH:
            shapes += pin_shapes(leg, bone, pose, projection)
    gained = sum(pose.gained_mm for _, pose in standing.poses)
    return replace(lines, stage=stage, gained_mm=gained, shapes=tuple(shapes))


def fragments_of(plan: Plan) -> list[str]:
    """Names of the fragments, from proximal to distal."""
    names = ["above"]
    for bone in _from_proximal(plan):
        names += (
            [f"below {bone.bone}"] if bone.second is None else [f"middle {bone.bone}", f"below {bone.bone}"]
        )
    return names


def motions_at(leg: LegModel, plan: Plan, at: At) -> dict[str, Any]:
    """Maps of every fragment from where it stands to where it is at a moment, plane by plane, (2, 3) each."""
    where = poses(bare_leg(leg), plan, at.stage, gained_mm=at.gained_mm)
    return _motions([where[b.bone] for b in _from_proximal(plan)], has_sagittal=leg.has_sagittal)


def _motions(ordered: list[Pose], *, has_sagittal: bool) -> dict[str, Any]:
    found: dict[str, Any] = {p.value: None for p in Projection}
    for projection in (Projection.FRONTAL, *([Projection.SAGITTAL] if has_sagittal else [])):
        found[projection.value] = [
            matrix_plain(
                film_to_stage(_IN_PLANE, (0.0, 0.0), motion, projection, fragment_depth_mm(cut, projection))
            )
            for motion, cut in _fragments(ordered)
        ]
    return found


def _fragments(ordered: list[Pose]) -> list[tuple[Motion, Reduction]]:
    """Every fragment's motion with the cut at its upper end; the first with the cut at its lower end."""
    if not ordered:
        return []
    below = [pair for pose in ordered for pair in zip(pose.motions[1:], pose.reductions, strict=True)]
    return [(ordered[0].proximal, ordered[0].reductions[0]), *below]


def drawings_at(leg: LegModel, plan: Plan, at: At, *, walls: bool = True) -> dict[str, Any]:
    """Drawings of both planes at a moment; None for a plane that is not known."""
    return {
        projection.value: drawing_plain(
            drawing(leg, plan, projection, at.stage, gained_mm=at.gained_mm), walls=walls
        )
        if projection is Projection.FRONTAL or leg.has_sagittal
        else None
        for projection in Projection
    }


def verdict_of(leg: LegModel, plan: BonePlan, proposal: PlannedBone, profile: Profile) -> NailVerdict | None:
    """The plan's own nail judged on the plan's own line; None when no line was found."""
    if proposal.route is None:
        return None
    cut = lengthening_of(plan).cut
    route = replace(proposal.route, proximal=plan.path.proximal, distal=plan.path.distal, cut=cut)
    depth = plan.osteotomy.depth_mm
    demand = NailDemand(
        osteotomy_depth_mm=depth,
        lengthening_mm=plan.lengthening_mm,
        room_mm=depth + proposal.route.cut_to_far_end_mm + _nearer_by_mm(proposal.route, route),
        second_depth_mm=None if plan.second is None else plan.second.osteotomy.depth_mm,
    )
    return nail_verdict(
        plan.nail, demand=demand, rules=nail_rules(profile), canals=canals_on(leg, route, depth)
    )


def _nearer_by_mm(before: Route, after: Route) -> float:
    """How much farther the far end of the bone is from the cut than it was. [mm]"""
    antegrade = before.direction.value == "antegrade"
    path = before.distal if antegrade else before.proximal
    onward = distal_direction(path) * (1.0 if antegrade else -1.0)
    crossings = [
        crossing(
            vector((r.distal if antegrade else r.proximal).upper),
            distal_direction(r.distal if antegrade else r.proximal),
            r.cut.point_mm,
            r.cut.normal,
        )
        for r in (before, after)
    ]
    return float((crossings[0] - crossings[1]) @ onward)


def verdict_plain(verdict: NailVerdict | None) -> dict[str, Any] | None:
    """A nail's verdict with its numbers."""
    if verdict is None:
        return None
    return {
        "nail": verdict.nail.name,
        "fits": verdict.fits,
        "reasons": list(verdict.reasons),
        "numbers": [{"name": n.name, "value": round(n.value, 3), "unit": n.unit} for n in verdict.numbers],
    }


def dragged_plain(
    state: WorkState,
    plan: BonePlan,
    *,
    proposal: PlannedBone,
    bone_leg: LegModel,
    at: At,
    only: Projection | None = None,
) -> dict[str, Any]:
    """What follows from one bone's changed plan: the end, the cut, the nail, the drawings of a stage.

    `bone_leg` holds the bone's own walls; the nail is judged by them alone. `only` draws one plane.
    """
    planned = state.planned
    if planned is None or planned.plan is None:
        raise TypeError("a drag of a plan needs a plan")
    whole = replace(planned.plan, bones=tuple(plan if b.bone is plan.bone else b for b in planned.plan.bones))
    leg, full = planned.leg, At(stage=StageName.FULL_LENGTH)
    at_end = stood(leg, whole, full)
    shown = at_end if at == full else stood(leg, whole, at)
    end = values_of(at_end.leg, age_years=planned.measured.age_years)
    faces = [cut_faces(leg, r) for _, pose in at_end.poses for r in pose.reductions]
    return {
        "end": [short_plain(reading) for reading in end],
        "length_against_other_leg": _against_other(state, end),
        "cut_faces": [cut_faces_plain(face) for face in faces],
        "findings": _geometry_findings(state, at_end.leg, end, faces),
        "nail_offer": verdict_plain(verdict_of(bone_leg, plan, proposal, state.practice.profile)),
        "bone": bone_plain(plan),
        "drawings": {
            p.value: drawing_plain(quick_drawing(leg, shown, p, at.stage))
            if (p is Projection.FRONTAL or leg.has_sagittal) and only in (None, p)
            else None
            for p in Projection
        },
        "fragments": fragments_of(whole),
        "motions": _motions([pose for _, pose in shown.poses], has_sagittal=leg.has_sagittal),
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class _QuickEnd:
    """The leg at the end by its quick readings."""

    sagittal: View | None
    readings: Mapping[Measure, Reading]

    def value(self, measure: Measure) -> float | None:
        """One measured value; None when it was not measured."""
        reading = self.readings.get(measure)
        return None if reading is None else reading.value.value


def _geometry_findings(
    state: WorkState, end_leg: LegModel, end: list[Reading], faces: list[CutFaces]
) -> dict[str, Any]:
    """What the changed geometry gives to weigh now, and the rules it stands in the place of."""
    planned, profile = state.planned, state.practice.profile
    found = [f for face in faces for f in face_findings(face, profile)]
    if planned is not None:
        quick = _QuickEnd(sagittal=end_leg.views()[1], readings={r.measure: r for r in end})
        found += target_findings(quick, wanted_at_end(state.case, planned), profile)
    return {"renewed": sorted(GEOMETRY_IDS), "now": [finding_plain(f) for f in ordered(tuple(found))]}


def _against_other(state: WorkState, end: list[Reading]) -> dict[str, Any] | None:
    """Length against the other leg at the end: what was planned, and by how much the leg's length differs."""
    outlook = None if state.planned is None else state.planned.outlook
    length = next((r.value.value for r in end if r.measure is Measure.LEG_LENGTH), None)
    if outlook is None or length is None:
        return None
    stage = outlook.stage(StageName.FULL_LENGTH)
    total = stage.discrepancy.total if stage.discrepancy else None
    before = stage.value(Measure.LEG_LENGTH)
    if total is None or before is None:
        return None
    return directed_plain(directed(total.value + length - before, unit="mm", senses=LONGER_SHORTER))


def bone_plain(plan: BonePlan) -> dict[str, Any]:
    """The decisions of one bone that can be dragged."""
    cut = plan.osteotomy
    return {
        "bone": plan.bone.value,
        "direction": plan.direction.value,
        "approach": plan.approach.value,
        "lengthening_mm": plan.lengthening_mm,
        "osteotomy": {
            "depth_mm": round(cut.depth_mm, 2),
            "below_joint_mm": round(cut.below_joint_mm, 2),
            "above_distal_joint_mm": round(cut.above_distal_joint_mm, 2),
            "off_apex_mm": None if cut.off_apex_mm is None else round(cut.off_apex_mm, 2),
        },
        "nail": {
            "name": plan.nail.name,
            "thick_diameter_mm": plan.nail.thick_diameter_mm,
            "thin_diameter_mm": plan.nail.thin_diameter_mm,
            "length_mm": plan.nail.length_mm,
            "stroke_mm": plan.nail.stroke_mm,
        },
        "reamer_mm": plan.reamer_mm,
        "second": second_plain(plan),
        "blocking_screws": [
            {
                "fragment": s.fragment.value,
                "side": s.side.value,
                "direction": s.direction.value,
                "depth_mm": round(s.depth_mm, 2),
                "from_osteotomy_mm": round(s.from_osteotomy_mm, 2),
                "offset_mm": round(s.offset_mm, 2),
                "diameter_mm": s.diameter_mm,
                "drill_mm": s.drill_mm,
            }
            for s in plan.blocking_screws
        ],
        "pins": [pin_plain(pin) for pin in plan.pins],
    }


def cut_lines(plan: Plan) -> list[dict[str, Any]]:
    """Where bones are cut, as they stand, from proximal to distal: point and direction in both planes."""
    found = []
    for bone in _from_proximal(plan):
        for reduced in reductions_of(bone):
            cut = reduced.cut
            planes = {}
            for projection, across in ((Projection.FRONTAL, 2), (Projection.SAGITTAL, 0)):
                normal = np.array([cut.normal[across], cut.normal[PROXIMAL]])
                along = np.array([normal[1], -normal[0]]) / float(np.linalg.norm(normal))
                planes[projection.value] = {
                    "point_mm": [round(cut.point_mm[across], 3), round(cut.point_mm[PROXIMAL], 3)],
                    "along_mm": [round(float(x), 6) for x in along],
                }
            found.append({"bone": bone.bone.value, "lengthens": reduced.lengthens, **planes})
    return found
