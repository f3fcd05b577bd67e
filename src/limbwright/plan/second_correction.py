"""What each of two osteotomies of one bone is to correct."""

from collections.abc import Mapping
from dataclasses import replace

from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.reading import Measure
from limbwright.plan.correction import FRONTAL_AIMS, Correction
from limbwright.plan.end_alignment import Aim, measure_value
from limbwright.plan.leg import LegModel
from limbwright.plan.level_pair import size_deg
from limbwright.plan.situation import Angulation, BoneSituation
from limbwright.practice.profile import Profile

NOTHING = Correction(
    frontal=Aim(),
    sagittal=Aim(),
    external_deg=0.0,
    size_deg=0.0,
    apex_below_joint_mm=None,
    needed=False,
    reason="nothing to correct",
)


def corrections_of_two(
    leg: LegModel,
    situation: BoneSituation,
    apexes: tuple[Angulation | None, Angulation | None],
    *,
    upper_lengthens: bool,
    targets: Mapping[Measure, float],
    profile: Profile,
    correct_alignment: bool,
) -> tuple[Correction, Correction]:
    """What the upper and the lower osteotomy are to achieve beside length.

    Parameters
    ----------
    apexes : pair of Angulation or None
        What is bent at each level; None where that osteotomy corrects nothing.
    upper_lengthens : bool
        Whether the upper osteotomy is lengthened; rotation is corrected there, where the ends do not have to
        stay in contact.
    targets : mapping
        Wanted angles. With an apex beyond tolerance at both levels, each of the bone's two joint angles is
        aimed at by the level next to its joint; with one, its own joint's angle by that level alone.

    Notes
    -----
    A level next to whose joint no angle was measured is turned by what undoes its own angulation.
    """
    if not correct_alignment:
        return NOTHING, NOTHING
    view = leg.view(Projection.FRONTAL)
    measured = {m: v for m in FRONTAL_AIMS[situation.bone] if (v := measure_value(view, m)) is not None}
    bent = [a is not None and abs(a.frontal_deg) > profile.angle_tolerance_deg for a in apexes]
    rotation = situation.rotation_deg or 0.0
    turned = abs(rotation) > profile.rotation_tolerance_deg
    found = []
    for i, apex in enumerate(apexes):
        lengthens = upper_lengthens is (i == 0)
        external = -rotation if turned and lengthens else 0.0
        if apex is None:
            needed = external != 0.0
            reason = f"rotation {abs(rotation):.0f} deg" if needed else NOTHING.reason
            found.append(replace(NOTHING, external_deg=external, needed=needed, reason=reason))
            continue
        measure = _aimed(situation, apex, upper=i == 0, alone=not all(bent)) if bent[i] else None
        aim = Aim(turn_deg=-apex.frontal_deg)
        reason = f"turn the part below by {abs(apex.frontal_deg):.1f} deg"
        if measure is not None and measure in targets and measure in measured:
            aim = replace(aim, measure=measure, value=targets[measure])
            reason = f"{measure} to {targets[measure]:.1f} deg (now {measured[measure]:.1f})"
        sagittal = -apex.sagittal_deg if leg.has_sagittal else 0.0
        found.append(
            Correction(
                frontal=aim,
                sagittal=Aim(turn_deg=sagittal),
                external_deg=external,
                size_deg=size_deg(apex, has_sagittal=leg.has_sagittal),
                apex_below_joint_mm=apex.below_joint_mm,
                needed=True,
                reason=reason
                + (f", sagittal turn {abs(sagittal):.1f} deg" if sagittal else "")
                + (f", rotation {abs(rotation):.0f} deg" if external else ""),
            )
        )
    steps = _steps(situation, apexes, has_sagittal=leg.has_sagittal)
    upper, lower = (
        correction
        if shift == (0.0, 0.0)
        else replace(
            correction,
            shift_mm=shift,
            needed=True,
            reason=f"{correction.reason}, shift {(shift[0] ** 2 + shift[1] ** 2) ** 0.5:.1f} mm",
        )
        for correction, shift in zip(found, steps, strict=True)
    )
    return upper, lower


def _steps(
    situation: BoneSituation, apexes: tuple[Angulation | None, Angulation | None], *, has_sagittal: bool
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Shifts that take out steps between parallel parts, each at the level whose apex is nearer. [mm]"""
    shifts = [[0.0, 0.0], [0.0, 0.0]]
    levels = [None if a is None else a.below_joint_mm for a in apexes]
    for step in situation.angulations:
        at = step.below_joint_mm
        known = [i for i, level in enumerate(levels) if level is not None]
        nearest = 1 if at is None or not known else min(known, key=lambda i: abs((levels[i] or 0.0) - at))
        shifts[nearest][0] -= step.lateral_mm
        shifts[nearest][1] -= step.anterior_mm if has_sagittal else 0.0
    return (shifts[0][0], shifts[0][1]), (shifts[1][0], shifts[1][1])


def _aimed(situation: BoneSituation, apex: Angulation, *, upper: bool, alone: bool) -> Measure:
    """The joint angle a level answers for: its own joint's, or when it is alone the nearer one's."""
    if alone and apex.below_joint_mm is not None:
        upper = apex.below_joint_mm <= situation.length_mm / 2
    at_knee, at_other_end = FRONTAL_AIMS[situation.bone]
    knee_is_upper = situation.bone is Bone.TIBIA
    return at_knee if upper is knee_is_upper else at_other_end
