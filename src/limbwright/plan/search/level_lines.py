"""Where the nail's lines of a level come from: a bone that is cut once, or twice with one level held."""

from dataclasses import dataclass
from typing import Protocol

from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Fragment
from limbwright.plan.bone_task import BoneTask
from limbwright.plan.canal import CanalAlong, by_side
from limbwright.plan.correction import Correction
from limbwright.plan.leg import LegModel
from limbwright.plan.route import Route, canals_on, route_at
from limbwright.plan.route_of_two import route_of_two

LEAN_MM = 1.0  # levels count along the bone, the fragment along the nail, which leans a little against it


class Lines(Protocol):
    """Where the nail's lines of a level come from."""

    def route(self, level_mm: float, gain_mm: float) -> Route:
        """The best fit at a level of the osteotomy that is lengthened."""

    def may_cut(self, level_mm: float) -> bool:
        """Whether another osteotomy leaves room for one here."""


@dataclass(frozen=True, slots=True)
class OneLevel:
    """Lines of a bone that is cut once."""

    task: BoneTask
    correction: Correction

    def route(self, level_mm: float, gain_mm: float) -> Route:
        """The best fit at a level."""
        return route_at(
            self.task.leg,
            bone=self.task.bone,
            direction=self.task.direction,
            below_joint_mm=level_mm,
            correction=self.correction,
            lengthening_mm=gain_mm,
        )

    def may_cut(self, level_mm: float) -> bool:
        """Anywhere."""
        return True


@dataclass(frozen=True, slots=True)
class SecondHeld:
    """Lines of a bone that is cut twice: the level that is only corrected stays where the plan has it."""

    task: BoneTask
    corrections: tuple[Correction, Correction]
    """At the osteotomy that is lengthened, and at the other one."""
    second_mm: float
    """Level of the other one [mm]."""
    upper_lengthens: bool
    """Whether the upper one is lengthened."""

    def route(self, level_mm: float, gain_mm: float) -> Route:
        """The best fit with the lengthened osteotomy at a level."""
        levels = (level_mm, self.second_mm) if self.upper_lengthens else (self.second_mm, level_mm)
        return route_of_two(
            self.task.leg,
            bone=self.task.bone,
            direction=self.task.direction,
            below_joint_mm=levels,
            corrections=self.corrections if self.upper_lengthens else self.corrections[::-1],
            upper_lengthens=self.upper_lengthens,
            lengthening_mm=gain_mm,
        )

    def may_cut(self, level_mm: float) -> bool:
        """On its own side of the other one, as far from it as a middle fragment needs."""
        between = self.second_mm - level_mm if self.upper_lengthens else level_mm - self.second_mm
        return between >= self.task.profile.middle_fragment_min_mm - LEAN_MM


def route_canals(leg: LegModel, route: Route, depth_mm: float) -> tuple[CanalAlong, ...]:
    """Traced canals along a route by their side of the osteotomy that is lengthened."""
    found = canals_on(leg, route, depth_mm)
    if route.second is None:
        return found
    deeper = route.second.deeper_mm > 0
    side = Fragment.DISTAL if deeper is (route.direction is Direction.ANTEGRADE) else Fragment.PROXIMAL
    return by_side(found, side)
