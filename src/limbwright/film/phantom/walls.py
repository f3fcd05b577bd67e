"""Where the walls of the shafts fall on the film.

Edges come from the sections that were given, not from meshes, so that each checks the other. Where the ridge
from plateau to tuberosity and crest rounds off the tibia, its section has no formula: there the silhouette of
the mesh that is filmed is taken.
"""

from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from limbwright.film.phantom.bones import Detail, leg_bones
from limbwright.film.phantom.femur import FemurAxis, femur_shaft
from limbwright.film.phantom.field import Shaft
from limbwright.film.phantom.hardware import Hardware
from limbwright.film.phantom.motion import break_levels
from limbwright.film.phantom.placement import PlacedLeg
from limbwright.film.phantom.ray import Beam
from limbwright.film.phantom.section import CLEAR, FEMUR_LEVELS, SHORTEST, TIBIA_LEVELS
from limbwright.film.phantom.tibia import RIDGE_END, TibiaAxis, tibia_shaft
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


@dataclass(frozen=True, slots=True, eq=False)
class _Across:
    """Depth along a projected axis, and offset at right angles to it toward the viewer's right."""

    start: Floats
    down: Floats
    right: Floats

    @classmethod
    def of(cls, axis_px: Floats) -> "_Across":
        down = axis_px[-1] - axis_px[0]
        down = down / np.linalg.norm(down)
        # The viewer's right of a line that runs down the film.
        return cls(axis_px[0], down, np.array([down[1], -down[0]]))

    def depth(self, at_px: Floats) -> Floats:
        return np.asarray((at_px - self.start) @ self.down)

    def offset(self, at_px: Floats) -> Floats:
        return np.asarray((at_px - self.start) @ self.right)

    def point(self, depth: Floats, offset: Floats) -> Floats:
        return np.asarray(self.start + depth[:, None] * self.down + offset[:, None] * self.right)


def _ring_edges(across: _Across, surface_px: Floats, wanted: Floats) -> tuple[Floats, Floats]:
    """Outermost offsets of projected rings of shape (k, around, 2) at the wanted depths. Two of (n,), px."""
    depth, offset = across.depth(surface_px), across.offset(surface_px)
    sides = np.stack([np.interp(wanted, depth[:, k], offset[:, k]) for k in range(depth.shape[1])])
    return sides.min(axis=0), sides.max(axis=0)


def _silhouette(
    across: _Across, points_px: Floats, triangles: NDArray[np.int32], wanted: Floats
) -> tuple[Floats, Floats]:
    """Outermost offsets of a mesh at the wanted depths, which rise. Two of shape (n,), px."""
    edges = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    # Each edge once: the neighbouring triangle runs along it the other way.
    edges = edges[edges[:, 0] < edges[:, 1]]
    depth, offset = across.depth(points_px), across.offset(points_px)
    upper = np.where(depth[edges[:, 0]] <= depth[edges[:, 1]], edges[:, 0], edges[:, 1])
    lower = edges.sum(axis=1) - upper
    first = np.searchsorted(wanted, depth[upper])
    count = np.searchsorted(wanted, depth[lower]) - first
    edge = np.repeat(np.arange(len(edges)), count)
    place = first[edge] + np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    top, end = depth[upper[edge]], depth[lower[edge]]
    share = (wanted[place] - top) / (end - top)
    crossing = (1.0 - share) * offset[upper[edge]] + share * offset[lower[edge]]
    low, high = np.full(len(wanted), np.inf), np.full(len(wanted), -np.inf)
    np.minimum.at(low, place, crossing)
    np.maximum.at(high, place, crossing)
    return low, high


def walls(
    leg: PlacedLeg,
    hardware: Hardware,
    beam: Beam,
    *,
    detail: Detail = Detail.FINE,
    around: int = 180,
) -> tuple[WallTruth, ...]:
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
        ridge = RIDGE_END * leg.shape.bone_width / axis.length_mm if bone is Bone.TIBIA else 0.0
        for number, (upper, lower) in enumerate(pairwise(limits)):
            top = upper + (CLEAR if number > 0 else 0.0)
            bottom = lower - (CLEAR if number < len(limits) - 2 else 0.0)
            if bottom - top < SHORTEST:
                continue
            count = max(8, round((bottom - top) * axis.length_mm))
            level = np.linspace(top, bottom, count)
            axis_px = beam.project(now(np.stack([axis.at_level(float(value)) for value in level])))
            across = _Across.of(axis_px)
            wanted = across.depth(axis_px)
            # Rings reach beyond the piece, so that its ends are seen whole when the bone leans in the beam.
            reach = np.linspace(top - 0.03, bottom + 0.03, count + 40)
            heights = np.array([axis.at_level(float(value))[1] for value in reach])
            for kind in WallKind:
                ring = _ring_points(shaft, heights, kind is WallKind.CANAL, around)
                flat = now(ring.reshape(-1, 3)).reshape(ring.shape)
                low, high = _ring_edges(across, beam.project(flat), wanted)
                rounded = int((level < ridge).sum())
                if rounded > 0:
                    mesh = leg_bones(leg.shape, detail).tibia[0 if kind is WallKind.OUTER else 1]
                    y = mesh.points[:, 1]
                    part = (y < heights[0]) & (y > axis.at_level(float(level[rounded - 1]))[1] - 20.0)
                    number_of = np.cumsum(part) - 1
                    triangles = mesh.triangles[part[mesh.triangles].all(axis=1)]
                    low[:rounded], high[:rounded] = _silhouette(
                        across,
                        beam.project(now(mesh.points[part])),
                        number_of[triangles].astype(np.int32),
                        wanted[:rounded],
                    )
                found.append(
                    WallTruth(
                        bone=bone,
                        kind=kind,
                        level=(top, bottom),
                        axis_px=axis_px,
                        low_px=across.point(wanted, low),
                        high_px=across.point(wanted, high),
                    )
                )
    return tuple(found)
