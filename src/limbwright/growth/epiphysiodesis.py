"""When to stop growth at the knee of the longer leg so that the legs end alike."""

from collections.abc import Mapping

from limbwright.error import OutOfRange, Refused
from limbwright.growth.growth import (
    Physis,
    Sex,
    growth_ends_years,
    growth_rate_mm_per_year,
    growth_rule_from_years,
    share_of_bone,
)
from limbwright.growth.multiplier import age_at_multiplier_years
from limbwright.quantity import require_within

KNEE = (Physis.DISTAL_FEMUR, Physis.PROXIMAL_TIBIA)


def epiphysiodesis_age_years(
    *, wanted_mm: float, bone_length_at_maturity_mm: Mapping[Physis, float], sex: Sex
) -> float:
    """Calendar age at which to stop one or both knee physes, by the multiplier. [years]

    Parameters
    ----------
    wanted_mm : float
        Length that the longer leg should not gain. [mm]
    bone_length_at_maturity_mm : mapping of Physis to float
        For each physis to be stopped, the undisturbed length at maturity of its bone. [mm]
    sex : Sex
        Sex.

    Raises
    ------
    OutOfRange
        If a physis is not at the knee, or none is given.
    Refused
        If so much cannot be held back.

    Notes
    -----
    With one physis: G = wanted / share, length at stopping L = Lm − G, M = Lm / L, age from the table. With
    two, the same M for both bones: M = 1 / (1 − wanted / Σ share·Lm).
    """
    _require_knee(tuple(bone_length_at_maturity_mm))
    require_within("length to hold back", wanted_mm, 0, 200, "mm", next_step="Give it in millimetres.")
    for physis, length_mm in bone_length_at_maturity_mm.items():
        require_within(
            f"{physis.bone} length at maturity",
            length_mm,
            100,
            700,
            "mm",
            next_step="Give it in millimetres.",
        )
    reach_mm = sum(share_of_bone(p) * length_mm for p, length_mm in bone_length_at_maturity_mm.items())
    left_share = 1 - wanted_mm / reach_mm
    # below this the stop would come before birth, or never suffice
    if left_share <= 0.25:
        raise Refused(
            f"{wanted_mm:g} mm cannot be held back by stopping {' and '.join(bone_length_at_maturity_mm)}.",
            where="epiphysiodesis",
            next_step="Hold back less, or combine it with lengthening of the shorter leg.",
        )
    return age_at_multiplier_years(sex, 1 / left_share)


def epiphysiodesis_skeletal_age_years(*, wanted_mm: float, physes: tuple[Physis, ...], sex: Sex) -> float:
    """Skeletal age at which to stop one or both knee physes, by the arithmetic rule. [years]

    Parameters
    ----------
    wanted_mm : float
        Length that the longer leg should not gain. [mm]
    physes : tuple of Physis
        Physes to be stopped, at the knee.
    sex : Sex
        Sex.

    Raises
    ------
    Refused
        If that would be before the last six years of growth, for which the yearly rates are not meant.
    """
    _require_knee(physes)
    require_within("length to hold back", wanted_mm, 0, 200, "mm", next_step="Give it in millimetres.")
    years = growth_ends_years(sex) - wanted_mm / sum(growth_rate_mm_per_year(p) for p in physes)
    if years < growth_rule_from_years(sex):
        raise Refused(
            f"{wanted_mm:g} mm would need a stop at a skeletal age of {years:.1f} years; the arithmetic "
            f"rule is used from {growth_rule_from_years(sex):g} years ({sex}).",
            where="epiphysiodesis",
            next_step="Use the multiplier method, or hold back less.",
        )
    return years


def _require_knee(physes: tuple[Physis, ...]) -> None:
    if not physes or any(p not in KNEE for p in physes) or len(set(physes)) != len(physes):
        raise OutOfRange(
            f"physes to stop are {', '.join(physes) or 'none'}, expected {' or '.join(KNEE)}, each once.",
            where="epiphysiodesis",
            next_step="Name the physes at the knee that are to be stopped.",
        )
