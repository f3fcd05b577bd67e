"""What an osteotomy of one bone is to correct: aims in both planes, or nothing beside length."""

from collections.abc import Mapping
from dataclasses import dataclass

from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.reading import Measure
from limbwright.plan.end_alignment import Aim, measure_value
from limbwright.plan.leg import LegModel
from limbwright.plan.situation import BoneSituation
from limbwright.quantity import Value

FRONTAL_AIMS: Mapping[Bone, tuple[Measure, ...]] = {
    Bone.FEMUR: (Measure.MLDFA, Measure.MLPFA),
    Bone.TIBIA: (Measure.MPTA, Measure.LDTA),
}
"""Angles between a bone's joint lines and its mechanical axis; a cut anywhere in the bone changes them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction(Value):
    """What one osteotomy is to achieve beside length."""

    frontal: Aim
    """Frontal plane."""
    sagittal: Aim
    """Sagittal plane."""
    external_deg: float
    """Rotation to give to the distal fragment, external + [deg]."""
    size_deg: float
    """Expected size of the angular correction [deg]."""
    apex_below_joint_mm: float | None
    """Level of the apex; None when nothing is to be corrected or the level is unknown [mm]."""
    needed: bool
    """False when the bone is only lengthened, along its own line."""
    reason: str
    """Why this is aimed at, in words."""
    shift_mm: tuple[float, float] = (0.0, 0.0)
    """Shift to give to the part below beside its turn, lateral + and anterior + [mm]."""


def correction_for(
    leg: LegModel,
    situation: BoneSituation,
    *,
    targets: Mapping[Measure, float],
    tolerance_deg: float,
    sagittal_tolerance_deg: float,
    rotation_tolerance_deg: float,
    correct_alignment: bool,
) -> Correction:
    """What to aim at in one bone.

    Parameters
    ----------
    leg : LegModel
        The leg as it stands.
    situation : BoneSituation
        Angulations of the bone with their levels.
    targets : mapping
        Wanted angles. Aimed at is the frontal angle of the joint nearer to the apex; without a level the one
        farthest from its target, or that at the knee when all lie within tolerance.
    tolerance_deg, sagittal_tolerance_deg, rotation_tolerance_deg : float
        Deviations that are left alone. [deg]
    correct_alignment : bool
        False when only length is wanted.
    """
    frontal_deg, sagittal_deg = situation.frontal_deg, situation.sagittal_deg
    rotation = situation.rotation_deg or 0.0
    view = leg.view(Projection.FRONTAL)
    off = {
        m: value - targets[m]
        for m in FRONTAL_AIMS[situation.bone]
        if m in targets and (value := measure_value(view, m)) is not None
    }
    # Below tolerance a difference says nothing, and the joint at the knee is the one read best.
    worst = max(off, key=lambda m: abs(off[m]) if abs(off[m]) > tolerance_deg else 0.0, default=None)
    apex_mm = _main_apex_mm(situation)
    # An angle answers to a cut near its own joint; one at the other end hardly moves and would ask too much.
    aimed = worst if apex_mm is None else _near_apex(situation, apex_mm, tuple(off)) or worst
    bent = abs(frontal_deg) > tolerance_deg or (worst is not None and abs(off[worst]) > tolerance_deg)
    bowed = leg.has_sagittal and abs(sagittal_deg) > sagittal_tolerance_deg
    turned = abs(rotation) > rotation_tolerance_deg
    lateral_mm, anterior_mm = situation.offset_mm
    shift = (-lateral_mm, -anterior_mm if leg.has_sagittal else 0.0)
    stepped = shift != (0.0, 0.0)
    if not correct_alignment or not (bent or bowed or turned or stepped):
        return Correction(
            frontal=Aim(),
            sagittal=Aim(),
            external_deg=0.0,
            size_deg=0.0,
            apex_below_joint_mm=None,
            needed=False,
            reason="Only length is wanted: the bone is lengthened along its own line."
            if not correct_alignment
            else "Alignment lies within tolerance: the bone is lengthened along its own line.",
        )
    aim = Aim(turn_deg=-frontal_deg)
    reason = f"turn the distal fragment by {abs(frontal_deg):.1f} deg"
    if aimed is not None and (bent or bowed or turned):
        aim = Aim(measure=aimed, value=targets[aimed], turn_deg=-frontal_deg)
        reason = f"{aimed} to {targets[aimed]:.1f} deg (now {targets[aimed] + off[aimed]:.1f})"
    turn_sagittal = -sagittal_deg if leg.has_sagittal else 0.0
    return Correction(
        frontal=aim,
        sagittal=Aim(turn_deg=turn_sagittal),
        external_deg=-rotation if turned else 0.0,
        size_deg=(frontal_deg**2 + (sagittal_deg**2 if leg.has_sagittal else 0.0)) ** 0.5,
        apex_below_joint_mm=apex_mm,
        needed=True,
        reason=f"Aims: {reason} at full length"
        + (f", sagittal turn {abs(turn_sagittal):.1f} deg" if turn_sagittal else "")
        + (f", rotation {abs(rotation):.0f} deg" if turned else "")
        + (f", shift {(shift[0] ** 2 + shift[1] ** 2) ** 0.5:.1f} mm" if stepped else "")
        + ".",
        shift_mm=shift,
    )


def _main_apex_mm(situation: BoneSituation) -> float | None:
    """Level of the largest angulation whose level is known."""
    known = [a for a in situation.angulations if a.below_joint_mm is not None]
    # A step of a millimetre counts like a degree, so that a cut lies at it when nothing is bent more.
    main = max(
        known,
        key=lambda a: abs(a.frontal_deg) + abs(a.sagittal_deg) + abs(a.lateral_mm) + abs(a.anterior_mm),
        default=None,
    )
    return main.below_joint_mm if main is not None else None


def _near_apex(situation: BoneSituation, apex_mm: float, known: tuple[Measure, ...]) -> Measure | None:
    """The known frontal angle whose joint lies nearer to the apex; None when it was not measured."""
    distal_first = situation.bone is Bone.FEMUR
    nearer_distal = apex_mm > situation.length_mm / 2
    measure = FRONTAL_AIMS[situation.bone][0 if nearer_distal is distal_first else 1]
    return measure if measure in known else None
