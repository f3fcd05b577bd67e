"""What is unsure about one bone's forecast, as spreads the mechanical model draws from."""

import math

from limbwright.mechanics import Plane, Region, Shape, Spread, parameter
from limbwright.mechanics.tissue import Level, lever_arm_mm
from limbwright.plan.decision import BonePlan
from limbwright.plan.forecast.loads import relative_spread
from limbwright.practice.profile import Profile


def moment_spread(region: Region, plane: Plane) -> float:
    """Half width of the pull's moment as a share of it: lever arm and growth of tension, independent."""
    arm = [abs(lever_arm_mm(region, plane, level)) for level in (Level.LOW, Level.DEFAULT, Level.HIGH)]
    bone = "femur" if region.value.endswith("femur") else "tibia"
    both = math.hypot((arm[2] - arm[0]) / (2 * arm[1]), relative_spread(f"tension_rate_{bone}"))
    return min(both, 1.0)


def play_beside_nail_mm(plan: BonePlan) -> float:
    """How far the nail's line can lie off its place in its own bore. [mm]"""
    return max((plan.reamer_mm - plan.nail.thick_diameter_mm) / 2, 0.0)


def tissue_and_fit_spreads(
    plan: BonePlan, region: Region, plane: Plane, profile: Profile
) -> tuple[Spread, ...]:
    """Spreads of loads, fit and placement of one bone plan in one plane.

    Notes
    -----
    The nail lies in its bore, and its locking screws are put in where it lies: the error of its line against
    the walls is limited to half the play of the bore.
    """
    bone = plan.bone.value
    off_line = min(profile.path_error_mm, play_beside_nail_mm(plan) / 2)
    clearance = parameter("blocking_screw_clearance")
    triangular = Shape.TRIANGULAR
    return (
        Spread(name="moment_factor", centre=1, spread=moment_spread(region, plane), shape=triangular),
        Spread(
            name="axial_factor", centre=1, spread=relative_spread(f"tension_rate_{bone}"), shape=triangular
        ),
        Spread(name="new_bone_factor", centre=1, spread=0.9, shape=Shape.UNIFORM),
        Spread(name="stiffness_factor", centre=1, spread=parameter("stiffness_error").default),
        Spread(
            name="lock_play_factor",
            centre=1,
            spread=min(relative_spread("locking_screw_play"), 1.0),
            shape=triangular,
        ),
        Spread(name="canal_widening_mm", centre=0, spread=profile.canal_width_error_mm),
        Spread(name="entry_wall_shift_mm", centre=0, spread=off_line),
        Spread(name="moving_wall_shift_mm", centre=0, spread=off_line),
        Spread(name="blocking_clearance_error_mm", centre=0, spread=(clearance.high - clearance.low) / 4),
        Spread(name="blocking_depth_error_mm", centre=0, spread=profile.blocking_screw_level_error_mm),
    )
