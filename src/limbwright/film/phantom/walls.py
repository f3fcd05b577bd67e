"""Where the walls of the shafts fall on the film, from the sections themselves, not from meshes."""

from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from limbwright.film.phantom.femur import FemurAxis, femur_shaft
from limbwright.film.phantom.field import Shaft
from limbwright.film.phantom.hardware import Hardware
from limbwright.film.phantom.motion import break_levels
from limbwright.film.phantom.placement import PlacedLeg
from limbwright.film.phantom.ray import Beam
from limbwright.film.phantom.section import CLEAR, FEMUR_LEVELS, SHORTEST, TIBIA_LEVELS
from limbwright.film.phantom.tibia import TibiaAxis, tibia_shaft
from limbwright.limb.anatomy import Bone

Floats = NDArray[np.float64]


class WallKind(StrEnum):
    """Which edge of the cortex."""

    OUTER = "outer"
    CANAL = "canal"


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class WallTruth:
    """Both edges of one straight piece of shaft on the film, sampled about every millimetre."""

    bone: Bone
    """Bone."""
    kind: WallKind
    """Periosteal or endosteal edge."""
    level: tuple[float, float]
    """Upper and lower end of the piece, fraction of the undeformed bone's length."""
    axis_px: Floats
    """Projected shaft centre, shape (n, 2), columns column and row, from proximal to distal. [px]"""
    low_px: Floats
    """Edge at the viewer's left, shape (n, 2). [px]"""
    high_px: Floats
    """Edge at the viewer's right, shape (n, 2). [px]"""


def _ring_points(shaft: Shaft, y_mm: Floats, inner: bool, around: int) -> Floats:
    """Surface of a shaft at given heights. Shape (n, around, 3), bone frame, mm."""
    angle = np.linspace(0.0, 2.0 * np.pi, around, endpoint=False)
    cosine, sine = np.cos(angle), np.sin(angle)
    half_x = np.interp(y_mm, shaft.y_mm, shaft.inner_x if inner else shaft.outer_x)[:, None]
    half_z = np.interp(y_mm, shaft.y_mm, shaft.inner_z if inner else shaft.outer_z)[:, None]
    radius = shaft.radius(cosine, sine, half_x, half_z)
    return np.stack(
        [
            np.interp(y_mm, shaft.y_mm, shaft.centre_x)[:, None] + radius * cosine,
            y_mm[:, None] + 0.0 * radius,
            np.interp(y_mm, shaft.y_mm, shaft.centre_z)[:, None] + radius * sine,
        ],
        axis=-1,
    )


def _edges(surface_px: Floats, axis_px: Floats) -> tuple[Floats, Floats]:
    """Outermost edges of projected rings, at right angles to the projected axis. Two of shape (n, 2), px."""
    down = axis_px[-1] - axis_px[0]
    down /= np.linalg.norm(down)
    # The viewer's right of a line that runs down the film.
    right = np.array([down[1], -down[0]])
    start = axis_px[0]
    depth, offset = (surface_px - start) @ down, (surface_px - start) @ right
    wanted = (axis_px - start) @ down
    sides = np.stack([np.interp(wanted, depth[:, k], offset[:, k]) for k in range(depth.shape[1])])
    base = start + wanted[:, None] * down
    return base + sides.min(axis=0)[:, None] * right, base + sides.max(axis=0)[:, None] * right


def walls(leg: PlacedLeg, hardware: Hardware, beam: Beam, *, around: int = 180) -> tuple[WallTruth, ...]:
    """Outer walls and canals of femur and tibia of one leg, one pair for every straight piece of shaft."""
    found = []
    for bone, axis, shaft, levels, now in (
        (
            Bone.FEMUR,
            FemurAxis(leg.shape),
            femur_shaft(FemurAxis(leg.shape)),
            FEMUR_LEVELS,
            leg.femur_now,
        ),
        (
            Bone.TIBIA,
            TibiaAxis(leg.shape),
            tibia_shaft(TibiaAxis(leg.shape)),
            TIBIA_LEVELS,
            leg.tibia_now,
        ),
    ):
        limits = [levels.proximal[0], *break_levels(leg.shape, hardware, bone), levels.distal[1]]
        for number, (upper, lower) in enumerate(pairwise(limits)):
            top = upper + (CLEAR if number > 0 else 0.0)
            bottom = lower - (CLEAR if number < len(limits) - 2 else 0.0)
            if bottom - top < SHORTEST:
                continue
            count = max(8, round((bottom - top) * axis.length_mm))
            level = np.linspace(top, bottom, count)
            centres = np.stack([axis.at_level(float(value)) for value in level])
            axis_px = beam.project(now(centres))
            # Rings reach beyond the piece, so that its ends are seen whole when the bone leans in the beam.
            reach = np.linspace(top - 0.03, bottom + 0.03, count + 40)
            heights = np.array([axis.at_level(float(value))[1] for value in reach])
            for kind in WallKind:
                ring = _ring_points(shaft, heights, kind is WallKind.CANAL, around)
                flat = now(ring.reshape(-1, 3)).reshape(ring.shape)
                low, high = _edges(beam.project(flat), axis_px)
                found.append(
                    WallTruth(
                        bone=bone, kind=kind, level=(top, bottom), axis_px=axis_px, low_px=low, high_px=high
                    )
                )
    return tuple(found)
