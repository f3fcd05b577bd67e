"""What a strategy leads to: stages, time, burden, discrepancy, knee height and deformity left."""

from collections.abc import Mapping
from dataclasses import dataclass

from limbwright.finding import Finding
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone
from limbwright.plan.burden import bone_burden, joint_risks, strategy_figure
from limbwright.plan.circumstances import Examination
from limbwright.plan.duration import Duration, duration
from limbwright.plan.goal import Staging
from limbwright.plan.share import percent_of_bone, stage_limit_mm
from limbwright.plan.situation import LegSituation
from limbwright.plan.strategy import BoneShare, RemainingDeformity, Stage, Strategy, StrategyName
from limbwright.practice.by_bone import healing_index_days_per_cm, latency_days, rhythm
from limbwright.practice.profile import Profile
from limbwright.quantity import (
    EXTERNAL_INTERNAL,
    PROCURVATUM_RECURVATUM,
    VARUS_VALGUS,
    Directed,
    Sense,
    Value,
    directed,
)

SHORTER_LONGER = (Sense.SHORTER, Sense.LONGER)
DISTAL_PROXIMAL = (Sense.DISTAL, Sense.PROXIMAL)


@dataclass(frozen=True, slots=True, kw_only=True)
class Treatment(Value):
    """What is to be done to one bone over the whole treatment."""

    lengthening_mm: float
    """Whole length to gain; 0 = corrected only [mm]."""
    stages: int
    """Operations it is spread over, at least 1."""
    direction: Direction
    """Way the nail enters."""


def knee_height_difference_mm(situation: LegSituation, *, tibia_lengthening_mm: float) -> float:
    """How much lower the treated knee stands than the other at the end, feet level; lower +. [mm]

    Only tibia and foot lie below the knee, so lengthening the femur does not change it.
    """
    return situation.tibia.short_mm + situation.foot_short_mm - tibia_lengthening_mm


def residual_short_mm(situation: LegSituation, *, lengthening_mm: float) -> float:
    """Discrepancy left, treated leg shorter +. [mm]"""
    return situation.short_mm - lengthening_mm


def remaining_deformity(
    situation: LegSituation, corrected: tuple[Bone, ...]
) -> tuple[RemainingDeformity, ...]:
    """Deformity left in each bone when the bones listed are corrected fully, femur first."""
    left = []
    for bone in (Bone.FEMUR, Bone.TIBIA):
        part = situation.of(bone)
        share = 0.0 if bone in corrected else 1.0
        rotation = (
            None
            if part.rotation_deg is None
            else directed(share * part.rotation_deg, unit="deg", senses=EXTERNAL_INTERNAL)
        )
        left.append(
            RemainingDeformity(
                bone=bone,
                frontal=directed(share * part.frontal_deg, unit="deg", senses=VARUS_VALGUS),
                sagittal=directed(share * part.sagittal_deg, unit="deg", senses=PROCURVATUM_RECURVATUM),
                rotation=rotation,
            )
        )
    return tuple(left)


def bone_share(
    *,
    situation: LegSituation,
    bone: Bone,
    treatment: Treatment,
    first: bool,
    corrects: bool,
    examination: Examination,
    age_years: float,
    profile: Profile,
) -> BoneShare:
    """What one operation does to one bone: an equal part of its lengthening; the first one corrects it."""
    part = situation.of(bone)
    length_mm = treatment.lengthening_mm / treatment.stages
    burden = bone_burden(
        bone=bone,
        lengthening_mm=length_mm,
        bone_length_mm=part.length_mm,
        stage_limit_mm=stage_limit_mm(profile, bone),
        percent_limit=profile.max_lengthening_percent_of_bone,
        joint_risk_weight=strategy_figure("joint_risk_weight"),
        joint_risks=joint_risks(bone, examination, profile),
    )
    days = None
    if length_mm > 0:
        days = duration(
            lengthening_mm=length_mm,
            latency_days=latency_days(profile, bone=bone, age_years=age_years),
            rhythm=rhythm(profile, bone=bone),
            healing_index=healing_index_days_per_cm(
                profile,
                bone=bone,
                retrograde=treatment.direction is Direction.RETROGRADE,
                age_years=age_years,
            ),
        )
    return BoneShare(
        bone=bone,
        direction=treatment.direction,
        lengthening_mm=length_mm,
        percent_of_bone=percent_of_bone(length_mm, part.length_mm),
        corrects=corrects and first,
        burden=burden,
        duration=days,
    )


def slowest(durations: tuple[Duration, ...]) -> Duration | None:
    """Durations of bones treated together as one: each day is that of the slowest bone."""
    if not durations:
        return None
    return Duration(
        latency_days=max(d.latency_days for d in durations),
        distraction_days=max(d.distraction_days for d in durations),
        lengthened_day=max(d.lengthened_day for d in durations),
        healed_low_day=max(d.healed_low_day for d in durations),
        healed_typical_day=max(d.healed_typical_day for d in durations),
        healed_high_day=max(d.healed_high_day for d in durations),
    )


def stage_of(shares: tuple[BoneShare, ...]) -> Stage:
    """One operation on one or two bones."""
    return Stage(
        shares=shares,
        burden_index=sum(share.burden.index for share in shares),
        duration=slowest(tuple(share.duration for share in shares if share.duration is not None)),
    )


def stages_of(
    shares: Mapping[Bone, tuple[BoneShare, ...]], *, order: tuple[Bone, ...], staging: Staging | None
) -> tuple[Stage, ...]:
    """Operations in order: together bone beside bone; staged one bone after the other, in turn."""
    rounds = max(len(shares[bone]) for bone in order)
    stages: list[Stage] = []
    for index in range(rounds):
        due = [shares[bone][index] for bone in order if index < len(shares[bone])]
        if staging is Staging.STAGED:
            stages.extend(stage_of((share,)) for share in due)
        else:
            stages.append(stage_of(tuple(due)))
    return tuple(stages)


def strategy_of(
    *,
    name: StrategyName,
    situation: LegSituation,
    treatments: Mapping[Bone, Treatment],
    order: tuple[Bone, ...],
    staging: Staging | None,
    leave_short_mm: float,
    correct_alignment: bool,
    examination: Examination,
    age_years: float,
    profile: Profile,
    excluded: tuple[Finding, ...],
) -> Strategy:
    """A strategy with all its consequences; `findings` are left empty.

    Parameters
    ----------
    name : StrategyName
        Which way.
    situation : LegSituation
        Where shortening and deformity are.
    treatments : mapping of Bone to Treatment
        What is done to each bone it treats.
    order : tuple of Bone
        Bones in the order of treatment.
    staging : Staging or None
        Together or one after the other; None for one bone.
    leave_short_mm : float
        Discrepancy wanted at the end, treated leg shorter +. [mm]
    correct_alignment : bool
        False when the deformity is to be left.
    examination, age_years, profile
        Joints at risk, age at operation in years, and the surgeon's own numbers.
    excluded : tuple of Finding
        Reasons why the rules exclude it.
    """
    shares = {
        bone: tuple(
            bone_share(
                situation=situation,
                bone=bone,
                treatment=treatments[bone],
                first=index == 0,
                corrects=correct_alignment,
                examination=examination,
                age_years=age_years,
                profile=profile,
            )
            for index in range(treatments[bone].stages)
        )
        for bone in order
    }
    stages = stages_of(shares, order=order, staging=staging)
    gained = {bone: treatments[bone].lengthening_mm for bone in order}
    residual = residual_short_mm(situation, lengthening_mm=sum(gained.values()))
    knee = knee_height_difference_mm(situation, tibia_lengthening_mm=gained.get(Bone.TIBIA, 0.0))
    days = tuple(stage.duration for stage in stages if stage.duration is not None)
    # The next operation waits until the one before has typically healed; only the last one's spread counts
    # in full, so the band stays as wide as the slowest part makes it, not wider.
    before = sum(d.healed_typical_day for d in days[:-1])
    last = days[-1] if days else None
    return Strategy(
        name=name,
        stages=stages,
        staging=staging,
        residual=_tidy(directed(residual, unit="mm", senses=SHORTER_LONGER)),
        off_goal_mm=abs(residual - leave_short_mm),
        knee_height=_tidy(directed(knee, unit="mm", senses=DISTAL_PROXIMAL)),
        remaining=remaining_deformity(situation, corrected=order if correct_alignment else ()),
        burden_index=max(stage.burden_index for stage in stages),
        healed_low_day=before + last.healed_low_day if last else 0.0,
        healed_typical_day=before + last.healed_typical_day if last else 0.0,
        healed_high_day=before + last.healed_high_day if last else 0.0,
        operations=len(stages),
        nails=sum(len(stage.shares) for stage in stages),
        excluded=excluded,
        findings=(),
    )


def _tidy(value: Directed) -> Directed:
    """The same with magnitudes that are only rounding set to zero."""
    return (
        value
        if value.direction is not Sense.NONE
        else Directed(magnitude=0.0, direction=Sense.NONE, unit=value.unit)
    )
