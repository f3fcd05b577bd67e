"""How a length is shared between femur and tibia, and between operations."""

import math

from limbwright.limb.anatomy import Bone
from limbwright.practice.profile import Profile

HAIR = 1e-9  # a length at its limit but for rounding is at its limit


def shared_lengthening_mm(
    *,
    need_mm: float,
    femur_short_mm: float,
    lower_leg_short_mm: float,
    femur_limit_mm: float,
    tibia_limit_mm: float,
    knee_height_tolerance_mm: float,
) -> tuple[float, float]:
    """Lengthening of femur and tibia when both are lengthened: length goes where the shortening is.

    Parameters
    ----------
    need_mm : float
        Length to gain in all, not negative. [mm]
    femur_short_mm, lower_leg_short_mm : float
        Shortening of the femur, and of tibia and foot together; a longer one (negative) takes no share. [mm]
    femur_limit_mm, tibia_limit_mm : float
        Most that each bone is lengthened in one stage. [mm]
    knee_height_tolerance_mm : float
        Difference of knee height that may be made on purpose to spare an operation. [mm]

    Returns
    -------
    tuple of float
        Femur, tibia; their sum is `need_mm`. [mm]

    Notes
    -----
    Shares are proportional to the shortening. Where one bone's share passes its limit, the excess moves to
    the other bone if that bone has room for all of it and the knee height stays within tolerance; otherwise
    it stays, and the bone is lengthened in stages.
    """
    femur_short, lower_short = max(femur_short_mm, 0.0), max(lower_leg_short_mm, 0.0)
    whole = femur_short + lower_short
    femur = need_mm * (femur_short / whole) if whole > 0 else 0.0  # the share first: it is never above 1
    tibia = need_mm - femur
    over_femur, over_tibia = femur - femur_limit_mm, tibia - tibia_limit_mm
    if 0 < over_femur <= min(-over_tibia, knee_height_tolerance_mm):
        return femur - over_femur, tibia + over_femur
    if 0 < over_tibia <= min(-over_femur, knee_height_tolerance_mm):
        return femur + over_tibia, tibia - over_tibia
    return femur, tibia


def stages_needed(lengthening_mm: float, limit_mm: float) -> int:
    """Operations in which one bone reaches a length without passing its limit; 0 for no lengthening."""
    return math.ceil(lengthening_mm / limit_mm - HAIR)


def percent_of_bone(lengthening_mm: float, bone_length_mm: float) -> float:
    """Lengthening as a share of the bone's present length. [%]"""
    return 100 * lengthening_mm / bone_length_mm


def stage_limit_mm(profile: Profile, bone: Bone) -> float:
    """Most millimetres a bone is lengthened in one stage, before its length is looked at. [mm]"""
    return profile.max_lengthening_femur_mm if bone is Bone.FEMUR else profile.max_lengthening_tibia_mm
