"""Soft-tissue pull that grows with lengthening, by bone and level; and new bone that stiffens with time."""

from dataclasses import dataclass
from enum import StrEnum
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from limbwright.error import OutOfRange
from limbwright.mechanics.load import Load, SpatialLoad
from limbwright.mechanics.parameters import parameter
from limbwright.mechanics.plane import Plane
from limbwright.published import table
from limbwright.quantity import Value

Reals = NDArray[np.float64]


class Region(StrEnum):
    """Bone and level of the osteotomy."""

    PROXIMAL_TIBIA = "proximal tibia"
    MID_TIBIA = "mid tibia"
    DISTAL_TIBIA = "distal tibia"
    PROXIMAL_FEMUR = "proximal femur"
    MID_FEMUR = "mid femur"
    DISTAL_FEMUR = "distal femur"


class Level(StrEnum):
    """Which column of a lever arm to take."""

    LOW = "low"
    DEFAULT = "default"
    HIGH = "high"


@cache
def lever_arm_mm(region: Region, plane: Plane, level: Level = Level.DEFAULT) -> float:
    """Lever arm of the soft-tissue tension; + pulls toward varus or procurvatum. [mm]

    The direction is published, the size is engineering judgement (see the table's source column).
    """
    for row in table("mechanics", "tissue_pull"):
        if row.text("region") == region and row.text("plane") == plane:
            sign = 1.0 if row.text("direction") in {"varus", "procurvatum"} else -1.0
            return sign * row.number(level)
    raise OutOfRange(
        f"no soft-tissue pull is tabulated for {region} in the {plane} plane.",
        where="mechanics/tables/tissue_pull.csv",
        next_step="Give the moment yourself.",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class TissuePull(Value):
    """Tension of the soft tissue against lengthening, and where it pulls."""

    resting_n: float
    """Tension before lengthening."""
    rate_n_per_mm: float
    """Growth per millimetre of lengthening."""
    curvature_n_per_mm2: float
    """Quadratic growth; passive muscle stiffens as it is stretched."""
    frontal_lever_mm: float
    """Lever arm in the frontal plane, + toward varus."""
    sagittal_lever_mm: float
    """Lever arm in the sagittal plane, + toward procurvatum."""

    def tension_n(self, lengthening_mm: ArrayLike) -> Reals:
        """Tension at each lengthening. [N]"""
        gained = np.asarray(lengthening_mm, dtype=np.float64)
        return np.asarray(self.resting_n + self.rate_n_per_mm * gained + self.curvature_n_per_mm2 * gained**2)

    def load(
        self, lengthening_mm: float, *, weight_bearing_n: float = 0.0, frontal_moment_nm: float = 0.0
    ) -> SpatialLoad:
        """Load at one lengthening: moments tension x lever arm, axial compression tension + weight bearing.

        weight_bearing_n : axial load of walking carried by the nail. frontal_moment_nm : its moment toward
        varus.
        """
        tension = float(self.tension_n(lengthening_mm))
        axial = tension + weight_bearing_n
        return SpatialLoad(
            frontal=Load(moment_nm=1e-3 * tension * self.frontal_lever_mm + frontal_moment_nm, axial_n=axial),
            sagittal=Load(moment_nm=1e-3 * tension * self.sagittal_lever_mm, axial_n=axial),
        )


def tissue_pull(region: Region, level: Level = Level.DEFAULT) -> TissuePull:
    """Tabulated pull on a moving fragment, at the low, default or high end of its lever arms and growth."""
    bone = "femur" if region.value.endswith("femur") else "tibia"
    rate, resting = parameter(f"tension_rate_{bone}"), parameter("resting_tension")
    curvature = parameter("tension_curvature")
    return TissuePull(
        resting_n=float(getattr(resting, level.value)),
        rate_n_per_mm=float(getattr(rate, level.value)),
        curvature_n_per_mm2=float(getattr(curvature, level.value)),
        frontal_lever_mm=lever_arm_mm(region, Plane.FRONTAL, level),
        sagittal_lever_mm=lever_arm_mm(region, Plane.SAGITTAL, level),
    )


def regenerate_stiffness_nm_per_deg(
    days_since_distraction_began: ArrayLike,
    *,
    start_nm_per_deg: float | None = None,
    doubling_days: float | None = None,
    healed_nm_per_deg: float | None = None,
) -> Reals:
    """Bending stiffness of new bone by day: exponential, levelling off at twice the healed value.

    Parameters
    ----------
    days_since_distraction_began : scalar or (n,)
        Days; before 0 there is no new bone.
    start_nm_per_deg, doubling_days, healed_nm_per_deg : float, optional
        Defaults from the parameter table, where start and doubling time are engineering judgement.

    Notes
    -----
    k = k0 2^(t/T) / (1 + k0 2^(t/T) / (2 k_healed)).
    """
    day = np.asarray(days_since_distraction_began, dtype=np.float64)
    k0 = parameter("regenerate_start_stiffness").default if start_nm_per_deg is None else start_nm_per_deg
    doubling = parameter("regenerate_doubling_time").default if doubling_days is None else doubling_days
    healed = (
        parameter("regenerate_healed_stiffness").default if healed_nm_per_deg is None else healed_nm_per_deg
    )
    growing = k0 * np.exp2(np.minimum(day, 3650.0) / doubling)
    return np.asarray(np.where(day < 0, 0.0, growing / (1.0 + growing / (2.0 * healed))))
