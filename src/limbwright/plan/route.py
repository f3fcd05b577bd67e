"""The nail's lines for one osteotomy level and one aim, and everything counted along them.

The fragment with the narrower canal guides the nail; in the wide one the line follows, as central as it can.
A bone that is only lengthened is nailed along one line through both fragments.
"""

from dataclasses import dataclass, replace

import numpy as np

from limbwright.implant.nail import Direction, Nail
from limbwright.limb.anatomy import Bone, Fragment, Projection
from limbwright.plan.canal import CanalAlong, canal_along, centred_point, fragment_line
from limbwright.plan.correction import Correction
from limbwright.plan.cut import Cut, split
from limbwright.plan.decision import FragmentPath, NailPath
from limbwright.plan.end_alignment import LinePair, end_for, solved_end
from limbwright.plan.entry import bone_ends
from limbwright.plan.leg import LegModel
from limbwright.plan.motion import Floats, Triple, triple, turn
from limbwright.plan.osteotomy import bone_line
from limbwright.plan.path import (
    bent_entry,
    crossing,
    distal_direction,
    driving_fragment,
    path_from_end,
    place_of,
    vector,
)
from limbwright.quantity import Value

# The place in the wide fragment and the plane of the cut need the turn, and the turn (a little) both.
_PASSES = 4
_GUIDE_SPAN_MM = 20.0  # a fragment traced over less than this does not guide


@dataclass(frozen=True, slots=True, kw_only=True)
class Route(Value):
    """The nail's lines in both fragments, before a nail is chosen."""

    bone: Bone
    """Bone."""
    direction: Direction
    """Way the nail is driven."""
    cut: Cut
    """The osteotomy."""
    proximal: FragmentPath
    """Line in the proximal fragment; only its position and direction count."""
    distal: FragmentPath
    """Line in the distal fragment as it stands."""
    rotation_correction_deg: float
    """Rotation about the nail at the reduction, external + [deg]."""
    varus_deg: float
    """Turn given to the distal fragment, varus + [deg]."""
    procurvatum_deg: float
    """Turn given to the distal fragment, procurvatum + [deg]."""
    surface_mm: Triple
    """Where the line of the driving fragment leaves the bone [mm]."""
    surface_to_cut_mm: float
    """From there to the osteotomy along the line [mm]."""
    cut_to_far_end_mm: float
    """From the osteotomy to the surface at the far end along the other fragment's line [mm]."""
    guide: Fragment
    """Fragment whose canal gave the direction."""
    traced: bool
    """Whether the guiding canal was traced; else the mid-diaphyseal points gave the line."""

    def along(self) -> Floats:
        """Unit direction of the driving fragment's line away from the driving end, (3,)."""
        if self.direction is Direction.ANTEGRADE:
            return distal_direction(self.proximal)
        return -distal_direction(self.distal)

    def crossings(self) -> tuple[Floats, Floats]:
        """Where the proximal and the distal line cross the osteotomy, as they stand, (3,) each. [mm]"""
        ends = [
            crossing(vector(p.upper), distal_direction(p), self.cut.point_mm, self.cut.normal)
            for p in (self.proximal, self.distal)
        ]
        return ends[0], ends[1]

    def osteotomy_depth_mm(self, nail: Nail, sunk_mm: float) -> float:
        """Depth of the osteotomy along a nail sunk below the surface; a bend adds a little. [mm]"""
        bend = nail.bend_depth_mm * (1 - float(np.cos(np.radians(nail.bend_deg))))
        return self.surface_to_cut_mm - sunk_mm + bend

    def room_mm(self, nail: Nail, sunk_mm: float) -> float:
        """Length along the nail from its entry end to the surface at the far end, bone corrected. [mm]"""
        return self.osteotomy_depth_mm(nail, sunk_mm) + self.cut_to_far_end_mm

    def path_of(self, nail: Nail, sunk_mm: float) -> NailPath:
        """The path of one nail: its straight lines, and its entry with the bend carried."""
        along = self.along()
        straight = sunk_mm + nail.bend_depth_mm * float(np.cos(np.radians(nail.bend_deg)))
        start = np.array(self.surface_mm) + straight * along
        entry = bent_entry(nail, start, along)
        p0, q0 = self.crossings()
        beyond = max(nail.length_mm - self.osteotomy_depth_mm(nail, sunk_mm), 1.0)
        u, v = distal_direction(self.proximal), distal_direction(self.distal)
        if self.direction is Direction.ANTEGRADE:
            upper, lower = (start, p0), (q0, q0 + beyond * v)
        else:
            upper, lower = (p0 - beyond * u, p0), (q0, start)
        return NailPath(
            entry=place_of(entry),
            proximal=_written(Fragment.PROXIMAL, *upper),
            distal=_written(Fragment.DISTAL, *lower),
        )


def _written(fragment: Fragment, upper: Floats, lower: Floats) -> FragmentPath:
    return FragmentPath(fragment=fragment, upper=place_of(upper), lower=place_of(lower))


def route_at(
    leg: LegModel,
    *,
    bone: Bone,
    direction: Direction,
    below_joint_mm: float,
    correction: Correction,
    lengthening_mm: float,
) -> Route:
    """The nail's lines for one level.

    Parameters
    ----------
    below_joint_mm : float
        Level of the osteotomy below the bone's proximal joint centre. [mm]
    correction : Correction
        What is aimed at.

    Raises
    ------
    Missing, Refused
        If a fragment offers nothing to draw a line through, or no turn reaches the aim.
    """
    line = bone_line(leg, bone)
    level = line.point_mm(below_joint_mm)
    rough = Cut(bone=bone, point_mm=triple(level), normal=triple(-line.direction()))
    if not correction.needed:
        point, along, traced = fragment_line(leg, bone, Fragment.PROXIMAL)
        path = _written(Fragment.PROXIMAL, point, point + 100.0 * along)
        cut = replace(rough, normal=triple(-along))
        other = replace(path, fragment=Fragment.DISTAL)
        return replace(_route(leg, bone, direction, cut, (path, other)), traced=traced)
    parts = dict(zip(Fragment, split(leg, rough), strict=True))
    guide = guiding_fragment(parts, bone, line.length_mm - 2 * below_joint_mm)
    point, along, traced = fragment_line(parts[guide], bone, guide)
    follower = Fragment.DISTAL if guide is Fragment.PROXIMAL else Fragment.PROXIMAL
    bare = replace(leg, walls=())
    turns = (correction.frontal.turn_deg, correction.sagittal.turn_deg)
    for _ in range(_PASSES):
        pair = _pair(
            rough,
            guide=guide,
            along=triple(along),
            point=triple(point),
            follower_part=parts[follower],
            turns=(*turns, correction.external_deg),
        )
        solved = solved_end(
            bare,
            pair,
            frontal=correction.frontal,
            sagittal=correction.sagittal,
            external_deg=correction.external_deg,
            lengthening_mm=lengthening_mm,
        )
        turns = (solved.varus_deg, solved.procurvatum_deg)
    cut = replace(rough, normal=triple(-distal_direction(solved.proximal)))
    end = end_for(
        replace(pair, cut=cut),
        varus_deg=solved.varus_deg,
        procurvatum_deg=solved.procurvatum_deg,
        external_deg=correction.external_deg,
        lengthening_mm=lengthening_mm,
    )
    back = path_from_end(proximal=end.proximal, cut=cut, end=end.motion, lengthening_mm=lengthening_mm)
    route = _route(leg, bone, direction, cut, (end.proximal, back.path))
    return replace(
        route,
        rotation_correction_deg=back.rotation_correction_deg,
        varus_deg=end.varus_deg,
        procurvatum_deg=end.procurvatum_deg,
        guide=guide,
        traced=traced,
    )


def _pair(
    cut: Cut,
    *,
    guide: Fragment,
    along: Triple,
    point: Triple,
    follower_part: LegModel,
    turns: Triple,
) -> LinePair:
    """Both fragments' lines, the follower's through the middle of its canal at the direction it will have."""
    follower = Fragment.DISTAL if guide is Fragment.PROXIMAL else Fragment.PROXIMAL
    rotation = turn(varus_deg=turns[0], procurvatum_deg=turns[1], external_deg=turns[2])
    following = rotation @ along if follower is Fragment.PROXIMAL else rotation.T @ along
    in_proximal = following if follower is Fragment.PROXIMAL else np.array(along)
    through = {guide: point, follower: triple(centred_point(follower_part, cut.bone, follower, following))}
    return LinePair(
        cut=replace(cut, normal=triple(-in_proximal)),
        guide=guide,
        guide_direction=along,
        proximal_mm=through[Fragment.PROXIMAL],
        distal_mm=through[Fragment.DISTAL],
    )


def _route(
    leg: LegModel, bone: Bone, direction: Direction, cut: Cut, lines: tuple[FragmentPath, FragmentPath]
) -> Route:
    """A route without turn along two lines, with what is counted along them."""
    proximal, distal = lines
    near, far = bone_ends(leg, bone, direction)
    u, v = distal_direction(proximal), distal_direction(distal)
    p0 = crossing(vector(proximal.upper), u, cut.point_mm, cut.normal)
    q0 = crossing(vector(distal.upper), v, cut.point_mm, cut.normal)
    (drive, away), (other, onward) = ((p0, u), (q0, v))
    if direction is Direction.RETROGRADE:
        (drive, away), (other, onward) = ((q0, -v), (p0, -u))
    surface = near.met_by(drive, away)
    return Route(
        bone=bone,
        direction=direction,
        cut=cut,
        proximal=proximal,
        distal=distal,
        rotation_correction_deg=0.0,
        varus_deg=0.0,
        procurvatum_deg=0.0,
        surface_mm=triple(surface),
        surface_to_cut_mm=float((drive - surface) @ away),
        cut_to_far_end_mm=float((far.met_by(other, onward) - other) @ onward),
        guide=driving_fragment(direction),
        traced=False,
    )


def guiding_fragment(parts: dict[Fragment, LegModel], bone: Bone, distal_longer_by_mm: float) -> Fragment:
    """The fragment with the narrower traced canal on the frontal film; untraced, the longer one."""
    widths = {}
    for fragment, part in parts.items():
        canal = canal_along(
            part,
            bone=bone,
            fragment=fragment,
            projection=Projection.FRONTAL,
            line_point_mm=np.zeros(3),
            direction=np.array([0.0, -1.0, 0.0]),
            depth_at_point_mm=0.0,
        )
        if canal is not None and canal.inner.depth_mm[-1] - canal.inner.depth_mm[0] >= _GUIDE_SPAN_MM:
            widths[fragment] = min(
                high - low for low, high in zip(canal.inner.negative_mm, canal.inner.positive_mm, strict=True)
            )
    if widths:
        return min(widths, key=lambda f: widths[f])
    return Fragment.DISTAL if distal_longer_by_mm > 0 else Fragment.PROXIMAL


def canals_on(leg: LegModel, route: Route, osteotomy_depth_mm: float) -> tuple[CanalAlong, ...]:
    """Canals of both fragments along the route in every plane that is traced, by depth along the nail.

    Parameters
    ----------
    osteotomy_depth_mm : float
        Depth of the osteotomy along the nail; both lines have it where they cross the cut. [mm]
    """
    parts = split(leg, route.cut)
    sign = 1.0 if route.direction is Direction.ANTEGRADE else -1.0
    found = []
    for fragment, part, path, at in zip(
        Fragment, parts, (route.proximal, route.distal), route.crossings(), strict=True
    ):
        for projection in Projection:
            if projection is Projection.SAGITTAL and not leg.has_sagittal:
                continue
            found.append(
                canal_along(
                    part,
                    bone=route.bone,
                    fragment=fragment,
                    projection=projection,
                    line_point_mm=at,
                    direction=sign * distal_direction(path),
                    depth_at_point_mm=osteotomy_depth_mm,
                )
            )
    return tuple(canal for canal in found if canal is not None)
