"""Findings about how a plan for one bone was put together."""

from collections import Counter
from collections.abc import Sequence

from limbwright.finding import Finding, Number, Severity
from limbwright.implant.nail import Nail
from limbwright.limb.anatomy import Bone
from limbwright.plan.blocking import BlockingPlan
from limbwright.plan.drift import ExpectedDrift
from limbwright.plan.nail_fit import NailVerdict
from limbwright.plan.osteotomy import LevelScore
from limbwright.plan.rule import rule_source
from limbwright.practice.profile import Profile
from limbwright.published import COMMON_PRACTICE


def no_level_left(bone: Bone, length_mm: float, profile: Profile) -> Finding:
    """No level of the bone may be cut."""
    return Finding(
        id="no-osteotomy-level",
        severity=Severity.STOP,
        words=f"No level of the {bone} ({length_mm:.0f} mm) may be cut: joints, hardware, infected bone and "
        "the "
        f"shift of more than {profile.max_translation_at_osteotomy_mm:g} mm at the osteotomy rule out every "
        "one.",
        next_step="Allow a larger shift, correct in two levels, deal with hardware or infection first, or "
        "choose the other bone.",
        numbers=(Number(name="length of the bone", value=length_mm, unit="mm"),),
        rule="An osteotomy keeps its distances and its shift within the practice's limits.",
        source=rule_source(profile, "max_translation_at_osteotomy_mm", "osteotomy_min_to_hardware_mm"),
    )


def no_nail_fits(bone: Bone, rejected: Sequence[NailVerdict], profile: Profile) -> Finding:
    """No nail of the catalogue fits at any level that was tried; the commonest reasons are named."""
    kinds = Counter(_kind(reason) for verdict in rejected for reason in verdict.reasons)
    example = next((v for v in rejected if v.reasons), None)
    words = f"No nail of the catalogue fits the {bone}"
    if not rejected:
        words += ": it has none for this bone and way of entry."
    else:
        why = ", ".join(f"{kind} ({count})" for kind, count in kinds.most_common(3))
        words += f"; {len(rejected)} were tried: {why}."
        if example is not None:
            words += f" For example {example.nail.name}: {example.reasons[0]}"
    return Finding(
        id="no-nail-fits",
        severity=Severity.STOP,
        words=words,
        next_step="Lengthen less or in stages, move the osteotomy, relax a limit in the practice profile, or "
        "add "
        "nails to the catalogue.",
        numbers=(Number(name="nails tried", value=float(len(rejected)), unit=""),),
        rule="A nail holds the moving fragment at full length, fits the canal and ends short of the joint.",
        source=rule_source(profile, "overlap_mm", "exposed_thin_mm", "tip_clearance_to_joint_mm"),
    )


def _kind(reason: str) -> str:
    for word, kind in (
        ("shorter than", "too short"),
        ("longer than", "too long"),
        ("stroke", "stroke too small"),
        ("cut face", "hole at the osteotomy"),
        ("locking hole", "too few screws in a fragment"),
        ("cortex", "too little cortex"),
        ("wider than the canal", "more reaming than accepted"),
        ("outside the reamed canal", "shape against the canal"),
    ):
        if word in reason:
            return kind
    return reason


def chosen_nail_unfit(verdict: NailVerdict, profile: Profile) -> Finding:
    """The nail the surgeon named does not fit."""
    return Finding(
        id="chosen-nail-unfit",
        severity=Severity.STOP,
        words=f"The chosen nail {verdict.nail.name} does not fit: {' '.join(verdict.reasons)}",
        next_step="Choose another nail, move the osteotomy, or lengthen less.",
        numbers=verdict.numbers,
        rule="A nail holds the moving fragment at full length, fits the canal and ends short of the joint.",
        source=rule_source(profile, "overlap_mm", "exposed_thin_mm", "tip_clearance_to_joint_mm"),
    )


def chosen_level_outside(bone: Bone, level_mm: float, profile: Profile) -> Finding:
    """The level the surgeon named lies where the rules would not cut."""
    return Finding(
        id="chosen-level-outside-limits",
        severity=Severity.CAUTION,
        words=f"The chosen osteotomy, {level_mm:.0f} mm below the proximal joint of the {bone}, lies outside "
        "the "
        "stretch that joints, hardware, infected bone and the shift at the osteotomy leave free.",
        next_step="Check the distance to joint and hardware, or let the planner choose the level.",
        numbers=(Number(name="chosen level", value=level_mm, unit="mm"),),
        rule="An osteotomy keeps its distances and its shift within the practice's limits.",
        source=rule_source(profile, "max_translation_at_osteotomy_mm", "osteotomy_min_to_hardware_mm"),
    )


def drift_expected(
    drift: ExpectedDrift, blocking: BlockingPlan, *, canal_known: bool, profile: Profile
) -> Finding:
    """The usual drift, and the rigid play with and without the planned screws."""
    numbers = []
    parts = []
    for sense in drift.senses():
        without = blocking.toggle_deg(sense, with_screws=False)
        held = blocking.toggle_deg(sense, with_screws=True)
        if not any(p.sense is sense for p in blocking.plays):
            continue
        numbers += [
            Number(name=f"rigid play toward {sense} without screws", value=without, unit="deg"),
            Number(name=f"rigid play toward {sense} with the planned screws", value=held, unit="deg"),
        ]
        parts.append(f"{sense} {without:.1f} deg without and {held:.1f} deg with the planned screws")
    play = (
        f" A rigid nail leaves room for {'; '.join(parts)}."
        if parts
        else " How far the nail lets it go is not computed: the canal is not traced."
        if not canal_known
        else ""
    )
    over = any(blocking.toggle_deg(s, with_screws=True) > profile.drift_limit_deg for s in drift.senses())
    return Finding(
        id="drift-expected",
        severity=Severity.CAUTION if over else Severity.NOTE,
        words=f"While the {drift.third} third of the {drift.bone} lengthens it tends to drift into "
        f"{drift.frontal} and {drift.sagittal} ({drift.degree}).{play}",
        next_step="Plan blocking screws on the concave sides where the nail leaves a gap, and watch "
        "alignment on "
        "every film.",
        numbers=tuple(numbers),
        rule="The direction is a published tendency; the angle is the play of a rigid nail, not a forecast.",
        source=drift.source,
    )


def level_reason(score: LevelScore, nail: Nail) -> str:
    """Why this level was taken, in words."""
    return (
        f"Osteotomy {score.below_joint_mm:.0f} mm below the proximal joint: {score.reason()}; the first "
        "level, in "
        f"order of cost, at which a nail fits ({nail.name})."
    )


def entry_blocked(bone: Bone, direction: str) -> Finding:
    """Hardware closes the way in."""
    return Finding(
        id="nail-entry-blocked",
        severity=Severity.STOP,
        words=f"Hardware closes the {direction} entry into the {bone}.",
        next_step="Take it out first, choose the other way in, or the other bone.",
        rule="A nail cannot pass hardware that fills the canal at its entry.",
        source=COMMON_PRACTICE,
    )


def nail_reason(first: NailVerdict, others: Sequence[NailVerdict]) -> str:
    """Why this nail was taken, in words."""
    also = f"; {', '.join(v.nail.name for v in others)} would do too" if others else ""
    return (
        f"Nail {first.nail.name}: {first.number('least length'):.1f} mm needed, {first.nail.length_mm:g} mm "
        "taken, "
        f"{first.number('overlap at full length'):.1f} mm of the thick part left in the moving "
        f"fragment{also}."
    )


def turn_disagrees(
    bone: Bone, *, aim: str, turn_deg: float, measured_deg: float, allowed_deg: float, profile: Profile
) -> Finding:
    """The turn that reaches the aim is not the angulation that was measured."""
    return Finding(
        id="turn-disagrees-with-angulation",
        severity=Severity.CAUTION,
        words=f"Bringing {aim} to its target takes a frontal turn of {turn_deg:.1f} deg in the {bone}, but "
        "the "
        f"angulation measured there asks for {measured_deg:.1f} deg (varus +).",
        next_step="Check the apex, the joint lines and the rotation of the leg on the films; the target, or "
        "a "
        "second level, may be wrong.",
        numbers=(
            Number(name="turn to the target", value=turn_deg, unit="deg"),
            Number(name="turn that undoes the angulation", value=measured_deg, unit="deg"),
        ),
        rule=f"Both agree within {allowed_deg:g} deg, twice the tolerance of an angle.",
        source=rule_source(profile, "angle_tolerance_deg"),
    )
