"""Reduction: the rigid motion of the part below a cut that brings its nail line onto the line above the cut.

Then the leg is lengthened along the nail. The leg frame stays with the part above the first cut, whichever
way the nail was driven. A bone with two osteotomies has two reductions, each defined in the leg as it stands:
the lower one moves the distal fragment first, and the upper one then carries the middle and the distal
fragment together.
"""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from limbwright.error import Refused
from limbwright.limb.anatomy import Fragment
from limbwright.plan.cut import Cut
from limbwright.plan.decision import BonePlan, FragmentPath, NailPath
from limbwright.plan.motion import (
    Floats,
    Motion,
    Triple,
    motion,
    rotation_about,
    rotation_between,
    shift,
    triple,
)
from limbwright.plan.path import crossing, cut_at_depth, cuts_at_depths, distal_direction, vector
from limbwright.quantity import Value


def reducing(
    proximal_point_mm: npt.ArrayLike,
    proximal_direction: npt.ArrayLike,
    distal_point_mm: npt.ArrayLike,
    distal_direction: npt.ArrayLike,
    external_deg: npt.ArrayLike = 0.0,
) -> tuple[Floats, Floats]:
    """Rotation and translation that bring the distal line onto the proximal one, the two points meeting.

    Parameters
    ----------
    proximal_point_mm, distal_point_mm : (..., 3)
        Where each line crosses the osteotomy. [mm]
    proximal_direction, distal_direction : (..., 3)
        Unit directions toward distal.
    external_deg : (...)
        Rotation about the nail given to the distal fragment, external +. [deg]

    Returns
    -------
    rotation : (..., 3, 3)
    translation_mm : (..., 3)
        A point x of the distal fragment goes to rotation · x + translation.

    Notes
    -----
    The smallest turn between two lines has no part about the line, so rotation is corrected only by what is
    asked for; it is about the nail, on top of that turn.
    """
    u = np.asarray(proximal_direction, dtype=float)
    rotation = rotation_about(u, external_deg) @ rotation_between(distal_direction, u)
    translation = np.asarray(proximal_point_mm, dtype=float) - np.einsum(
        "...ij,...j->...i", rotation, np.asarray(distal_point_mm, dtype=float)
    )
    return rotation, translation


@dataclass(frozen=True, slots=True, kw_only=True)
class Reduction(Value):
    """Motion of the part below one osteotomy, in the leg as it stands."""

    cut: Cut
    """The osteotomy."""
    motion: Motion
    """Motion of the part below at the operation."""
    along: Triple
    """Unit direction of lengthening: the nail's line above the cut, toward distal."""
    lengthens: bool = True
    """False at a second osteotomy, which is only corrected."""

    def lengthened(self, by_mm: float) -> Motion:
        """Motion of the part below once `by_mm` have been gained along the nail. [mm]"""
        return self.motion.then(shift(by_mm * np.array(self.along)))


def reduction(*, path: NailPath, cut: Cut, rotation_correction_deg: float = 0.0) -> Reduction:
    """The reduction that a nail's two lines define; the points where they cross the osteotomy meet.

    Parameters
    ----------
    path : NailPath
        Lines in both fragments, in the leg as it stands.
    cut : Cut
        The osteotomy.
    rotation_correction_deg : float
        Rotation given to the distal fragment about the nail, external +. [deg]
    """
    return _between(path.proximal, path.distal, cut, rotation_correction_deg)


def _between(above: FragmentPath, below: FragmentPath, cut: Cut, external_deg: float) -> Reduction:
    u, v = distal_direction(above), distal_direction(below)
    p0 = crossing(vector(above.upper), u, cut.point_mm, cut.normal)
    q0 = crossing(vector(below.upper), v, cut.point_mm, cut.normal)
    rotation, translation = reducing(p0, u, q0, v, external_deg)
    return Reduction(cut=cut, motion=motion(rotation, translation), along=triple(u))


def cuts_of(plan: BonePlan) -> tuple[Cut, ...]:
    """The cuts of one bone of a plan, from proximal to distal."""
    depth_mm = plan.osteotomy.depth_mm
    if plan.second is None:
        return (cut_at_depth(plan.bone, plan.path, plan.direction, depth_mm),)
    return cuts_at_depths(plan.bone, plan.path, plan.direction, depth_mm, plan.second.osteotomy.depth_mm)


def reductions_of(plan: BonePlan) -> tuple[Reduction, ...]:
    """The reductions of one bone of a plan, from proximal to distal: one for each osteotomy.

    Raises
    ------
    Missing
        If there are two osteotomies and no line in the middle fragment.
    """
    cuts = cuts_of(plan)
    second = plan.second
    if second is None or plan.path.middle is None:
        return (_between(plan.path.proximal, plan.path.distal, cuts[0], plan.rotation_correction_deg),)
    lines = (plan.path.proximal, plan.path.middle, plan.path.distal)
    upper_lengthens = plan.middle_side is Fragment.DISTAL
    turns = (plan.rotation_correction_deg, second.rotation_correction_deg)
    if not upper_lengthens:
        turns = turns[::-1]
    return tuple(
        replace(_between(above, below, cut, turn), lengthens=lengthens)
        for above, below, cut, turn, lengthens in zip(
            lines[:-1], lines[1:], cuts, turns, (upper_lengthens, not upper_lengthens), strict=True
        )
    )


def reduction_of(plan: BonePlan) -> Reduction:
    """The reduction of a bone that is cut once.

    Raises
    ------
    Refused
        If the bone has two osteotomies: one motion does not tell where its fragments go.
    """
    if plan.second is not None:
        raise Refused(
            f"the {plan.bone} has two osteotomies; this was worked out for one.",
            where=f"plan, {plan.bone}",
            next_step="Use the pages that show both levels, or plan one osteotomy.",
        )
    return reductions_of(plan)[0]


def lengthening_of(plan: BonePlan) -> Reduction:
    """The reduction at the osteotomy that is lengthened."""
    return next(r for r in reductions_of(plan) if r.lengthens)
