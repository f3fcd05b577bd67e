"""Soft tissue: equinus and calf release, contracture of the knee, motion of joints beside the bone."""

from dataclasses import dataclass
from enum import StrEnum

from limbwright.finding import Finding, Number, Severity, ordered
from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import Examination, JointState
from limbwright.plan.nerve import nerve_findings
from limbwright.plan.rule import rule_source
from limbwright.plan.share import percent_of_bone
from limbwright.practice.profile import Profile
from limbwright.published import COMMON_PRACTICE, Row, table
from limbwright.quantity import Value


class CalfRelease(StrEnum):
    """Decision on the calf release."""

    NOT_NEEDED = "not expected"
    AT_OPERATION = "at the operation"
    STAGED = "staged, when equinus appears"
    DECLINED = "declined by the surgeon"


@dataclass(frozen=True, slots=True, kw_only=True)
class EquinusRisk(Value):
    """What speaks for equinus in a tibial lengthening."""

    lengthening_mm: float
    """Length to gain [mm]."""
    percent_of_tibia: float
    """The same as a share of the tibia [%]."""
    over_length: bool
    """Above the length from which a release is likely in this practice."""
    over_percent: bool
    """Above the share from which a release is likely in this practice."""
    equinus_now: bool | None
    """Equinus beyond the limit already; None when the ankle was not examined."""
    calf_only: bool | None
    """True when bending the knee frees the ankle: the gastrocnemius alone is short; None = not known."""

    @property
    def likely(self) -> bool:
        """Whether a calf release is likely."""
        return self.over_length or self.over_percent or bool(self.equinus_now)


@dataclass(frozen=True, slots=True, kw_only=True)
class SoftTissue(Value):
    """Soft-tissue side of lengthening one bone."""

    equinus: EquinusRisk | None
    """Equinus risk; None for the femur and for a fused ankle."""
    calf_release: CalfRelease | None
    """Decision on the calf release; None for the femur and for a fused ankle."""
    findings: tuple[Finding, ...]
    """What to weigh, worst first."""


def equinus_risk(
    *,
    lengthening_mm: float,
    tibia_length_mm: float,
    dorsiflexion_deg: float | None,
    dorsiflexion_knee_bent_deg: float | None,
    length_limit_mm: float,
    percent_limit: float,
    equinus_limit_deg: float,
) -> EquinusRisk:
    """What speaks for equinus in a tibial lengthening.

    Parameters
    ----------
    lengthening_mm, tibia_length_mm : float
        Length to gain, and present length of the tibia. [mm]
    dorsiflexion_deg, dorsiflexion_knee_bent_deg : float or None
        Ankle dorsiflexion with the knee straight and bent; negative = equinus. [deg]
    length_limit_mm, percent_limit : float
        Lengthening above which a release is likely. [mm, %]
    equinus_limit_deg : float
        Equinus above which a release is advised before lengthening. [deg]
    """
    percent = percent_of_bone(lengthening_mm, tibia_length_mm)
    now = None if dorsiflexion_deg is None else dorsiflexion_deg < -equinus_limit_deg
    calf_only = None
    if now and dorsiflexion_knee_bent_deg is not None:
        calf_only = dorsiflexion_knee_bent_deg >= -equinus_limit_deg
    return EquinusRisk(
        lengthening_mm=lengthening_mm,
        percent_of_tibia=percent,
        over_length=lengthening_mm > length_limit_mm,
        over_percent=percent > percent_limit,
        equinus_now=now,
        calf_only=calf_only,
    )


def calf_release_decision(risk: EquinusRisk, *, chosen: bool | None, timing: str) -> CalfRelease:
    """The decision on the calf release: the surgeon's own, else by likelihood and the practice's timing.

    Parameters
    ----------
    risk : EquinusRisk
        What speaks for equinus.
    chosen : bool or None
        The surgeon's decision for a release at the operation; None = not decided.
    timing : str
        The practice's timing of a likely release: 'at the operation' or 'staged'.
    """
    if chosen is not None:
        if chosen:
            return CalfRelease.AT_OPERATION
        return CalfRelease.DECLINED if risk.likely else CalfRelease.NOT_NEEDED
    if not risk.likely:
        return CalfRelease.NOT_NEEDED
    return CalfRelease.AT_OPERATION if timing == "at the operation" else CalfRelease.STAGED


def soft_tissue(
    *,
    bone: Bone,
    lengthening_mm: float,
    bone_length_mm: float,
    valgus_taken_out_deg: float,
    flexion_taken_out_deg: float,
    calf_release_chosen: bool | None,
    examination: Examination,
    profile: Profile,
) -> SoftTissue:
    """Soft-tissue side of lengthening one bone: equinus, calf release, knee, nerves.

    Parameters
    ----------
    bone : Bone
        Femur or tibia.
    lengthening_mm, bone_length_mm : float
        Length to gain, and present length. [mm]
    valgus_taken_out_deg, flexion_taken_out_deg : float
        What the correction at the operation takes out (`plan.nerve.nerve_stretch_deg`). [deg]
    calf_release_chosen : bool or None
        The surgeon's decision; None = not decided.
    examination : Examination
        Joint motion.
    profile : Profile
        The surgeon's limits.
    """
    nerves = nerve_findings(
        bone=bone,
        valgus_taken_out_deg=valgus_taken_out_deg,
        flexion_taken_out_deg=flexion_taken_out_deg,
        acute=True,
        lengthening_mm=lengthening_mm,
        profile=profile,
    )
    knee = _knee_findings(bone, examination, profile) if lengthening_mm > 0 else ()
    if bone is not Bone.TIBIA or examination.ankle is JointState.FUSED:
        return SoftTissue(equinus=None, calf_release=None, findings=ordered((*nerves, *knee)))
    risk = equinus_risk(
        lengthening_mm=lengthening_mm,
        tibia_length_mm=bone_length_mm,
        dorsiflexion_deg=examination.ankle_dorsiflexion_deg,
        dorsiflexion_knee_bent_deg=examination.ankle_dorsiflexion_knee_bent_deg,
        length_limit_mm=profile.calf_release_lengthening_mm,
        percent_limit=profile.calf_release_percent_of_tibia,
        equinus_limit_deg=profile.equinus_limit_resting_deg,
    )
    decision = calf_release_decision(risk, chosen=calf_release_chosen, timing=profile.calf_release_timing)
    findings = (*_calf_findings(risk, decision, examination, profile), *nerves, *knee)
    return SoftTissue(equinus=risk, calf_release=decision, findings=ordered(findings))


def _row(quantity: str) -> Row:
    return next(r for r in table("plan", "soft_tissue") if r.text("quantity") == quantity)


def _calf_findings(
    risk: EquinusRisk, decision: CalfRelease, examination: Examination, profile: Profile
) -> list[Finding]:
    found = []
    numbers = (
        Number(name="tibial lengthening", value=risk.lengthening_mm, unit="mm"),
        Number(name="share of the tibia", value=risk.percent_of_tibia, unit="%"),
    )
    if examination.ankle_dorsiflexion_deg is None and risk.lengthening_mm > 0:
        found.append(
            Finding(
                id="ankle-not-examined",
                severity=Severity.CAUTION,
                words="Ankle dorsiflexion with the knee straight is not recorded, so equinus cannot be "
                "judged.",
                next_step="Examine it with the knee straight and bent, and record both.",
                rule="Equinus before lengthening is treated first.",
                source=COMMON_PRACTICE,
            )
        )
    if risk.likely:
        found.append(
            Finding(
                id="calf-release-likely",
                severity=Severity.CAUTION,
                words=f"A calf release is likely: {_reasons(risk, examination, profile)}. Decision: "
                f"{decision}.",
                next_step="Record the decision; a night splint and stretching start on the first day "
                "either way.",
                numbers=numbers,
                rule=f"Likely above {profile.calf_release_lengthening_mm:g} mm, above "
                f"{profile.calf_release_percent_of_tibia:g} % of the tibia, or with equinus before "
                "lengthening.",
                source=rule_source(profile, "calf_release_lengthening_mm", "calf_release_percent_of_tibia"),
            )
        )
    found += _published_odds(risk, numbers)
    if risk.equinus_now and risk.calf_only is not None:
        muscle = (
            "the gastrocnemius alone is short (the ankle is free with the knee bent)"
            if risk.calf_only
            else "gastrocnemius and soleus, or the joint itself, are short (also with the knee bent)"
        )
        found.append(
            Finding(
                id="equinus-which-muscle",
                severity=Severity.NOTE,
                words=f"The equinus found means that {muscle}.",
                next_step="Choose the level of the release accordingly.",
                rule="Dorsiflexion with the knee straight and bent tells the two muscles apart.",
                source=COMMON_PRACTICE,
            )
        )
    return found


def _reasons(risk: EquinusRisk, examination: Examination, profile: Profile) -> str:
    reasons = []
    if risk.over_length:
        reasons.append(
            f"{risk.lengthening_mm:.0f} mm of lengthening, above {profile.calf_release_lengthening_mm:g} mm"
        )
    if risk.over_percent:
        reasons.append(
            f"{risk.percent_of_tibia:.1f} % of the tibia, above {profile.calf_release_percent_of_tibia:g} %"
        )
    if risk.equinus_now and examination.ankle_dorsiflexion_deg is not None:
        reasons.append(f"equinus of {-examination.ankle_dorsiflexion_deg:.0f} degrees already")
    return "; ".join(reasons)


def _published_odds(risk: EquinusRisk, numbers: tuple[Number, ...]) -> list[Finding]:
    """What the published series says at this length, whatever the practice's own limits are."""
    parts = []
    for value, limit, odds, unit in (
        (risk.lengthening_mm, "recession_length", "recession_length_odds", "mm"),
        (risk.percent_of_tibia, "recession_percent", "recession_percent_odds", "%"),
    ):
        if value > _row(limit).number("value"):
            row = _row(odds)
            parts.append(
                f"above {_row(limit).number('value'):g} {unit} the odds were {row.number('value'):.1f} "
                f"times higher (95 % interval {row.number('low'):.1f} to {row.number('high'):.1f})"
            )
    if not parts:
        return []
    used = _row("recession_used")
    return [
        Finding(
            id="calf-release-odds",
            severity=Severity.NOTE,
            words=f"In a series where {used.number('value'):.0f} of {used.number('high'):.0f} tibial "
            f"lengthenings had a calf release, {' and '.join(parts)}.",
            next_step="Weigh it with the ankle's motion; congenital shortening may raise it further.",
            numbers=numbers,
            rule="Length in millimetres and in percent of the tibia predicted the calf release.",
            source=used.source,
        )
    ]


def _knee_findings(bone: Bone, examination: Examination, profile: Profile) -> tuple[Finding, ...]:
    found = []
    femur = bone is Bone.FEMUR
    limit = profile.knee_extension_loss_femur_deg if femur else profile.knee_flexion_contracture_tibia_deg
    loss = examination.knee_extension_loss_deg
    if loss is not None and loss >= limit and examination.knee is not JointState.FUSED:
        found.append(
            Finding(
                id="knee-contracture",
                severity=Severity.CAUTION,
                words=f"The knee lacks {loss:.0f} degrees of extension already, limit {limit:g} before the "
                f"{bone} is lengthened.",
                next_step="Treat the contracture first; plan an extension brace from the first day.",
                numbers=(Number(name="loss of extension", value=loss, unit="deg"),),
                rule="Lengthening tightens what is already short.",
                source=rule_source(
                    profile,
                    "knee_extension_loss_femur_deg" if femur else "knee_flexion_contracture_tibia_deg",
                ),
            )
        )
    flexion = examination.knee_flexion_deg
    if (
        femur
        and flexion is not None
        and flexion < profile.knee_flexion_wanted_deg
        and examination.knee is not JointState.FUSED
    ):
        stop = flexion < profile.knee_flexion_stop_below_deg
        found.append(
            Finding(
                id="knee-stiff-for-femur",
                severity=Severity.STOP if stop else Severity.CAUTION,
                words=f"The knee bends to {flexion:.0f} degrees before lengthening; "
                f"{profile.knee_flexion_wanted_deg:g} are wanted while the femur lengthens, and below "
                f"{profile.knee_flexion_stop_below_deg:g} lengthening is stopped.",
                next_step="Gain motion first, or lengthen the tibia.",
                numbers=(Number(name="knee flexion", value=flexion, unit="deg"),),
                rule="Knee flexion falls while the femur lengthens.",
                source=rule_source(profile, "knee_flexion_wanted_deg", "knee_flexion_stop_below_deg"),
            )
        )
    return tuple(found)
