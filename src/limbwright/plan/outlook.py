"""What a plan leads to: the leg as it stands, corrected, and at full length, measured like the films.

Geometry only: the fragments are rigid and follow the nail. Drift enters as a motion that a drift model gives;
without one the full length is shown as planned.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from limbwright.finding import Finding, ordered
from limbwright.limb.anatomy import Bone
from limbwright.limb.reading import Measure
from limbwright.limb.view import View
from limbwright.plan.agreement import films_disagree
from limbwright.plan.decision import Plan
from limbwright.plan.drift import Drift
from limbwright.plan.end_alignment import (
    FemoralAxisShift,
    Progress,
    bone_progress,
    femoral_axis_shift,
    moved_leg,
    standing,
)
from limbwright.plan.leg import LegModel
from limbwright.plan.outlook_finding import (
    axis_findings,
    face_findings,
    knee_findings,
    no_sagittal_film,
    target_findings,
)
from limbwright.plan.reduction import reductions_of
from limbwright.plan.stage import CutFaces, LegStage, StageName, cut_faces, leg_stage
from limbwright.practice.profile import Profile
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook(Value):
    """What a plan leads to."""

    stages: tuple[LegStage, ...]
    """As it stands, corrected, at full length."""
    cut_faces: tuple[CutFaces, ...]
    """One for each osteotomy: bones in the plan's order, a bone's own from proximal to distal."""
    axis_shift: FemoralAxisShift | None
    """What lengthening the femur along its anatomical axis does by itself; None without a femur."""
    findings: tuple[Finding, ...]
    """What to weigh, worst first."""

    def stage(self, name: StageName) -> LegStage:
        """One of the stages."""
        return next(s for s in self.stages if s.name is name)


def outlook(
    leg: LegModel,
    other_leg: View | None,
    plan: Plan,
    profile: Profile,
    *,
    age_years: float,
    targets: Mapping[Measure, float] | None = None,
    drifts: Mapping[Bone, Drift] | None = None,
    foot_difference_mm: float | None = None,
    knee_height_counts: bool = True,
) -> Outlook:
    """Carry a plan out on the leg and measure what comes of it.

    Parameters
    ----------
    leg : LegModel
        The treated leg as it stands.
    other_leg : View or None
        Frontal view of the other leg.
    plan : Plan
        One plan per bone at most.
    age_years : float
        Age, for the normal ranges. [years]
    targets : mapping, optional
        Wanted values at the end; deviations beyond the profile's tolerances become findings.
    drifts : mapping, optional
        Drift of each bone at full length, from whatever model; none is added unless given.
    foot_difference_mm : float, optional
        As in `limb.discrepancy.discrepancy`. [mm]
    knee_height_counts : bool
        False where the knee does not bend, so that its height does not matter.
    """
    given = drifts or {}
    reductions = {bone.bone: reductions_of(bone) for bone in plan.bones}
    corrected = [p for own in reductions.values() for p in bone_progress(own, 0.0)]
    full = [
        p
        for bone in plan.bones
        for p in bone_progress(reductions[bone.bone], bone.lengthening_mm, given.get(bone.bone))
    ]
    stages = tuple(
        leg_stage(name, model, other_leg, age_years=age_years, foot_difference_mm=foot_difference_mm)
        for name, model in (
            (StageName.AS_IT_STANDS, leg),
            (StageName.CORRECTED, _standing_leg(leg, corrected)),
            (StageName.FULL_LENGTH, _standing_leg(leg, full)),
        )
    )
    faces = tuple(cut_faces(leg, reduced) for own in reductions.values() for reduced in own)
    shift = _axis_shift(stages[1], plan)
    findings = [f for face in faces for f in face_findings(face, profile)]
    findings += axis_findings(shift, plan, stages)
    findings += target_findings(stages[-1], targets or {}, profile)
    findings += knee_findings(stages[-1], profile) if knee_height_counts else []
    findings += films_disagree(leg)
    if not leg.has_sagittal:
        findings.append(no_sagittal_film(leg))
    return Outlook(stages=stages, cut_faces=faces, axis_shift=shift, findings=ordered(tuple(findings)))


def _standing_leg(leg: LegModel, progress: list[Progress]) -> LegModel:
    moved = moved_leg(leg, progress)
    return moved.moved(standing(leg, moved))


def _axis_shift(corrected: LegStage, plan: Plan) -> FemoralAxisShift | None:
    femur = next((b for b in plan.bones if b.bone is Bone.FEMUR and b.lengthening_mm > 0), None)
    lengths = [corrected.value(m) for m in (Measure.AMA, Measure.FEMUR_LENGTH, Measure.TIBIA_LENGTH)]
    if femur is None or any(v is None for v in lengths):
        return None
    ama, femur_mm, tibia_mm = (float(v) for v in lengths if v is not None)
    return femoral_axis_shift(
        ama_deg=ama, femur_mm=femur_mm, tibia_mm=tibia_mm, lengthening_mm=femur.lengthening_mm
    )
