"""The nail's lines for one osteotomy level and one aim, and everything counted along them.

`route_of_two` draws them for two levels of one bone.
"""

from dataclasses import dataclass, replace

import numpy as np

from limbwright.implant.nail import Direction, Nail
from limbwright.limb.anatomy import Bone, Fragment, Projection
from limbwright.plan.canal import CanalAlong, canal_along
from limbwright.plan.correction import Correction
from limbwright.plan.cut import Cut, cut_leg, split
from limbwright.plan.decision import FragmentPath, NailPath
from limbwright.plan.end_alignment import LevelAim, LinePair, solved_ends
from limbwright.plan.entry import bone_ends
from limbwright.plan.leg import LegModel
from limbwright.plan.motion import PROXIMAL, Floats, Motion, Triple, motion_about, shift, triple, turn
from limbwright.plan.nail_line import CanalMiddle, canal_middle, fitted_line, meeting_level_mm
from limbwright.plan.osteotomy import BoneLine, bone_line
from limbwright.plan.path import bent_entry, crossing, distal_direction, path_from_end, place_of, vector
from limbwright.quantity import Value

_PASSES = 4  # the line needs the turn, and the turn (a little) the line
_SETTLED_DEG = 0.01  # a pass brings the turn some twenty times nearer; what is left then is below 0.001
INSIDE_MM = 10.0
BEYOND_CUT_MM = 150.0  # overlap, exposed thin part and lengthening of a usual nail, and a little more


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondCut(Value):
    """A second osteotomy of the same bone, which is corrected and not lengthened."""

    cut: Cut
    """The osteotomy."""
    middle: FragmentPath
    """Line in the middle fragment as it stands."""
    rotation_correction_deg: float
    """Rotation about the nail at this cut, external + [deg]."""
    varus_deg: float
    """Turn given to the part below this cut, varus + [deg]."""
    procurvatum_deg: float
    """Turn given to the part below this cut, procurvatum + [deg]."""
    deeper_mm: float
    """Along the nail from the osteotomy that is lengthened, away from the entry + [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece(Value):
    """One fragment's line with a point of known depth on it."""

    path: FragmentPath
    """The line."""
    at_mm: Triple
    """A point of it, at a cut [mm]."""
    deeper_mm: float
    """Depth of that point along the nail beyond the osteotomy that is lengthened [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Route(Value):
    """The nail's lines in every fragment, before a nail is chosen."""

    bone: Bone
    """Bone."""
    direction: Direction
    """Way the nail is driven."""
    cut: Cut
    """The osteotomy that is lengthened."""
    proximal: FragmentPath
    """Line in the proximal fragment; only its position and direction count."""
    distal: FragmentPath
    """Line in the distal fragment as it stands."""
    rotation_correction_deg: float
    """Rotation about the nail at the reduction, external + [deg]."""
    varus_deg: float
    """Turn given to the part below the osteotomy, varus + [deg]."""
    procurvatum_deg: float
    """Turn given to the part below the osteotomy, procurvatum + [deg]."""
    surface_mm: Triple
    """Where the line of the driving fragment leaves the bone [mm]."""
    surface_to_cut_mm: float
    """From there to the osteotomy along the nail [mm]."""
    cut_to_far_end_mm: float
    """From the osteotomy to the surface at the far end along the nail [mm]."""
    traced: bool
    """Whether the canal was traced all along; else mid-diaphyseal points stood in for it."""
    second: SecondCut | None = None
    """A second osteotomy; None with one."""

    def cuts(self) -> tuple[Cut, ...]:
        """The cuts from proximal to distal."""
        if self.second is None:
            return (self.cut,)
        lengthens_above = (self.second.deeper_mm > 0) is (self.direction is Direction.ANTEGRADE)
        return (self.cut, self.second.cut) if lengthens_above else (self.second.cut, self.cut)

    def pieces(self) -> tuple[Piece, ...]:
        """Every fragment's line from proximal to distal, with a point of known depth."""
        between = () if self.second is None else (self.second.middle,)
        lines = (self.proximal, *between, self.distal)
        cuts = self.cuts()
        # The last fragment is met at the cut above it, every other one at the cut below it.
        beside = (*cuts, cuts[-1])
        return tuple(
            Piece(
                path=path,
                at_mm=triple(crossed(path, cut)),
                deeper_mm=0.0 if cut is self.cut or self.second is None else self.second.deeper_mm,
            )
            for path, cut in zip(lines, beside, strict=True)
        )

    def along(self) -> Floats:
        """Unit direction of the driving fragment's line away from the driving end, (3,)."""
        if self.direction is Direction.ANTEGRADE:
            return distal_direction(self.proximal)
        return -distal_direction(self.distal)

    def crossings(self) -> tuple[Floats, Floats]:
        """Where the proximal and the distal line cross the cut beside them, as they stand, (3,) each. [mm]"""
        pieces = self.pieces()
        return np.array(pieces[0].at_mm), np.array(pieces[-1].at_mm)

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
        pieces, cuts = self.pieces(), self.cuts()
        first, last = pieces[0], pieces[-1]
        p0, q0 = self.crossings()
        depth = self.osteotomy_depth_mm(nail, sunk_mm)
        if self.direction is Direction.ANTEGRADE:
            beyond = max(nail.length_mm - depth - last.deeper_mm, 1.0)
            upper, lower = (start, p0), (q0, q0 + beyond * distal_direction(self.distal))
        else:
            beyond = max(nail.length_mm - depth - first.deeper_mm, 1.0)
            upper, lower = (p0 - beyond * distal_direction(self.proximal), p0), (q0, start)
        middle = None
        if self.second is not None:
            line = self.second.middle
            middle = _written(Fragment.MIDDLE, *(crossed(line, cut) for cut in cuts))
        return NailPath(
            entry=place_of(entry),
            proximal=_written(Fragment.PROXIMAL, *upper),
            distal=_written(Fragment.DISTAL, *lower),
            middle=middle,
        )


def crossed(path: FragmentPath, cut: Cut) -> Floats:
    """Where a fragment's line crosses a cut, (3,). [mm]"""
    return crossing(vector(path.upper), distal_direction(path), cut.point_mm, cut.normal)


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
    beyond_cut_mm: float = BEYOND_CUT_MM,
) -> Route:
    """The nail's lines for one level.

    Parameters
    ----------
    below_joint_mm : float
        Level of the osteotomy below the bone's proximal joint centre. [mm]
    correction : Correction
        What is aimed at.
    beyond_cut_mm : float
        How far beyond the osteotomy the canal decides the line; a nail reaches little farther. [mm]

    Raises
    ------
    Missing, Refused
        If the bone offers nothing to draw a line through, or no turn reaches the aim.

    Notes
    -----
    The distal fragment is turned about the middle of the canal at the apex (at the osteotomy when nothing
    tells where the apex is), so that the ends shift by what the distance between the two asks, no more. The
    nail is the straight line that fits the canal of the bone so corrected.
    """
    line = bone_line(leg, bone)
    level = line.point_mm(below_joint_mm)
    rough = Cut(bone=bone, point_mm=triple(level), normal=triple(-line.direction()))
    parts = split(leg, rough)
    above, below = (canal_middle(part, bone) for part in parts)
    reach = reach_of(direction, float(level[PROXIMAL]), beyond_cut_mm)
    hinge = hinge_of(leg, correction, line, level, (above, below))
    bare = replace(leg, walls=())
    turns = (correction.frontal.turn_deg, correction.sagittal.turn_deg)
    for _ in range(_PASSES if correction.needed else 1):
        pair = _pair(rough, (above, below), reach, corrected_about(correction, turns, hinge))
        if not correction.needed:
            break
        (solved,) = solved_ends(bare, [level_aim(pair, _from(correction, turns), lengthening_mm)])
        before, turns = turns, (solved.varus_deg, solved.procurvatum_deg)
        if max(abs(turns[0] - before[0]), abs(turns[1] - before[1])) < _SETTLED_DEG:
            break
    # The turn is settled; the end now follows the pair it was settled with, exactly.
    end = level_aim(pair, correction, lengthening_mm).end(*turns)
    back = path_from_end(proximal=end.proximal, cut=pair.cut, end=end.motion, lengthening_mm=lengthening_mm)
    return replace(
        _route(leg, bone, direction, pair.cut, (end.proximal, back.path)),
        rotation_correction_deg=back.rotation_correction_deg,
        varus_deg=end.varus_deg,
        procurvatum_deg=end.procurvatum_deg,
        traced=above.traced and below.traced,
    )


def _from(correction: Correction, turns: tuple[float, float]) -> Correction:
    """The same aims, looked for from the turns found so far (varus + and procurvatum +)."""
    return replace(
        correction,
        frontal=replace(correction.frontal, turn_deg=turns[0]),
        sagittal=replace(correction.sagittal, turn_deg=turns[1]),
    )


def level_aim(pair: LinePair, correction: Correction, lengthening_mm: float) -> LevelAim:
    """What one osteotomy is to end at, from its lines and its correction."""
    return LevelAim(
        pair=pair,
        frontal=correction.frontal,
        sagittal=correction.sagittal,
        external_deg=correction.external_deg,
        lengthening_mm=lengthening_mm,
    )


def reach_of(direction: Direction, level_mm: float, beyond_mm: float) -> tuple[float, float]:
    """Lowest and highest level at which the canal decides the line. [mm]"""
    if direction is Direction.ANTEGRADE:
        return level_mm - beyond_mm, np.inf
    return -np.inf, level_mm + beyond_mm


def hinge_of(
    leg: LegModel,
    correction: Correction,
    line: BoneLine,
    level: Floats,
    fragments: tuple[CanalMiddle, CanalMiddle],
) -> Floats:
    """The point the distal fragment turns about: middle of the canal at the apex, else at the cut. [mm]"""
    at_mm: float | None = None
    if correction.apex_below_joint_mm is not None:
        at_mm = float(line.point_mm(correction.apex_below_joint_mm)[PROXIMAL])
    elif correction.needed:
        frontal = abs(correction.frontal.turn_deg) >= abs(correction.sagittal.turn_deg)
        at_mm = meeting_level_mm(*fragments, frontal=frontal)
        if at_mm is not None and not line.lower_mm[PROXIMAL] < at_mm < line.upper_mm[PROXIMAL]:
            at_mm = None
    return canal_middle(leg, line.bone).at_level(float(level[PROXIMAL]) if at_mm is None else at_mm)


def corrected_about(correction: Correction, turns: tuple[float, float], hinge_mm: Floats) -> Motion:
    """Motion of the part below: a turn about its hinge (varus + and procurvatum +), then its shift."""
    rotation = turn(varus_deg=turns[0], procurvatum_deg=turns[1], external_deg=correction.external_deg)
    lateral_mm, anterior_mm = correction.shift_mm
    return motion_about(rotation, hinge_mm).then(shift([anterior_mm, 0.0, lateral_mm]))


def _pair(
    rough: Cut,
    fragments: tuple[CanalMiddle, CanalMiddle],
    reach: tuple[float, float],
    reduced: Motion,
) -> LinePair:
    """The line that fits the corrected canal, as it runs in each fragment."""
    above, below = fragments
    whole = above.joined(below.moved(reduced))
    point, u = fitted_line(whole.within(*reach), where=f"{rough.bone}")
    cut = replace(rough, normal=triple(-u))
    at_cut = crossing(point, u, cut.point_mm, cut.normal)
    # A point well inside the distal fragment, so that a small change of turn does not throw the line aside.
    inside = at_cut + INSIDE_MM * u
    return LinePair(
        cut=cut,
        direction=triple(u),
        proximal_mm=triple(point),
        distal_mm=triple(reduced.inverse().moved(inside)),
    )


def _route(
    leg: LegModel, bone: Bone, direction: Direction, cut: Cut, lines: tuple[FragmentPath, FragmentPath]
) -> Route:
    """A route without turn along two lines, with what is counted along them."""
    proximal, distal = lines
    near, far = bone_ends(leg, bone, direction)
    u, v = distal_direction(proximal), distal_direction(distal)
    p0, q0 = crossed(proximal, cut), crossed(distal, cut)
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
        traced=False,
    )


def canals_on(leg: LegModel, route: Route, osteotomy_depth_mm: float) -> tuple[CanalAlong, ...]:
    """Canals of every fragment along the route in every plane that is traced, by depth along the nail.

    Parameters
    ----------
    osteotomy_depth_mm : float
        Depth of the osteotomy that is lengthened along the nail; lines have it where they cross the cut. [mm]
    """
    sign = 1.0 if route.direction is Direction.ANTEGRADE else -1.0
    found = []
    for part, piece in zip(cut_leg(leg, route.cuts()), route.pieces(), strict=True):
        for projection in Projection:
            if projection is Projection.SAGITTAL and not leg.has_sagittal:
                continue
            found.append(
                canal_along(
                    part,
                    bone=route.bone,
                    fragment=piece.path.fragment,
                    projection=projection,
                    line_point_mm=piece.at_mm,
                    direction=sign * distal_direction(piece.path),
                    depth_at_point_mm=osteotomy_depth_mm + piece.deeper_mm,
                )
            )
    return tuple(canal for canal in found if canal is not None)
