"""Loads along the course: soft-tissue pull by bone, level and length gained, and new bone by day."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from limbwright.error import Missing
from limbwright.limb.anatomy import Bone
from limbwright.mechanics import (
    Region,
    SpatialLoad,
    Stage,
    TissuePull,
    parameter,
    regenerate_stiffness_nm_per_deg,
)
from limbwright.plan.drift import Third
from limbwright.practice.profile import Profile
from limbwright.quantity import Value, require_within

STANDARD_GRAVITY_M_PER_S2 = 9.80665  # exact, by definition
STAGE_MM = 8.0  # spacing of the stages along the lengthening

_ARMS: dict[Region, tuple[tuple[str, float], tuple[str, float]]] = {
    Region.PROXIMAL_TIBIA: (("valgus", -1.0), ("procurvatum", 1.0)),
    Region.MID_TIBIA: (("valgus", -1.0), ("procurvatum", 1.0)),
    Region.DISTAL_TIBIA: (("varus", 1.0), ("procurvatum", 1.0)),
    Region.PROXIMAL_FEMUR: (("varus", 1.0), ("procurvatum", 1.0)),
    Region.MID_FEMUR: (("varus", 1.0), ("procurvatum", 1.0)),
    Region.DISTAL_FEMUR: (("valgus", -1.0), ("procurvatum", 1.0)),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class CourseDay(Value):
    """Length gained by the end of one day."""

    day: float
    """Days since the operation."""
    gained_mm: float
    """Length gained by then [mm]."""


def region_of(bone: Bone, third: Third) -> Region:
    """Bone and level as the table of soft-tissue pull names them."""
    return Region(f"{'mid' if third is Third.MIDDLE else third.value} {bone}")


def tissue_pull_of(profile: Profile, region: Region) -> TissuePull:
    """Soft-tissue pull by the surgeon's numbers; + toward varus and procurvatum."""
    name = region.value.replace(" ", "_")
    (frontal, frontal_sign), (sagittal, sagittal_sign) = _ARMS[region]
    tibia = region.value.endswith("tibia")
    return TissuePull(
        resting_n=profile.tissue_tension_resting_n,
        rate_n_per_mm=profile.tissue_tension_rate_tibia_n_per_mm
        if tibia
        else profile.tissue_tension_rate_femur_n_per_mm,
        curvature_n_per_mm2=profile.tissue_tension_curvature_n_per_mm2,
        frontal_lever_mm=frontal_sign * float(getattr(profile, f"tissue_arm_{name}_{frontal}_mm")),
        sagittal_lever_mm=sagittal_sign * float(getattr(profile, f"tissue_arm_{name}_{sagittal}_mm")),
    )


def walking_load_n(profile: Profile, weight_on_leg_kg: float) -> float:
    """Force along the bone in walking with so much weight on the leg. [N]"""
    step = "Give the weight allowed on the leg in kilograms."
    require_within("weight on the leg", weight_on_leg_kg, 0, 250, "kg", next_step=step)
    return profile.walking_load_factor * weight_on_leg_kg * STANDARD_GRAVITY_M_PER_S2


def stages_of(
    days: Sequence[CourseDay],
    pull: TissuePull,
    profile: Profile,
    *,
    frontal_factor: float = 1.0,
    sagittal_factor: float = 1.0,
    weight_bearing_n: float = 0.0,
) -> tuple[Stage, ...]:
    """Stages of the course from the first millimetre to full length, about every 8 mm.

    Parameters
    ----------
    days : sequence of CourseDay
        In order of day.
    pull : TissuePull
        Soft-tissue pull.
    frontal_factor, sagittal_factor : float
        Factor on the moment of each plane: scenarios of uncertain direction.
    weight_bearing_n : float
        Axial load of walking; 0 for a film without weight.

    Raises
    ------
    Missing
        If no day lengthens.
    """
    gaining = [d for d in days if d.gained_mm > 0]
    if not gaining:
        raise Missing(
            f"no day of lengthening among {len(days)} days.",
            where="forecast of drift",
            next_step="Give the bone a length to gain; without lengthening nothing pulls.",
        )
    total = max(d.gained_mm for d in gaining)
    wanted = np.linspace(0, total, max(3, round(total / STAGE_MM) + 1))[1:]
    chosen = [next(d for d in gaining if d.gained_mm >= gained - 1e-9) for gained in wanted]
    first_day = gaining[0].day
    stages = []
    for day in dict.fromkeys([gaining[0], *chosen]):
        load = pull.load(day.gained_mm, weight_bearing_n=weight_bearing_n)
        stiffness = float(new_bone_nm_per_deg(day.day - first_day, profile))
        stages.append(
            Stage(
                day=day.day,
                lengthening_mm=day.gained_mm,
                load=_turned(load, frontal_factor, sagittal_factor),
                angular_nm_per_deg=stiffness,
                shear_n_per_mm=stiffness * profile.new_bone_shear_ratio,
            )
        )
    return tuple(stages)


def new_bone_nm_per_deg(days_since_start: float, profile: Profile) -> float:
    """Bending stiffness of new bone by the surgeon's numbers. [N m/deg]"""
    return float(
        regenerate_stiffness_nm_per_deg(
            days_since_start,
            start_nm_per_deg=profile.new_bone_start_stiffness_nm_per_deg,
            doubling_days=profile.new_bone_doubling_days,
            healed_nm_per_deg=profile.new_bone_healed_stiffness_nm_per_deg,
        )
    )


def _turned(load: SpatialLoad, frontal_factor: float, sagittal_factor: float) -> SpatialLoad:
    return SpatialLoad(
        frontal=replace(load.frontal, moment_nm=load.frontal.moment_nm * frontal_factor),
        sagittal=replace(load.sagittal, moment_nm=load.sagittal.moment_nm * sagittal_factor),
    )


def relative_spread(name: str) -> float:
    """Half width of a model parameter's range as a share of its default: how unsure it is for one patient."""
    entry = parameter(name)
    return (entry.high - entry.low) / (2 * entry.default)
