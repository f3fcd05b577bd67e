"""Findings about one or two osteotomies of a bone: what they cost, what holds the middle fragment."""

from collections.abc import Sequence

from limbwright.finding import Finding, Number, Severity
from limbwright.limb.anatomy import Bone
from limbwright.plan.decision import BonePlan, MiddleHold
from limbwright.plan.level_pair import LevelsWanted, size_deg
from limbwright.plan.nail_fit import NailVerdict
from limbwright.plan.rule import rule_source
from limbwright.plan.situation import Angulation
from limbwright.practice.profile import Profile
from limbwright.published import COMMON_PRACTICE, Source, Status

HELD_BY_NAIL = Source(
    text="rigid fragments on a nail that is locked at both ends: what is not tied to either side is free to "
    "slide and to turn about it",
    status=Status.DERIVED,
)


def two_osteotomies(plan: BonePlan, wanted: LevelsWanted) -> Finding:
    """What a second cut of the same bone costs."""
    length = plan.middle_length_mm
    return Finding(
        id="two-osteotomies",
        severity=Severity.CAUTION,
        words=f"The {plan.bone} is cut twice; {length:.0f} mm lie between the cuts. {wanted.reason} The "
        "middle "
        "fragment is reamed and cut at both ends, so that it lives from its soft tissues alone; a second "
        "site "
        "has to heal, and it needs a fixation of its own.",
        next_step="Keep the soft tissues on the middle fragment and weigh one osteotomy with what it "
        "would leave.",
        numbers=(Number(name="length of the middle fragment", value=length, unit="mm"),),
        rule="Two osteotomies of one bone are planned only where one does not do.",
        source=COMMON_PRACTICE,
    )


def middle_short(plan: BonePlan, profile: Profile) -> Finding:
    """The middle fragment is shorter than the practice accepts."""
    length, least = plan.middle_length_mm, profile.middle_fragment_min_mm
    return Finding(
        id="middle-fragment-short",
        severity=Severity.STOP,
        words=f"Only {length:.0f} mm of the {plan.bone} lie between the two osteotomies; {least:g} mm are "
        "wanted.",
        next_step="Move the levels apart, or correct with one osteotomy and accept what it leaves.",
        numbers=(Number(name="length of the middle fragment", value=length, unit="mm"),),
        rule="A middle fragment is long enough to be held and to stay alive.",
        source=rule_source(profile, "middle_fragment_min_mm"),
    )


def middle_hold(plan: BonePlan, verdict: NailVerdict) -> Finding | None:
    """What ties the middle fragment, and which part of the nail passes the second osteotomy."""
    second = plan.second
    if second is None:
        return None
    grip = verdict.number("thick part in the middle fragment at full length")
    start = verdict.number("thick part past the second osteotomy at the start")
    end = verdict.number("thick part past the second osteotomy at full length")
    moves = second.osteotomy.depth_mm > plan.osteotomy.depth_mm
    stays = "moving" if moves else "entry-side"
    if end > 0:
        passage = f"the thick part passes the second osteotomy all the way ({end:.0f} mm at full length)"
    elif start > 0:
        passage = (
            f"the thick part passes the second osteotomy by {start:.0f} mm at the start and leaves it after "
            f"{start:.0f} mm of lengthening; from then on only the thin part bridges it"
        )
    else:
        passage = "only the thin part bridges the second osteotomy"
    held = (
        f"{verdict.number('locking holes in the middle fragment'):.0f} locking hole(s) of the nail lie in "
        "the "
        "middle fragment"
        if second.hold is MiddleHold.LOCKED
        else "no locking hole of the nail lies in the middle fragment: a plate beside the nail has to tie "
        "it, for passage and blocking screws stop neither sliding nor turning"
    )
    return Finding(
        id="middle-fragment-hold",
        severity=Severity.NOTE if second.hold is MiddleHold.LOCKED and end > 0 else Severity.CAUTION,
        words=f"The middle fragment of the {plan.bone} stays with the {stays} fragment, or the second "
        "osteotomy "
        f"opens in place of the first: {held}. {grip:.0f} mm of the thick part lie in it at full length; "
        f"{passage}.",
        next_step="Fix the second osteotomy, closed, before the first turn of the nail; check on every "
        "film that "
        "it stays closed. Room for a plate and its screws is not computed.",
        numbers=(
            Number(name="thick part in the middle fragment at full length", value=grip, unit="mm"),
            Number(name="thick part past the second osteotomy at full length", value=end, unit="mm"),
        ),
        rule="A nail lengthens one gap; a fragment between its locked ends has to be tied to one side.",
        source=HELD_BY_NAIL,
    )


def second_not_forecast(plan: BonePlan) -> Finding:
    """The mechanical model knows one gap."""
    return Finding(
        id="second-osteotomy-not-forecast",
        severity=Severity.NOTE,
        words=f"Drift of the {plan.bone} is computed at the osteotomy that is lengthened. The second one "
        "is taken "
        "as fixed and rigid; what moves there is not in any number.",
        next_step="Read both osteotomies on every film.",
        rule="The model of a nail in its canal has two rigid fragments and one gap.",
        source=HELD_BY_NAIL,
    )


def nothing_at_second(plan: BonePlan) -> Finding:
    """A second osteotomy that corrects nothing."""
    return Finding(
        id="second-osteotomy-corrects-nothing",
        severity=Severity.CAUTION,
        words=f"The second osteotomy of the {plan.bone} corrects nothing: no apex beyond tolerance is "
        "left for it.",
        next_step="Plan one osteotomy, unless there is a reason that the films do not show.",
        rule="A bone is not cut where nothing is corrected or lengthened.",
        source=COMMON_PRACTICE,
    )


def no_second_level(bone: Bone, wanted: LevelsWanted, why: Sequence[str], *, stop: bool) -> Finding:
    """Two osteotomies were wanted and cannot be planned."""
    return Finding(
        id="no-two-osteotomies",
        severity=Severity.STOP if stop else Severity.CAUTION,
        words=f"Two osteotomies of the {bone} cannot be planned: {' '.join(why)} {wanted.reason}",
        next_step="Give other levels, lengthen less, add nails to the catalogue, or correct one apex in "
        "another "
        "operation."
        if stop
        else "Weigh the plan with one osteotomy and the apex it leaves, or give both levels by hand.",
        rule="Both levels lie in free bone, leave a long enough middle fragment and fit one nail.",
        source=COMMON_PRACTICE,
    )


def apexes_left(
    bone: Bone, left: Sequence[Angulation], profile: Profile, *, has_sagittal: bool, cuts: int
) -> Finding:
    """Apexes beyond tolerance that a plan leaves, or takes out at another level."""
    which = ", ".join(
        f"{size_deg(a, has_sagittal=has_sagittal):.1f} deg"
        + (" at an unknown level" if a.below_joint_mm is None else f" at {a.below_joint_mm:.0f} mm")
        for a in left
    )
    how = "one osteotomy" if cuts == 1 else "two osteotomies"
    return Finding(
        id="apex-left",
        severity=Severity.CAUTION,
        words=f"The {bone} has more apexes beyond tolerance than {how} can take out where they lie "
        f"({which} below "
        "the joint). The joint lines are brought to their targets; a bend stays in the bone between them, "
        "and the "
        "nail's straight line has to pass it.",
        next_step="Compare with two osteotomies (goal: osteotomies 2) and look at the canal along the nail."
        if cuts == 1
        else "Look at the canal along the nail, or correct the rest in another operation.",
        numbers=tuple(
            Number(name="angle of an apex", value=size_deg(a, has_sagittal=has_sagittal), unit="deg")
            for a in left
        ),
        rule="An apex that is not cut stays in its fragment.",
        source=rule_source(
            profile, "angle_tolerance_deg", "sagittal_tolerance_deg", "middle_fragment_min_mm"
        ),
    )
