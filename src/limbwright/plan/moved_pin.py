"""A pin of the temporary fixator at another level: how far it may go, and what it is clear of there."""

from dataclasses import replace

from limbwright.error import Missing, OutOfRange
from limbwright.finding import ordered
from limbwright.limb.anatomy import Fragment
from limbwright.plan.complete import CompletedBone
from limbwright.plan.decision import BonePlan, Pin
from limbwright.plan.leg import LegModel
from limbwright.plan.pin_room import room_at
from limbwright.plan.pins import PinLevels, clearance_beside_mm, pin_findings
from limbwright.plan.steps import HOLDING
from limbwright.practice.profile import Profile

BEYOND_TIP = "beyond the nail tip"


def pin_stretch_mm(plan: BonePlan, pin: Pin, levels: PinLevels, profile: Profile) -> tuple[float, float]:
    """Levels between joint and osteotomy, with their margins, within which a pin may be moved. [mm]"""
    to_joint = profile.pin_clearance_to_joint_mm + pin.diameter_mm / 2
    to_cut = profile.pin_clearance_to_osteotomy_mm + pin.diameter_mm / 2
    low, high = to_joint, levels.osteotomies_mm[0] - to_cut
    if pin.fragment is Fragment.DISTAL:
        low, high = levels.osteotomies_mm[-1] + to_cut, levels.bone_length_mm - to_joint
    if pin.nail_side == BEYOND_TIP and pin.below_joint_mm > levels.nail_tip_mm:
        low = max(low, levels.nail_tip_mm + pin.diameter_mm / 2)
    elif pin.nail_side == BEYOND_TIP:
        high = min(high, levels.nail_tip_mm - pin.diameter_mm / 2)
    # Where the margins leave no room, the pin stays where it was planned.
    return min(low, pin.below_joint_mm), max(high, pin.below_joint_mm)


def pin_at(
    leg: LegModel,
    plan: BonePlan,
    index: int,
    below_joint_mm: float,
    *,
    levels: PinLevels,
    profile: Profile,
) -> Pin:
    """A planned pin moved along its bone.

    Parameters
    ----------
    index : int
        Its place among the pins of the plan.
    below_joint_mm : float
        Level wanted, below the bone's proximal joint line (femur: head centre). [mm]
    levels : PinLevels
        What pins of this bone keep clear of (`pin_levels`).

    Raises
    ------
    Missing, OutOfRange
        When there is no such pin, or the level is beyond its stretch, in hardware, or in the nail's path.
    """
    where = f"pin, {plan.bone}"
    if index >= len(plan.pins):
        raise Missing(
            f"there is no pin {index + 1} among {len(plan.pins)}.",
            where=where,
            next_step="Choose one that is planned.",
        )
    pin = plan.pins[index]
    low, high = pin_stretch_mm(plan, pin, levels, profile)
    if not low <= below_joint_mm <= high:
        raise OutOfRange(
            f"the pin that {pin.role} would lie {below_joint_mm:.1f} mm below the joint line, expected "
            f"{low:.1f} to {high:.1f} mm.",
            where=where,
            next_step="Keep it between joint and osteotomy; the margins are settings of the profile.",
        )
    if levels.free is not None and not any(part.holds(below_joint_mm) for part in levels.free):
        raise OutOfRange(
            f"a pin {below_joint_mm:.1f} mm below the joint line would meet hardware.",
            where=where,
            next_step="Choose a level that hardware leaves free.",
        )
    clearance = _clearance_mm(leg, plan, pin, levels, below_joint_mm)
    if clearance <= 0:
        raise OutOfRange(
            f"a {pin.diameter_mm:g} mm pin {below_joint_mm:.1f} mm below the joint line would cut "
            f"{-clearance:.1f} mm into the path of the nail.",
            where=where,
            next_step="Choose another level, or a thinner pin.",
        )
    return replace(pin, below_joint_mm=below_joint_mm, clearance_mm=clearance)


def with_pin(
    whole: CompletedBone, index: int, pin: Pin, levels: PinLevels, profile: Profile
) -> CompletedBone:
    """A completed bone with one pin moved, and what is to be weighed about its pins now."""
    if whole.pins is None:
        return whole
    pins = tuple(pin if i == index else other for i, other in enumerate(whole.plan.pins))
    before = {(f.id, f.words) for f in whole.pins.findings}
    holding = [p for p in pins if p.role in HOLDING]
    moved = [f for p in holding for f in pin_findings(p, levels, whole.plan.reamer_mm, profile)]
    about_place = {"pin-close-to-nail", "pin-near-osteotomy", "pin-in-hardware"}
    stay = [f for f in whole.pins.findings if f.id not in about_place]
    findings = ordered((*stay, *moved))
    kept = [f for f in whole.findings if (f.id, f.words) not in before]
    return replace(
        whole,
        plan=replace(whole.plan, pins=pins),
        pins=replace(whole.pins, pins=pins, findings=findings),
        findings=ordered((*kept, *findings)),
    )


def _clearance_mm(leg: LegModel, plan: BonePlan, pin: Pin, levels: PinLevels, level_mm: float) -> float:
    """Free distance of a pin at a level, from the reamed path or from the nail's tip. [mm]"""
    if pin.nail_side == BEYOND_TIP:
        return abs(level_mm - levels.nail_tip_mm) - pin.diameter_mm / 2
    room = room_at(leg, plan, pin.fragment, level_mm)
    if room is None:
        raise Missing(
            f"the outer edges are not traced {level_mm:.0f} mm below the joint line on the sagittal film.",
            where=f"pin, {plan.bone}",
            next_step="Trace them there, or keep the pin where they are traced.",
        )
    return clearance_beside_mm(
        room,
        reamed_diameter_mm=plan.reamer_mm,
        pin_diameter_mm=pin.diameter_mm,
        posterior=pin.nail_side.startswith("posterior"),
    )
