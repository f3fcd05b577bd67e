"""Where to cut: levels scored by apex, bone quality, joints and hardware, and what a millimetre off costs.

Levels lie along the bone as it stands: on the straight line between its joint centres, counted from the
proximal one (femur: head centre).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from limbwright.error import OutOfRange
from limbwright.limb.anatomy import Bone
from limbwright.limb.hinge import cut_axial_mm, cut_shift_mm
from limbwright.plan.circumstances import BoneQuality, Zone, ZoneQuality
from limbwright.plan.hardware_limits import Interval
from limbwright.plan.leg import JOINT_CENTRES, LegModel
from limbwright.plan.motion import Floats, unit
from limbwright.quantity import Value

ZONES = tuple(Zone)
POOR = (BoneQuality.SCLEROTIC, BoneQuality.OSTEOPENIC, BoneQuality.SCARRED)


def width_in_contact(shift_mm: npt.ArrayLike, width_mm: npt.ArrayLike) -> Floats:
    """Share of the bone's width still in contact after a sideways shift, 0 to 1."""
    share: Floats = np.clip(1 - np.abs(np.asarray(shift_mm)) / np.asarray(width_mm), 0.0, 1.0)
    return share


def area_in_contact(
    shift_lateral_mm: npt.ArrayLike,
    shift_anterior_mm: npt.ArrayLike,
    width_frontal_mm: npt.ArrayLike,
    width_sagittal_mm: npt.ArrayLike,
) -> Floats:
    """Share of two equal elliptical cut faces that overlap after a shift, 0 to 1.

    Notes: scaled to unit circles at distance δ, the lens is (2·acos(δ/2) - δ/2·sqrt(4 - δ²)) / π.
    """
    distance = np.hypot(
        2 * np.asarray(shift_lateral_mm) / np.asarray(width_frontal_mm),
        2 * np.asarray(shift_anterior_mm) / np.asarray(width_sagittal_mm),
    )
    d = np.clip(distance, 0.0, 2.0)
    share: Floats = (2 * np.arccos(d / 2) - d / 2 * np.sqrt(4 - d**2)) / np.pi
    return share


@dataclass(frozen=True, slots=True, kw_only=True)
class OffApex(Value):
    """What cutting at one distance from the apex costs."""

    off_apex_mm: float
    """Distance of the cut from the apex along the bone, distal + [mm]."""
    translation_mm: float
    """Sideways shift of the bone ends [mm]."""
    axial_loss_mm: float
    """Movement of the bone ends along the bone [mm]."""
    contact_percent: float
    """Share of the bone's width left in contact [%]."""


def off_apex_table(
    *, correction_deg: float, bone_width_mm: float, distances_mm: Sequence[float]
) -> tuple[OffApex, ...]:
    """Consequence of each distance from the apex.

    Parameters
    ----------
    correction_deg : float
        Size of the correction in its own plane. [deg]
    bone_width_mm : float
        Outer width of the bone at the cut. [mm]
    distances_mm : sequence of float
        Distances from the apex, distal +. [mm]
    """
    return tuple(
        OffApex(
            off_apex_mm=d,
            translation_mm=cut_shift_mm(cut_from_apex_mm=d, correction_deg=correction_deg),
            axial_loss_mm=cut_axial_mm(cut_from_apex_mm=d, correction_deg=correction_deg),
            contact_percent=100
            * float(
                width_in_contact(
                    cut_shift_mm(cut_from_apex_mm=d, correction_deg=correction_deg), bone_width_mm
                )
            ),
        )
        for d in distances_mm
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneLine(Value):
    """The straight line between a bone's joint centres, along which levels are counted."""

    bone: Bone
    """Which bone."""
    upper_mm: tuple[float, float, float]
    """Proximal joint centre, leg frame [mm]."""
    lower_mm: tuple[float, float, float]
    """Distal joint centre, leg frame [mm]."""

    @property
    def length_mm(self) -> float:
        """Distance between the joint centres. [mm]"""
        return float(np.linalg.norm(np.subtract(self.lower_mm, self.upper_mm)))

    def direction(self) -> Floats:
        """Unit direction toward distal, (3,)."""
        return unit(np.subtract(self.lower_mm, self.upper_mm))

    def below_joint_mm(self, point_mm: npt.ArrayLike) -> float:
        """Level of a point below the proximal joint centre. [mm]"""
        return float((np.asarray(point_mm, dtype=float) - np.array(self.upper_mm)) @ self.direction())

    def above_distal_joint_mm(self, point_mm: npt.ArrayLike) -> float:
        """Level of a point above the distal joint centre. [mm]"""
        return self.length_mm - self.below_joint_mm(point_mm)

    def point_mm(self, below_joint_mm: float) -> Floats:
        """The point of the line at a level, (3,). [mm]"""
        return np.array(self.upper_mm) + below_joint_mm * self.direction()


def bone_line(leg: LegModel, bone: Bone) -> BoneLine:
    """The line of levels of one bone.

    Raises
    ------
    Missing
        If one of its joint centres is not marked.
    """
    upper, lower = (leg.place_mm(centre) for centre in JOINT_CENTRES[bone])
    return BoneLine(bone=bone, upper_mm=tuple(upper.tolist()), lower_mm=tuple(lower.tolist()))


def zone_at(below_joint_mm: float, length_mm: float) -> Zone:
    """Fifth of the bone that a level lies in."""
    if not 0 <= below_joint_mm <= length_mm:
        raise OutOfRange(
            f"level {below_joint_mm:.1f} mm lies outside the bone of {length_mm:.1f} mm.",
            where="osteotomy level",
            next_step="Give a level between the two joint lines.",
        )
    return ZONES[min(int(5 * below_joint_mm / length_mm), 4)]


def quality_at(zone: Zone, bone: Bone, judged: Sequence[ZoneQuality]) -> BoneQuality:
    """Bone quality of a zone; good unless judged otherwise."""
    return next((q.quality for q in judged if q.bone is bone and q.zone is zone), BoneQuality.GOOD)


def into_shaft(below_joint_mm: npt.ArrayLike, length_mm: float) -> Floats:
    """How far a level lies in diaphyseal bone: 0 in the metaphyseal fifths, rising to 1 a tenth beyond.

    The ramp stands for a border that no one can point to; one tenth of the bone is our judgement.
    """
    share = np.asarray(below_joint_mm, dtype=float) / length_mm
    depth: Floats = np.clip(np.minimum(share - 0.2, 0.8 - share) / 0.1, 0.0, 1.0)
    return depth


def level_cost_mm(
    below_joint_mm: npt.ArrayLike,
    *,
    length_mm: float,
    apex_below_joint_mm: float | None,
    near_apex_mm: float,
    metaphysis_preference_mm: float,
    poor_bone: npt.ArrayLike,
) -> Floats:
    """Cost of cutting at each level, as the distance from the apex it is worth. [mm]

    Parameters
    ----------
    below_joint_mm : (n,)
        Levels.
    apex_below_joint_mm : float or None
        Level of the apex; None when nothing is to be corrected.
    near_apex_mm : float
        Distance within which the cut counts as at the apex.
    metaphysis_preference_mm : float
        Distance from the apex that is accepted to avoid diaphyseal bone; poor bone costs the same again.
    poor_bone : (n,)
        1 where the bone is sclerotic, osteopenic or scarred, 0 elsewhere.
    """
    levels = np.asarray(below_joint_mm, dtype=float)
    away = np.zeros_like(levels) if apex_below_joint_mm is None else np.abs(levels - apex_below_joint_mm)
    cost: Floats = np.maximum(away - near_apex_mm, 0.0) + metaphysis_preference_mm * (
        into_shaft(levels, length_mm) + np.asarray(poor_bone, dtype=float)
    )
    return cost


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelScore(Value):
    """One level at which the bone may be cut."""

    below_joint_mm: float
    """Level below the bone's proximal joint centre [mm]."""
    zone: Zone
    """Fifth of the bone."""
    quality: BoneQuality
    """Bone quality there."""
    off_apex_mm: float | None
    """Distance from the apex, distal +; None without one [mm]."""
    translation_mm: float
    """Sideways shift expected there [mm]."""
    cost_mm: float
    """Cost, as the distance from the apex it is worth [mm]."""

    def reason(self) -> str:
        """Why this level is better or worse, in words."""
        where = f"{self.zone}, {self.quality} bone"
        if self.off_apex_mm is None:
            return f"{where}; no deformity to correct"
        side = "distal to" if self.off_apex_mm > 0 else "proximal to"
        return f"{where}; {abs(self.off_apex_mm):.0f} mm {side} the apex, shift {self.translation_mm:.1f} mm"


def level_score(
    below_joint_mm: float,
    *,
    bone: Bone,
    length_mm: float,
    apex_below_joint_mm: float | None,
    correction_deg: float,
    judged: Sequence[ZoneQuality],
) -> LevelScore:
    """One level with its zone, bone quality and shift; its cost is left zero."""
    zone = zone_at(below_joint_mm, length_mm)
    off = None if apex_below_joint_mm is None else below_joint_mm - apex_below_joint_mm
    return LevelScore(
        below_joint_mm=below_joint_mm,
        zone=zone,
        quality=quality_at(zone, bone, judged),
        off_apex_mm=off,
        translation_mm=0.0
        if off is None
        else cut_shift_mm(cut_from_apex_mm=off, correction_deg=correction_deg),
        cost_mm=0.0,
    )


def scored_levels(
    *,
    bone: Bone,
    length_mm: float,
    free: Sequence[Interval],
    step_mm: float,
    apex_below_joint_mm: float | None,
    correction_deg: float,
    near_apex_mm: float,
    metaphysis_preference_mm: float,
    max_translation_mm: float,
    judged: Sequence[ZoneQuality],
    from_distal: bool,
) -> tuple[LevelScore, ...]:
    """Levels where the bone may be cut, best first; none that shift the ends too far or lie in infected bone.

    Parameters
    ----------
    free : sequence of Interval
        Stretches left free by joints and hardware. [mm below the proximal joint]
    step_mm : float
        Spacing of the levels; each stretch's ends and the apex are levels too. [mm]
    correction_deg : float
        Size of the correction. [deg]
    from_distal : bool
        Of levels that cost the same the nearest to the apex comes first; of those equally near, the more
        distal one (retrograde nail) or the more proximal one.
    """
    levels = np.unique(
        np.concatenate(
            [np.append(np.arange(i.from_mm, i.to_mm, step_mm), i.to_mm) for i in free]
            + [
                [apex_below_joint_mm]
                if apex_below_joint_mm is not None and any(i.holds(apex_below_joint_mm) for i in free)
                else []
            ]
            or [np.empty(0)]
        )
    )
    scores = [
        level_score(
            float(level),
            bone=bone,
            length_mm=length_mm,
            apex_below_joint_mm=apex_below_joint_mm,
            correction_deg=correction_deg,
            judged=judged,
        )
        for level in levels
    ]
    cost = level_cost_mm(
        levels,
        length_mm=length_mm,
        apex_below_joint_mm=apex_below_joint_mm,
        near_apex_mm=near_apex_mm,
        metaphysis_preference_mm=metaphysis_preference_mm,
        poor_bone=[score.quality in POOR for score in scores],
    )
    away = np.array([abs(score.off_apex_mm or 0.0) for score in scores])
    order = np.lexsort((-levels if from_distal else levels, away, cost))
    return tuple(
        replace(scores[i], cost_mm=float(cost[i]))
        for i in order
        if scores[i].translation_mm <= max_translation_mm
        and scores[i].quality is not BoneQuality.INFECTED_BEFORE
    )
