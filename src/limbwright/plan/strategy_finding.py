"""What to weigh about one strategy beside its figures."""

from limbwright.finding import Finding, Number, Severity, ordered
from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import Examination, JointState
from limbwright.plan.comparison import deformity_left_deg
from limbwright.plan.rule import rule_source
from limbwright.plan.situation import LegSituation
from limbwright.plan.strategy import BoneShare, Strategy
from limbwright.practice.by_bone import max_lengthening_mm
from limbwright.practice.profile import Profile
from limbwright.published import COMMON_PRACTICE

JOINT_RULE = "Joints next to a lengthened bone must be stable, or held."


def strategy_findings(
    strategy: Strategy,
    *,
    situation: LegSituation,
    examination: Examination,
    age_years: float,
    alignment_counts: bool,
    profile: Profile,
) -> tuple[Finding, ...]:
    """Everything to weigh about one strategy, worst first."""
    found: list[Finding] = []
    for stage in strategy.stages:
        for share in stage.shares:
            found += _share_findings(share, situation=situation, age_years=age_years, profile=profile)
    found += _joint_findings(strategy, examination)
    if strategy.off_goal_mm > profile.length_tolerance_mm:
        found.append(_length_left(strategy, profile))
    if strategy.knee_height.magnitude > profile.knee_height_tolerance_mm:
        found.append(_knee_height(strategy, profile))
    if alignment_counts and deformity_left_deg(strategy, profile)[1] > 0:
        found.append(_deformity_left(strategy, profile))
    if strategy.burden_index > 1 and any(len(stage.shares) > 1 for stage in strategy.stages):
        found.append(_burden(strategy))
    return ordered(tuple(dict.fromkeys(found)))


def _share_findings(
    share: BoneShare, *, situation: LegSituation, age_years: float, profile: Profile
) -> list[Finding]:
    found = []
    part = situation.of(share.bone)
    limit_mm = max_lengthening_mm(profile, bone=share.bone, bone_length_mm=part.length_mm)
    name = "max_lengthening_femur_mm" if share.bone is Bone.FEMUR else "max_lengthening_tibia_mm"
    numbers = (
        Number(name="lengthening in this stage", value=share.lengthening_mm, unit="mm"),
        Number(name="share of the bone", value=share.percent_of_bone, unit="%"),
    )
    amount = f"{share.lengthening_mm:.0f} mm in the {share.bone}, {share.percent_of_bone:.1f} % of its length"
    if share.lengthening_mm > limit_mm + 1e-9:
        found.append(
            Finding(
                id="lengthening-over-stage-limit",
                severity=Severity.CAUTION,
                words=f"{amount}, is more than the {limit_mm:.0f} mm of one stage.",
                next_step="Lengthen in stages, share the length with the other bone, or leave a difference.",
                numbers=(*numbers, Number(name="stage limit", value=limit_mm, unit="mm")),
                rule="A bone is lengthened in one stage by no more than its limit, in mm and in percent.",
                source=rule_source(profile, name, "max_lengthening_percent_of_bone"),
            )
        )
    elif share.percent_of_bone >= profile.caution_lengthening_percent_of_bone:
        found.append(
            Finding(
                id="lengthening-large-share",
                severity=Severity.CAUTION,
                words=f"{amount}: soft tissues and joints need closer watching from "
                f"{profile.caution_lengthening_percent_of_bone:g} % on.",
                next_step="Plan therapy and joint protection from the first day, or lengthen in stages.",
                numbers=numbers,
                rule="From a share of the bone's length on, soft tissues are watched more closely.",
                source=rule_source(profile, "caution_lengthening_percent_of_bone"),
            )
        )
    long, old = (
        share.lengthening_mm > profile.new_bone_risk_lengthening_mm,
        age_years >= profile.new_bone_risk_age_years,
    )
    if share.lengthening_mm > 0 and (long or old):
        reasons = [
            f"lengthening above {profile.new_bone_risk_lengthening_mm:g} mm" if long else "",
            f"age {profile.new_bone_risk_age_years:g} or more" if old else "",
        ]
        found.append(
            Finding(
                id="new-bone-at-risk",
                severity=Severity.NOTE,
                words=f"{amount}: poor new bone is more likely ({' and '.join(r for r in reasons if r)}).",
                next_step="Plan film checks that would catch it early; smoking adds to it.",
                numbers=(*numbers, Number(name="age", value=age_years, unit="years")),
                rule="Age, length and smoking raise the risk of insufficient new bone.",
                source=rule_source(profile, "new_bone_risk_lengthening_mm", "new_bone_risk_age_years"),
            )
        )
    return found


def _joint_findings(strategy: Strategy, examination: Examination) -> list[Finding]:
    found = []
    tibia = strategy.lengthening_mm(Bone.TIBIA) > 0
    if tibia and examination.knee is JointState.UNSTABLE:
        found.append(
            Finding(
                id="knee-unstable-tibia",
                severity=Severity.CAUTION,
                words="The knee is unstable: lengthening the tibia can carry it backwards out of joint.",
                next_step="Protect the knee while the tibia lengthens, and check it on every film.",
                rule=JOINT_RULE,
                source=COMMON_PRACTICE,
            )
        )
    if tibia and examination.ankle is JointState.UNSTABLE:
        found.append(
            Finding(
                id="ankle-unstable-tibia",
                severity=Severity.CAUTION,
                words="The ankle is unstable: the calf can pull it into equinus and out of joint.",
                next_step="Hold the foot during lengthening, or stabilise the ankle first.",
                rule=JOINT_RULE,
                source=COMMON_PRACTICE,
            )
        )
    if tibia and examination.ankle is JointState.FUSED:
        found.append(
            Finding(
                id="ankle-fused-tibia",
                severity=Severity.CAUTION,
                words="The ankle is fused: it cannot go into equinus, but the calf pulls on the fusion.",
                next_step="Check that the fusion is solid and how its hardware limits the nail.",
                rule=JOINT_RULE,
                source=COMMON_PRACTICE,
            )
        )
    if strategy.lengthening_mm(Bone.FEMUR) > 0 and examination.hip is JointState.FUSED:
        found.append(
            Finding(
                id="hip-fused-femur",
                severity=Severity.CAUTION,
                words="The hip is fused: it cannot subluxate, but an antegrade entry is hard to reach.",
                next_step="Check the fusion's hardware and position; consider a retrograde nail.",
                rule=JOINT_RULE,
                source=COMMON_PRACTICE,
            )
        )
    return found


def _length_left(strategy: Strategy, profile: Profile) -> Finding:
    return Finding(
        id="length-off-goal",
        severity=Severity.CAUTION,
        words=f"'{strategy.name}' ends {strategy.off_goal_mm:.0f} mm off the wanted length "
        f"({strategy.residual.magnitude:.0f} mm {strategy.residual.direction}).",
        next_step="Accept it with a lift, add a stage, or share the length with the other bone.",
        numbers=(Number(name="distance from the wanted length", value=strategy.off_goal_mm, unit="mm"),),
        rule=f"The end length lies within {profile.length_tolerance_mm:g} mm of the goal.",
        source=rule_source(profile, "length_tolerance_mm"),
    )


def _knee_height(strategy: Strategy, profile: Profile) -> Finding:
    word = {"distal": "lower", "proximal": "higher"}[strategy.knee_height.direction.value]
    return Finding(
        id="knee-height-differs",
        severity=Severity.CAUTION,
        words=f"'{strategy.name}' leaves the treated knee {strategy.knee_height.magnitude:.0f} mm {word} "
        "than the other.",
        next_step="Put more of the length into the other bone, or accept it.",
        numbers=(Number(name="difference of knee height", value=strategy.knee_height.magnitude, unit="mm"),),
        rule=f"A difference up to {profile.knee_height_tolerance_mm:g} mm is left alone.",
        source=rule_source(profile, "knee_height_tolerance_mm"),
    )


def _deformity_left(strategy: Strategy, profile: Profile) -> Finding:
    parts = []
    numbers = []
    for left in strategy.remaining:
        for what, angle, tolerance in (
            ("frontal plane", left.frontal, profile.angle_tolerance_deg),
            ("sagittal plane", left.sagittal, profile.sagittal_tolerance_deg),
            ("rotation", left.rotation, profile.rotation_tolerance_deg),
        ):
            if angle is not None and angle.magnitude > tolerance:
                word = f"{angle.direction} rotation" if what == "rotation" else f"{angle.direction}"
                parts.append(f"{angle.magnitude:.1f} degrees of {word} in the {left.bone}")
                numbers.append(Number(name=f"{left.bone}, {what}", value=angle.magnitude, unit="deg"))
    return Finding(
        id="deformity-left",
        severity=Severity.CAUTION,
        words=f"'{strategy.name}' leaves {', '.join(parts)}.",
        next_step="Correct that bone too, in the same operation or later, or accept it.",
        numbers=tuple(numbers),
        rule="Deformity beyond the tolerances of the practice profile is corrected where it is.",
        source=rule_source(
            profile, "angle_tolerance_deg", "sagittal_tolerance_deg", "rotation_tolerance_deg"
        ),
    )


def _burden(strategy: Strategy) -> Finding:
    return Finding(
        id="burden-of-two-bones",
        severity=Severity.CAUTION,
        words=f"Femur and tibia together in one operation load the soft tissues {strategy.burden_index:.2f} "
        "times as much as one bone at its limit.",
        next_step="Consider one bone after the other, or slow the rate in both.",
        numbers=(Number(name="burden index", value=strategy.burden_index, unit=""),),
        rule="Knee and nerves between two lengthened bones are stretched from both ends.",
        source=COMMON_PRACTICE,
    )
