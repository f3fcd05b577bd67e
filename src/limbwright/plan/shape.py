"""One thing drawn in a limb plane, in millimetres."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from limbwright.limb.anatomy import Bone, Fragment, Projection
from limbwright.plan.canal import ACROSS
from limbwright.plan.motion import PROXIMAL, Floats
from limbwright.quantity import Value

Flat = tuple[float, float]


class ShapeKind(StrEnum):
    """What is drawn; a drawing style is chosen by it."""

    INNER_WALL = "inner wall"
    OUTER_WALL = "outer wall"
    JOINT_LINE = "joint line"
    MECHANICAL_AXIS = "mechanical axis"
    BONE_AXIS = "bone axis"
    NAIL_LINE = "nail line"
    NAIL_THICK = "nail, thick part"
    NAIL_THIN = "nail, thin part"
    LOCKING_SCREW = "locking screw"
    BLOCKING_SCREW = "blocking screw"
    PIN = "pin"
    OSTEOTOMY = "osteotomy"
    APEX = "apex"
    LANDMARK = "landmark"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape(Value):
    """A line, a closed outline, or a circle when it has one point and a radius."""

    kind: ShapeKind
    """What it is."""
    points_mm: tuple[Flat, ...]
    """Points (across, proximal) [mm]."""
    label: str
    """Words for it."""
    closed: bool = False
    """True for an outline."""
    radius_mm: float | None = None
    """Radius of a circle about its one point [mm]."""
    bone: Bone | None = None
    """Bone it belongs to."""
    fragment: Fragment | None = None
    """Fragment it moves with."""


def flat(points_mm: npt.ArrayLike, projection: Projection) -> tuple[Flat, ...]:
    """Points of the leg frame, (n, 3), as a film shows them."""
    points: Floats = np.atleast_2d(np.asarray(points_mm, dtype=float))[:, [ACROSS[projection], PROXIMAL]]
    return tuple((float(a), float(p)) for a, p in points)


def band(centre: tuple[Flat, ...], radii_mm: npt.ArrayLike) -> tuple[Flat, ...]:
    """Outline of a band of given half-width about a centre line, down one side and up the other. [mm]"""
    line = np.array(centre)
    step = np.gradient(line, axis=0)
    step /= np.linalg.norm(step, axis=1, keepdims=True)
    normal = np.column_stack([-step[:, 1], step[:, 0]]) * np.asarray(radii_mm, dtype=float).reshape(-1, 1)
    outline = np.concatenate([line + normal, (line - normal)[::-1]])
    return tuple((float(a), float(p)) for a, p in outline)
