"""The nail's lines for two osteotomies of one bone, one of which is lengthened.

The nail is one straight line through the bone as corrected at both levels. Each correction is defined in the
leg as it stands: the turn at the lower cut moves the distal fragment, the turn at the upper cut then carries
the middle and the distal fragment together.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from limbwright.error import OutOfRange, Refused
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone, Fragment
from limbwright.plan.correction import Correction
from limbwright.plan.cut import Cut, cut_leg
from limbwright.plan.end_alignment import End, LevelAim, LinePair, solved_ends
from limbwright.plan.entry import bone_ends
from limbwright.plan.leg import LegModel
from limbwright.plan.motion import Floats, Motion, triple
from limbwright.plan.nail_line import CanalMiddle, canal_middle, fitted_line
from limbwright.plan.osteotomy import bone_line
from limbwright.plan.path import crossing, distal_direction, path_from_end
from limbwright.plan.route import (
    BEYOND_CUT_MM,
    INSIDE_MM,
    Route,
    SecondCut,
    corrected_about,
    crossed,
    hinge_of,
    level_aim,
    reach_of,
)

Turn = tuple[float, float]
_PASSES = 30
_SETTLED_DEG = 1e-6


@dataclass(frozen=True, slots=True)
class _Bone:
    """One bone cut twice, before it is corrected."""

    cuts: tuple[Cut, Cut]
    middles: tuple[CanalMiddle, CanalMiddle, CanalMiddle]
    hinges: tuple[Floats, Floats]
    corrections: tuple[Correction, Correction]
    lengthening_mm: tuple[float, float]
    reach: tuple[float, float]

    def turned(self, turns: tuple[Turn, Turn]) -> tuple[Motion, Motion]:
        """Turns about the hinges at both levels, each in the leg as it stands."""
        upper, lower = (
            corrected_about(correction, t, hinge)
            for t, correction, hinge in zip(turns, self.corrections, self.hinges, strict=True)
        )
        return upper, lower

    def pairs(self, turns: tuple[Turn, Turn]) -> tuple[LinePair, LinePair]:
        """The line that fits the corrected canal, as it runs beside each cut."""
        upper, lower = self.turned(turns)
        above, between, below = self.middles
        whole = above.joined(between.moved(upper)).joined(below.moved(lower.then(upper)))
        point, u = fitted_line(whole.within(*self.reach), where=f"{self.cuts[0].bone}")
        first = _pair(self.cuts[0], point, u, upper)
        # The middle fragment's line as it stands is what the upper turn brings onto the nail.
        v = upper.inverse().turned(u)
        return first, _pair(self.cuts[1], np.array(first.distal_mm), v, lower)

    def aims(self, turns: tuple[Turn, Turn]) -> tuple[LevelAim, LevelAim]:
        """What both levels are to end at along those lines."""
        first, second = (
            level_aim(pair, correction, gain)
            for pair, correction, gain in zip(
                self.pairs(turns), self.corrections, self.lengthening_mm, strict=True
            )
        )
        return first, second


def _pair(rough: Cut, point: Floats, along: Floats, turned: Motion) -> LinePair:
    cut = replace(rough, normal=triple(-along))
    at_cut = crossing(point, along, cut.point_mm, cut.normal)
    # A point well inside the part below, so that a small change of turn does not throw the line aside.
    return LinePair(
        cut=cut,
        direction=triple(along),
        proximal_mm=triple(point),
        distal_mm=triple(turned.inverse().moved(at_cut + INSIDE_MM * along)),
    )


def route_of_two(
    leg: LegModel,
    *,
    bone: Bone,
    direction: Direction,
    below_joint_mm: tuple[float, float],
    corrections: tuple[Correction, Correction],
    upper_lengthens: bool,
    lengthening_mm: float,
    beyond_cut_mm: float = BEYOND_CUT_MM,
) -> Route:
    """The nail's lines for two levels of one bone.

    Parameters
    ----------
    below_joint_mm : pair of float
        Levels of the upper and the lower osteotomy below the bone's proximal joint centre. [mm]
    corrections : pair of Correction
        What is aimed at with each; both are reached together, at full length.
    upper_lengthens : bool
        Whether the upper osteotomy is lengthened; else the lower one is.
    lengthening_mm : float
        Length to gain there. [mm]
    beyond_cut_mm : float
        How far beyond the deeper osteotomy the canal decides the line. [mm]

    Returns
    -------
    Route
        With its `second` osteotomy.

    Raises
    ------
    Missing, Refused
        If the bone offers nothing to draw a line through, or no turns reach the aims.
    OutOfRange
        If a level does not lie in the bone, or the lower one not below the upper one.

    Notes
    -----
    As `route.route_at`, with the turns of both levels found together: each part below a cut turns about the
    middle of the canal at its own apex, and the nail is the straight line that fits all three canals.
    """
    line = bone_line(leg, bone)
    if not 0 < below_joint_mm[0] < below_joint_mm[1] < line.length_mm:
        raise OutOfRange(
            f"osteotomies at {below_joint_mm[0]:.1f} and {below_joint_mm[1]:.1f} mm, expected two rising "
            f"levels within the bone of {line.length_mm:.1f} mm.",
            where=f"osteotomies of the {bone}",
            next_step="Give two levels between the joint lines, the upper one first.",
        )
    levels = [line.point_mm(level) for level in below_joint_mm]
    cuts = [Cut(bone=bone, point_mm=triple(x), normal=triple(-line.direction())) for x in levels]
    middles = [canal_middle(part, bone) for part in cut_leg(leg, cuts)]
    reach = reach_of(direction, float(levels[direction is Direction.ANTEGRADE][1]), beyond_cut_mm)
    hinges = [hinge_of(leg, corrections[i], line, levels[i], (middles[i], middles[i + 1])) for i in range(2)]
    cut_bone = _Bone(
        cuts=(cuts[0], cuts[1]),
        middles=(middles[0], middles[1], middles[2]),
        hinges=(hinges[0], hinges[1]),
        corrections=corrections,
        lengthening_mm=(lengthening_mm, 0.0) if upper_lengthens else (0.0, lengthening_mm),
        reach=reach,
    )
    turns = _turns(corrections)
    if any(c.needed for c in corrections):
        turns = _settled(replace(leg, walls=()), cut_bone, turns)
    # Lines and ends of the same turns, so that the line below a cut is where the turn there leaves it.
    found = _written(leg, direction, cut_bone.aims(turns), turns, upper_lengthens=upper_lengthens)
    return replace(found, traced=all(canal.traced for canal in middles))


def _settled(bare: LegModel, cut_bone: _Bone, turns: tuple[Turn, Turn]) -> tuple[Turn, Turn]:
    """The turns that are found along their own lines.

    Solving moves the line and the line moves what is solved, often the other way; steps are relaxed by what
    the last two showed (Aitken), so that this settles within a few passes.
    """
    share, before = 1.0, np.zeros((2, 2))
    for n in range(_PASSES):
        step = np.subtract(_turns(solved_ends(bare, cut_bone.aims(turns))), turns)
        if float(np.abs(step).max()) < _SETTLED_DEG:
            return turns
        change = step - before
        if n:
            share = float(np.clip(-share * np.sum(before * change) / np.sum(change * change), 0.05, 1.5))
        before = step
        (a, b), (c, d) = (np.array(turns) + share * step).tolist()
        turns = ((a, b), (c, d))
    raise Refused(
        "the turns at the two levels and the nail's line through them do not settle.",
        where=f"osteotomies of the {cut_bone.cuts[0].bone}",
        next_step="Choose levels nearer to the apexes, or farther apart.",
    )


def _turns(levels: Sequence[Correction] | Sequence[End]) -> tuple[Turn, Turn]:
    """Turns of both levels, varus + and procurvatum +: as first asked for, or as found. [deg]"""
    upper, lower = (
        (level.frontal.turn_deg, level.sagittal.turn_deg)
        if isinstance(level, Correction)
        else (level.varus_deg, level.procurvatum_deg)
        for level in levels
    )
    return upper, lower


def _written(
    leg: LegModel,
    direction: Direction,
    aims: tuple[LevelAim, LevelAim],
    turns: tuple[Turn, Turn],
    *,
    upper_lengthens: bool,
) -> Route:
    """The route that two turns lead to along their lines, with what is counted along it."""
    ends = [aim.end(*t) for aim, t in zip(aims, turns, strict=True)]
    backs = [
        path_from_end(proximal=e.proximal, cut=a.pair.cut, end=e.motion, lengthening_mm=a.lengthening_mm)
        for a, e in zip(aims, ends, strict=True)
    ]
    cuts = [aim.pair.cut for aim in aims]
    bone = cuts[0].bone
    proximal, distal = ends[0].proximal, backs[1].path
    middle = replace(backs[0].path, fragment=Fragment.MIDDLE)
    between_mm = float(np.linalg.norm(crossed(middle, cuts[1]) - crossed(middle, cuts[0])))
    near, far = bone_ends(leg, bone, direction)
    p0, q0 = crossed(proximal, cuts[0]), crossed(distal, cuts[1])
    u, v = distal_direction(proximal), distal_direction(distal)
    antegrade = direction is Direction.ANTEGRADE
    (drive, away), (other, onward) = ((p0, u), (q0, v)) if antegrade else ((q0, -v), (p0, -u))
    surface = near.met_by(drive, away)
    to_near_cut = float((drive - surface) @ away)
    from_far_cut = float((far.met_by(other, onward) - other) @ onward)
    # An antegrade nail meets the upper cut first, so the lower one lies deeper when that one lengthens.
    deeper = upper_lengthens is antegrade
    main, second = (0, 1) if upper_lengthens else (1, 0)
    return Route(
        bone=bone,
        direction=direction,
        cut=cuts[main],
        proximal=proximal,
        distal=distal,
        rotation_correction_deg=backs[main].rotation_correction_deg,
        varus_deg=ends[main].varus_deg,
        procurvatum_deg=ends[main].procurvatum_deg,
        surface_mm=triple(surface),
        surface_to_cut_mm=to_near_cut + (0.0 if deeper else between_mm),
        cut_to_far_end_mm=from_far_cut + (between_mm if deeper else 0.0),
        traced=False,
        second=SecondCut(
            cut=cuts[second],
            middle=middle,
            rotation_correction_deg=backs[second].rotation_correction_deg,
            varus_deg=ends[second].varus_deg,
            procurvatum_deg=ends[second].procurvatum_deg,
            deeper_mm=between_mm if deeper else -between_mm,
        ),
    )
