"""Answers of a profile that depend on the bone, the patient's age or the nail."""

from dataclasses import dataclass

from limbwright.error import OutOfRange, Refused
from limbwright.limb.anatomy import Bone
from limbwright.practice.profile import Profile
from limbwright.quantity import Measured, Value, require_within


@dataclass(frozen=True, slots=True, kw_only=True)
class Rhythm(Value):
    """How a bone is lengthened from the first day on."""

    step_mm: float
    """Length of one step."""
    fast_start_days: int
    """Days of the fast start; 0 for none."""
    fast_start_steps_per_day: int
    """Steps a day in the fast start."""
    steady_steps_per_day: int
    """Steps a day afterwards."""


def _require_long_bone(bone: Bone) -> None:
    if bone is Bone.FIBULA:
        raise OutOfRange(
            "bone is fibula, expected femur or tibia.",
            where="practice profile",
            next_step="Ask for the bone that the nail lengthens.",
        )


def is_child(profile: Profile, age_years: float) -> bool:
    """Whether the child's latency and healing apply at this age."""
    require_within("age", age_years, 0, 120, "years", next_step="Check birth date and date of operation.")
    return age_years < profile.child_below_age_years


def latency_days(profile: Profile, *, bone: Bone, age_years: float) -> float:
    """Days from the operation to the first distraction. [days]"""
    _require_long_bone(bone)
    child = is_child(profile, age_years)
    if bone is Bone.FEMUR:
        return profile.latency_femur_child_days if child else profile.latency_femur_adult_days
    return profile.latency_tibia_child_days if child else profile.latency_tibia_adult_days


def rhythm(profile: Profile, *, bone: Bone) -> Rhythm:
    """Step length, fast start and steady rhythm of a bone."""
    _require_long_bone(bone)
    if bone is Bone.FEMUR:
        return Rhythm(
            step_mm=profile.distraction_step_mm,
            fast_start_days=profile.fast_start_days_femur,
            fast_start_steps_per_day=profile.fast_start_steps_per_day_femur,
            steady_steps_per_day=profile.steady_steps_per_day_femur,
        )
    return Rhythm(
        step_mm=profile.distraction_step_mm,
        fast_start_days=profile.fast_start_days_tibia,
        fast_start_steps_per_day=profile.fast_start_steps_per_day_tibia,
        steady_steps_per_day=profile.steady_steps_per_day_tibia,
    )


def max_lengthening_mm(profile: Profile, *, bone: Bone, bone_length_mm: float) -> float:
    """Most that a bone of this length is lengthened in one stage: the lesser of length and share. [mm]"""
    _require_long_bone(bone)
    by_length = profile.max_lengthening_femur_mm if bone is Bone.FEMUR else profile.max_lengthening_tibia_mm
    return min(by_length, profile.max_lengthening_percent_of_bone / 100 * bone_length_mm)


def osteotomy_margins_mm(profile: Profile, *, bone: Bone) -> tuple[float, float]:
    """Least distance of an osteotomy from the bone's proximal and from its distal joint reference. [mm]

    The femur's proximal reference is the tip of the greater trochanter; all others are joint lines.
    """
    _require_long_bone(bone)
    if bone is Bone.FEMUR:
        return profile.osteotomy_min_to_hip_mm, profile.osteotomy_min_above_knee_mm
    return profile.osteotomy_min_below_knee_mm, profile.osteotomy_min_above_ankle_mm


def weight_limit_kg(profile: Profile, *, thick_diameter_mm: float) -> float:
    """Weight allowed on the leg while lengthening, for a nail whose catalogue gives no limit. [kg]

    A diameter between two listed ones takes the limit of the thinner, which is the safer.

    Raises
    ------
    Refused
        If the nail is thinner than any listed diameter; a limit would be a guess.
    """
    for listed_mm, limit_kg in (
        (12.5, profile.weight_limit_12_5_mm_kg),
        (10.7, profile.weight_limit_10_7_mm_kg),
        (8.5, profile.weight_limit_8_5_mm_kg),
    ):
        if thick_diameter_mm >= listed_mm:
            return limit_kg
    raise Refused(
        f"no weight limit is known for a nail of {thick_diameter_mm:g} mm; the thinnest listed is 8.5 mm.",
        where="practice profile",
        next_step="Enter the maker's weight limit in the nail catalogue.",
    )


def healing_index_days_per_cm(
    profile: Profile, *, bone: Bone, retrograde: bool, age_years: float
) -> Measured:
    """Days from operation to consolidation per centimetre gained, with its spread between patients.

    Parameters
    ----------
    profile : Profile
        The surgeon's numbers.
    bone : Bone
        Femur or tibia.
    retrograde : bool
        True for a nail that enters the femur at the knee; without meaning for the tibia.
    age_years : float
        Age at operation. [years]
    """
    _require_long_bone(bone)
    if bone is Bone.TIBIA:
        mean, sd = profile.healing_index_tibia_days_per_cm, profile.healing_index_tibia_sd_days_per_cm
    elif retrograde:
        mean = profile.healing_index_femur_retrograde_days_per_cm
        sd = profile.healing_index_femur_retrograde_sd_days_per_cm
    else:
        mean = profile.healing_index_femur_antegrade_days_per_cm
        sd = profile.healing_index_femur_antegrade_sd_days_per_cm
    share = profile.healing_child_factor if is_child(profile, age_years) else 1.0
    return Measured(value=mean * share, sd=sd * share, unit="days/cm")


def tibial_nail_min_age_years(profile: Profile, *, girl: bool) -> float:
    """Least calendar age for a tibial nail when no skeletal age is known. [years]"""
    return profile.tibial_nail_min_age_girl_years if girl else profile.tibial_nail_min_age_boy_years
