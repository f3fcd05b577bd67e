"""Reduction: the rigid motion of the distal fragment that brings its nail line onto the proximal one.

Then the leg is lengthened along the nail. The leg frame stays with the part above the first cut, whichever
way the nail was driven.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from limbwright.plan.cut import Cut
from limbwright.plan.decision import BonePlan, NailPath
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
from limbwright.plan.path import crossing, cut_at_depth, distal_direction, vector
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
    """Motion of the distal fragment of one bone, in the leg as it stands."""

    cut: Cut
    """The osteotomy."""
    motion: Motion
    """Motion of the distal fragment at the operation."""
    along: Triple
    """Unit direction of lengthening: the nail's line in the proximal fragment, toward distal."""

    def lengthened(self, by_mm: float) -> Motion:
        """Motion of the distal fragment once `by_mm` have been gained along the nail. [mm]"""
        return self.motion.then(shift(by_mm * np.array(self.along)))


def reduction(
    *, path: NailPath, cut: Cut, rotation_correction_deg: float = 0.0, apart_mm: float = 0.0
) -> Reduction:
    """The reduction that a nail's two lines define.

    Parameters
    ----------
    path : NailPath
        Lines in both fragments, in the leg as it stands.
    cut : Cut
        The osteotomy.
    rotation_correction_deg : float
        Rotation given to the distal fragment about the nail, external +. [deg]
    apart_mm : float
        Distance left between the two points where the lines cross the osteotomy; 0 = they meet. [mm]
    """
    u, v = distal_direction(path.proximal), distal_direction(path.distal)
    p0 = crossing(vector(path.proximal.upper), u, cut.point_mm, cut.normal)
    q0 = crossing(vector(path.distal.upper), v, cut.point_mm, cut.normal)
    rotation, translation = reducing(p0 + apart_mm * u, u, q0, v, rotation_correction_deg)
    return Reduction(cut=cut, motion=motion(rotation, translation), along=triple(u))


def reduction_of(plan: BonePlan) -> Reduction:
    """The reduction of one bone of a plan."""
    cut = cut_at_depth(plan.bone, plan.path, plan.direction, plan.osteotomy.depth_mm)
    return reduction(path=plan.path, cut=cut, rotation_correction_deg=plan.rotation_correction_deg)
