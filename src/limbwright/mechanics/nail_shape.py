"""Offset of the nail between the places of contact, from the forces that bend it."""

import numpy as np
from numpy.typing import NDArray

from limbwright.mechanics.flexibility import flexibility
from limbwright.mechanics.plane_problem import (
    BEND_DEPTH,
    BEND_TANGENT,
    LENGTHENING,
    OSTEOTOMY,
    STEP_DEPTH,
    THICK_SOFTNESS,
    THIN_SOFTNESS,
)

Reals = NDArray[np.float64]
Whole = NDArray[np.int64]


def nail_offset_mm(
    depth_mm: Reals,
    *,
    geometry: Reals,
    z: Reals,
    kind: Whole,
    force: Reals,
    y: Reals,
    moving: Reals,
    motion: Reals,
) -> Reals:
    """Offset of the nail's centre line in one plane, in the entry fragment's frame, (n,). [mm]

    Parameters
    ----------
    depth_mm : (n,)
        Depth along the nail from its entry end.
    geometry : (columns,)
        Geometry of the plane's problem.
    z, kind, force, y : (m,)
        Depth, kind, force and relative displacement of the rows of this plane.
    moving : (m,)
        1 where a row belongs to the moving fragment.
    motion : (5,)
        Motions of this plane.
    """
    held = (force != 0.0) & (kind != 2)

    def elastic(at: Reals) -> Reals:
        g = flexibility(
            at,
            np.zeros(len(at), dtype=np.int64),
            z[held],
            kind[held],
            step_depth_mm=geometry[STEP_DEPTH],
            thick_softness=geometry[THICK_SOFTNESS],
            thin_softness=geometry[THIN_SOFTNESS],
        )
        free = motion[0] + motion[1] * at + motion[4] * np.maximum(at - geometry[STEP_DEPTH], 0.0)
        return np.asarray(free - g @ force[held])

    value = kind == 0
    at = z[value]
    cut = geometry[OSTEOTOMY] + geometry[LENGTHENING]
    there = y[value] + moving[value] * (motion[2] + motion[3] * (at - cut))
    # Axial compression bends the nail further than the contact forces alone: known at the rows.
    order = np.argsort(at, kind="stable")
    rest = np.interp(depth_mm, at[order], (there - elastic(at))[order])
    shape = geometry[BEND_TANGENT] * np.maximum(geometry[BEND_DEPTH] - depth_mm, 0.0)
    return np.asarray(elastic(depth_mm) + rest + shape)
