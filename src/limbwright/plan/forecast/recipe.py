"""How a blocking screw is put in, and what it does for the nail's way in at the operation."""

import math
from dataclasses import dataclass

from limbwright.mechanics import Plane, envelope
from limbwright.plan.decision import BlockingScrew, BonePlan
from limbwright.plan.forecast.construct import ModelledBone, model_screw
from limbwright.practice.profile import Profile
from limbwright.quantity import Value

LEAST_CORRECTION_DEG = 0.5  # a smaller turn leaves nothing to steer


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillRecipe(Value):
    """One blocking screw as it is found and drilled in theatre."""

    screw: BlockingScrew
    """The screw."""
    below_joint_mm: float
    """Level below the bone's proximal joint line (femur: head centre) along the bone [mm]."""
    above_distal_joint_mm: float
    """Level above its distal joint line [mm]."""
    before_reaming: bool
    """True where it steers the nail or cuts into the inner cortex: drill and leave it in before reaming."""
    words: str
    """The recipe in one sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Steering(Value):
    """What the play of the nail leaves of the old deformity in one plane at the operation."""

    plane: Plane
    """Plane."""
    correction_deg: float
    """Turn planned for the distal fragment, varus + or procurvatum + [deg]."""
    residual_bare_deg: float
    """Deformity that a rigid nail may leave without blocking screws, same sign as the deformity [deg]."""
    residual_held_deg: float
    """The same with the screws [deg]."""
    path_off_bare_mm: float
    """How far the moving fragment's end may lie off its planned line without screws [mm]."""
    path_off_held_mm: float
    """The same with the screws [mm]."""

    @property
    def avoided_deg(self) -> float:
        """Residual deformity that the screws avoid. [deg]"""
        return abs(self.residual_bare_deg) - abs(self.residual_held_deg)


def drill_recipe(
    plan: BonePlan, screw: BlockingScrew, modelled: ModelledBone, *, steers: bool
) -> DrillRecipe:
    """Levels from both ends of the bone, offset, direction, drill, and order relative to reaming."""
    off = modelled.distal_sign * (screw.depth_mm - plan.osteotomy.depth_mm)
    below = plan.osteotomy.below_joint_mm + off
    above = plan.osteotomy.above_distal_joint_mm - off
    construct, one = modelled.construct, Plane.FRONTAL
    if screw.side.value in {"anterior", "posterior"}:
        one = Plane.SAGITTAL
    inside = modelled.part_of(screw.fragment).value.startswith("entry")
    walls = (construct.entry_canal if inside else construct.moving_canal).in_plane(one)
    nearest = min(range(len(walls.depth_mm)), key=lambda i: abs(walls.depth_mm[i] - screw.depth_mm))
    positive = screw.side.value in {"lateral", "anterior"}
    wall = walls.positive_mm[nearest] if positive else -walls.negative_mm[nearest]
    notches = wall < screw.offset_mm + screw.diameter_mm / 2
    before = steers or notches
    order = "before reaming, and leave it in" if before else "after reaming, with the nail or reamer in"
    return DrillRecipe(
        screw=screw,
        below_joint_mm=below,
        above_distal_joint_mm=above,
        before_reaming=before,
        words=f"{screw.side} of the nail in the {screw.fragment} fragment: {below:.0f} mm below the proximal "
        f"and {above:.0f} mm above the distal joint line ({screw.from_osteotomy_mm:.0f} mm from the cut), "
        f"axis {screw.offset_mm:.1f} mm off the nail's centre line, driven {screw.direction}, drill "
        f"{screw.drill_mm:g} mm, screw {screw.diameter_mm:g} mm; {order}.",
    )


def steering(
    plan: BonePlan,
    modelled: ModelledBone,
    screws: tuple[BlockingScrew, ...],
    profile: Profile,
    *,
    varus_deg: float,
    procurvatum_deg: float,
) -> tuple[Steering, ...]:
    """What screws do for the correction itself, plane by plane; nothing where nothing is corrected.

    Parameters
    ----------
    screws : tuple of BlockingScrew
        Layout in question.
    varus_deg, procurvatum_deg : float
        Turn given to the distal fragment. [deg]

    Notes
    -----
    A rigid nail finds its place anywhere in its play. The end of the play toward the old deformity (against
    the turn) is what it may leave: the toggle envelope there, without and with the screws.
    """
    held = modelled.construct.with_blocking_screws(*(model_screw(modelled, s, profile) for s in screws))
    bare = modelled.construct.with_blocking_screws()
    reach = plan.nail.length_mm - plan.osteotomy.depth_mm
    found = []
    for plane, turned in ((Plane.FRONTAL, varus_deg), (Plane.SAGITTAL, procurvatum_deg)):
        if abs(turned) < LEAST_CORRECTION_DEG:
            continue
        ends = []
        for construct in (bare, held):
            play = envelope(construct, plane)
            ends.append(min(play.lowest_deg, 0.0) if turned > 0 else max(play.highest_deg, 0.0))
        offs = [math.radians(abs(end)) * reach for end in ends]
        found.append(
            Steering(
                plane=plane,
                correction_deg=turned,
                residual_bare_deg=ends[0],
                residual_held_deg=ends[1],
                path_off_bare_mm=offs[0],
                path_off_held_mm=offs[1],
            )
        )
    return tuple(found)
