"""The nail's line moved against the best fit: offset and tilt in each fragment and plane on its own.

Counted with the bone corrected, where both fragments have one line. Moved alike in both fragments the nail
lies elsewhere and the reduction stays. Moved differently the fragments come together differently: a distal
line tilted by one degree more turns the distal fragment by one degree the other way.
"""

from dataclasses import dataclass, replace

import numpy as np

from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Projection
from limbwright.plan.canal import CanalAlong, by_side, canal_along
from limbwright.plan.cut import cut_leg
from limbwright.plan.decision import BonePlan, FragmentPath
from limbwright.plan.leg import LegModel
from limbwright.plan.motion import Floats, rotation_about, rotation_between, triple, unit
from limbwright.plan.path import crossing, distal_direction, place_of, vector
from limbwright.plan.reduction import cuts_of, lengthening_of
from limbwright.plan.route import Route
from limbwright.quantity import (
    ANTERIOR_POSTERIOR,
    LATERAL_MEDIAL,
    PROCURVATUM_RECURVATUM,
    VARUS_VALGUS,
    Sense,
    Value,
    directed,
)

_SPAN_MM = 100.0  # distance between the two points a line is written down by


@dataclass(frozen=True, slots=True, kw_only=True)
class LineShift(Value):
    """One plane: how far the line lies from the best fit; lateral or anterior +."""

    proximal_mm: float = 0.0
    """Offset at the osteotomy in the proximal fragment [mm]."""
    proximal_deg: float = 0.0
    """Tilt in the proximal fragment, + when it goes to lateral or anterior further distally [deg]."""
    distal_mm: float = 0.0
    """Offset at the osteotomy in the distal fragment [mm]."""
    distal_deg: float = 0.0
    """Tilt in the distal fragment [deg]."""

    @property
    def turn_deg(self) -> float:
        """Turn of the distal fragment beyond the aim, varus or procurvatum +. [deg]"""
        return self.distal_deg - self.proximal_deg

    @property
    def aside_mm(self) -> float:
        """Sideways place of the distal fragment beside the aim, lateral or anterior +. [mm]"""
        return self.proximal_mm - self.distal_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class LineChange(Value):
    """Both planes."""

    frontal: LineShift = LineShift()
    """Frontal plane."""
    sagittal: LineShift = LineShift()
    """Sagittal plane."""

    def turn_words(self) -> str:
        """What the lines turn the distal fragment beyond the aim; nothing where the aim is met."""
        said = []
        for shift, senses in ((self.frontal, VARUS_VALGUS), (self.sagittal, PROCURVATUM_RECURVATUM)):
            turn = directed(shift.turn_deg, unit="deg", senses=senses)
            if turn.direction is not Sense.NONE:
                said.append(f"{turn.magnitude:.1f} deg more into {turn.direction}")
        return "turned " + " and ".join(said) if said else ""

    def words(self) -> str:
        """What the lines turn beyond the aim, and where they lie against the best fit."""
        said = [self.turn_words()]
        for plane, shift, senses in (
            ("frontal", self.frontal, LATERAL_MEDIAL),
            ("sagittal", self.sagittal, ANTERIOR_POSTERIOR),
        ):
            said.append(_place_words(plane, shift, senses))
        return "; ".join(x for x in said if x) or "best fit"


def _place_words(plane: str, shift: LineShift, senses: tuple[Sense, Sense]) -> str:
    """Where the line lies at the cut in each fragment and how it is tilted; nothing on the best fit."""
    parts = []
    for kind, unit_, values in (
        ("", "mm", (shift.proximal_mm, shift.distal_mm)),
        ("tilted to ", "deg", (shift.proximal_deg, shift.distal_deg)),
    ):
        told = []
        for value, where in zip(values, ("above", "below"), strict=True):
            way = directed(value, unit=unit_, senses=senses)
            if way.direction is not Sense.NONE:
                told.append((f"{kind}{way.direction} {way.magnitude:.1f} {unit_}", where))
        if len({words for words, _where in told}) == 1 and len(told) > 1:
            parts.append(told[0][0])
        elif told:
            parts.append(", ".join(f"{words} {where}" for words, where in told) + " the cut")
    return f"{plane}: {', '.join(parts)}" if parts else ""


STRAIGHT = LineChange()


def moved_route(route: Route, change: LineChange) -> Route:
    """The route with its lines moved; the cut stays, and so does the way from the surface to it.

    Only for a bone that is cut once: with a middle fragment between them two lines do not tell the reduction.
    """
    if change == STRAIGHT:
        return route
    u, v = distal_direction(route.proximal), distal_direction(route.distal)
    p0, q0 = route.crossings()
    lateral, anterior = _across(u, 2), _across(u, 0)
    back = (rotation_about(u, route.rotation_correction_deg) @ rotation_between(v, u)).T

    def line(offsets: tuple[float, float], tilts: tuple[float, float]) -> tuple[Floats, Floats]:
        aside = offsets[0] * lateral + offsets[1] * anterior
        slope = np.tan(np.radians(tilts))
        return aside, unit(u + slope[0] * lateral + slope[1] * anterior)

    f, s = change.frontal, change.sagittal
    aside, along = line((f.proximal_mm, s.proximal_mm), (f.proximal_deg, s.proximal_deg))
    proximal = _written(route.proximal, p0 + aside, along)
    beyond, onward = line((f.distal_mm, s.distal_mm), (f.distal_deg, s.distal_deg))
    distal = _written(route.distal, q0 + back @ beyond, back @ onward)
    if route.direction is Direction.ANTEGRADE:
        surface = p0 + aside - route.surface_to_cut_mm * along
    else:
        surface = q0 + back @ beyond + route.surface_to_cut_mm * (back @ onward)
    return replace(route, proximal=proximal, distal=distal, surface_mm=triple(surface))


def _across(u: Floats, column: int) -> Floats:
    """Unit direction across a line in one plane of the film, lateral or anterior +."""
    axis = np.zeros(3)
    axis[column] = 1.0
    return unit(axis - (axis @ u) * u)


def _written(path: FragmentPath, point: Floats, along: Floats) -> FragmentPath:
    return replace(path, upper=place_of(point - _SPAN_MM * along), lower=place_of(point + _SPAN_MM * along))


def canals_of_plan(leg: LegModel, plan: BonePlan) -> tuple[CanalAlong, ...]:
    """Traced canals along a plan's own lines, by depth along the nail and by side of the osteotomy that is
    lengthened, bones corrected.
    """
    cuts = cuts_of(plan)
    path, cut_mm = plan.path, plan.osteotomy.depth_mm
    lines = (path.proximal, *((path.middle,) if path.middle is not None else ()), path.distal)
    sign = 1.0 if plan.direction is Direction.ANTEGRADE else -1.0
    found = []
    # The last fragment is met at the cut above it, every other one at the cut below it.
    for part, own, cut in zip(cut_leg(leg, cuts), lines, (*cuts, cuts[-1]), strict=True):
        along = distal_direction(own)
        at = crossing(vector(own.upper), along, cut.point_mm, cut.normal)
        depth = cut_mm
        if plan.second is not None and cut != lengthening_of(plan).cut:
            depth = plan.second.osteotomy.depth_mm
        for projection in Projection:
            if projection is Projection.SAGITTAL and not leg.has_sagittal:
                continue
            found.append(
                canal_along(
                    part,
                    bone=plan.bone,
                    fragment=own.fragment,
                    projection=projection,
                    line_point_mm=at,
                    direction=sign * along,
                    depth_at_point_mm=depth,
                )
            )
    return by_side([canal for canal in found if canal is not None], plan.middle_side)
