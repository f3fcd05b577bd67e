"""The fibula in a tibial lengthening: where it is cut, and the screws that tie it to the tibia at both ends.

Levels are distances along the tibia: below the plateau line, or above the plafond line. The fibula reaches
from a little below the plateau to the tip of the malleolus below the plafond; its length defaults to a share
of the tibia only where it was not measured, and a finding says so.
"""

from dataclasses import dataclass

from limbwright.finding import Finding, ordered
from limbwright.limb.anatomy import Bone
from limbwright.plan.decision import FibularFixation
from limbwright.plan.fibula_finding import TibialLevels, level_findings, tip_findings, why_screws
from limbwright.practice.profile import Profile
from limbwright.published import table
from limbwright.quantity import Value, require_within

NEXT_STEP = "Check the levels of the tibial plan."


@dataclass(frozen=True, slots=True, kw_only=True)
class FibularPlan(Value):
    """Fibular osteotomy and tibiofibular screws, with what to weigh about them."""

    fixation: FibularFixation | None
    """The decision; None for the femur, where the fibula is left alone."""
    osteotomy_below_plateau_mm: float | None
    """Level of the fibular osteotomy on the tibia's scale [mm]."""
    osteotomy_above_plafond_mm: float | None
    """The same from below [mm]."""
    to_tibial_cut_mm: float | None
    """Difference in level between both osteotomies [mm]."""
    proximal_course: str
    """Course of the proximal screw, in words; empty for the femur."""
    distal_course: str
    """Course of the distal screw, in words; empty for the femur."""
    findings: tuple[Finding, ...]
    """What to weigh, worst first."""


NO_FIBULA = FibularPlan(
    fixation=None,
    osteotomy_below_plateau_mm=None,
    osteotomy_above_plafond_mm=None,
    to_tibial_cut_mm=None,
    proximal_course="",
    distal_course="",
    findings=(),
)
"""A femoral lengthening leaves the fibula alone."""


def fibular_osteotomy_below_plateau_mm(
    *,
    tibia_length_mm: float,
    head_below_plateau_mm: float,
    malleolus_below_plafond_mm: float,
    share_percent: float,
    min_above_ankle_mm: float,
    tibial_cut_below_plateau_mm: float,
    min_to_tibial_cut_mm: float,
) -> float:
    """Level of the fibular osteotomy on the tibia's scale. [mm]

    Parameters
    ----------
    tibia_length_mm : float
        Plateau to plafond. [mm]
    head_below_plateau_mm, malleolus_below_plafond_mm : float
        Tips of the fibula. [mm]
    share_percent : float
        Wanted level from the fibula's proximal end, as a share of its length. [%]
    min_above_ankle_mm : float
        Least distance above the plafond. [mm]
    tibial_cut_below_plateau_mm : float
        Level of the tibial osteotomy. [mm]
    min_to_tibial_cut_mm : float
        Least difference in level between both cuts. [mm]

    Notes
    -----
    The wanted level, moved up to clear the ankle; then, if it lies too near the tibial cut, to the nearer
    level that clears the cut and still clears the ankle, else to the one above the cut.
    """
    fibula_mm = tibia_length_mm - head_below_plateau_mm + malleolus_below_plafond_mm
    lowest = tibia_length_mm - min_above_ankle_mm
    level = min(head_below_plateau_mm + share_percent / 100 * fibula_mm, lowest)
    if abs(level - tibial_cut_below_plateau_mm) >= min_to_tibial_cut_mm:
        return level
    below, above = (
        tibial_cut_below_plateau_mm + min_to_tibial_cut_mm,
        tibial_cut_below_plateau_mm - min_to_tibial_cut_mm,
    )
    if below <= lowest and abs(below - level) <= abs(above - level):
        return below
    return above


def distal_screw_above_plafond_mm(
    *,
    wanted_mm: float,
    lowest_mm: float,
    highest_mm: float,
    nail_tip_above_plafond_mm: float | None,
    clearance_mm: float,
    screw_diameter_mm: float,
) -> float:
    """Level of the distal tibiofibular screw: as wanted, below the nail's tip where there is room. [mm]"""
    wanted = min(max(wanted_mm, lowest_mm), highest_mm)
    if nail_tip_above_plafond_mm is None:
        return wanted
    below_tip = nail_tip_above_plafond_mm - clearance_mm - screw_diameter_mm / 2
    return min(wanted, below_tip) if below_tip >= lowest_mm else wanted


def fibular_plan(bone: Bone, levels: TibialLevels, *, lengthening_mm: float, profile: Profile) -> FibularPlan:
    """Fibular osteotomy and tibiofibular screws for a lengthening; nothing for the femur.

    Parameters
    ----------
    bone : Bone
        Bone that is lengthened.
    levels : TibialLevels
        Levels of the tibial plan.
    lengthening_mm : float
        Length to gain. [mm]
    profile : Profile
        The surgeon's own levels, sizes and margins.

    Notes
    -----
    The proximal screw keeps the fibular head from being pulled down with the distal fragment; the distal
    screw carries the malleolus along and keeps the ankle mortise. Without the osteotomy the fibula would
    hold the leg back or drag a joint apart.
    """
    if bone is Bone.FEMUR:
        return NO_FIBULA
    _require_levels(levels)
    head, malleolus = _tips(levels)
    level = fibular_osteotomy_below_plateau_mm(
        tibia_length_mm=levels.tibia_length_mm,
        head_below_plateau_mm=head,
        malleolus_below_plafond_mm=malleolus,
        share_percent=profile.fibula_osteotomy_share_of_length,
        min_above_ankle_mm=profile.fibula_osteotomy_min_above_ankle_mm,
        tibial_cut_below_plateau_mm=levels.osteotomy_below_plateau_mm,
        min_to_tibial_cut_mm=profile.fibula_osteotomy_min_to_tibial_cut_mm,
    )
    distal = distal_screw_above_plafond_mm(
        wanted_mm=profile.tibiofibular_distal_above_ankle_mm,
        lowest_mm=profile.tibiofibular_distal_above_ankle_min_mm,
        highest_mm=profile.tibiofibular_distal_above_ankle_max_mm,
        nail_tip_above_plafond_mm=levels.nail_tip_above_plafond_mm,
        clearance_mm=profile.pin_clearance_to_nail_mm,
        screw_diameter_mm=profile.tibiofibular_screw_diameter_mm,
    )
    proximal = max(profile.tibiofibular_proximal_below_knee_mm, head + profile.tibiofibular_screw_diameter_mm)
    fixation = FibularFixation(
        osteotomy_above_ankle_mm=levels.tibia_length_mm - level + malleolus,
        proximal_screw_below_plateau_mm=proximal,
        distal_screw_above_plafond_mm=distal,
        screw_diameter_mm=profile.tibiofibular_screw_diameter_mm,
        cortices=profile.tibiofibular_cortices,
    )
    findings = (
        *why_screws(lengthening_mm, profile),
        *tip_findings(levels, tips=(head, malleolus)),
        *level_findings(levels, level, fixation, tips=(head, malleolus), profile=profile),
    )
    slope = (
        f"sloping about {profile.tibiofibular_screw_oblique_deg:g} degrees from the frontal plane, fibula "
        f"posterior (drill {profile.tibiofibular_screw_drill_mm:g} mm)"
    )
    return FibularPlan(
        fixation=fixation,
        osteotomy_below_plateau_mm=level,
        osteotomy_above_plafond_mm=levels.tibia_length_mm - level,
        to_tibial_cut_mm=abs(level - levels.osteotomy_below_plateau_mm),
        proximal_course="from the fibular head forward and medially into the tibia, behind the nail, "
        f"{slope}; the peroneal nerve turns round the neck just below",
        distal_course=f"from the fibula forward and medially into the tibia, {slope}; the fibula is held, "
        "not squeezed",
        findings=ordered(findings),
    )


def _require_levels(levels: TibialLevels) -> None:
    require_within("tibia length", levels.tibia_length_mm, 100, 600, "mm", next_step=NEXT_STEP)
    require_within(
        "tibial osteotomy below the plateau",
        levels.osteotomy_below_plateau_mm,
        0,
        levels.tibia_length_mm,
        "mm",
        next_step=NEXT_STEP,
    )


def _tips(levels: TibialLevels) -> tuple[float, float]:
    """Tips of the fibula; an unmarked one is set where the norm has it."""
    figures = {r.text("quantity"): r.number("value") for r in table("plan", "fibula")}
    head, malleolus = levels.fibular_head_below_plateau_mm, levels.malleolus_below_plafond_mm
    return (
        figures["head_below_plateau"] if head is None else head,
        figures["malleolus_below_plafond"] if malleolus is None else malleolus,
    )
