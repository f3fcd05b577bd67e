"""Closed triangle meshes: the one form in which bone, soft tissue and metal reach the ray caster."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
"""Shape (n, 3), mm."""
Triangles = NDArray[np.int32]
"""Shape (m, 3), vertex numbers, counter-clockwise seen from outside."""


class Texture(StrEnum):
    """How the shadow of a mesh is broken up when the film is exposed."""

    PLAIN = "plain"
    SPONGY = "spongy"
    MUSCLE = "muscle"


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Mesh:
    """A closed surface and the attenuation it adds to what it lies in.

    Nested materials add differences: marrow inside spongy bone inside cortex is three meshes, so no mesh
    ever has to be cut out of another.
    """

    name: str
    """What it is, in plain words."""
    points: Points
    """Vertices, shape (n, 3), read-only. [mm]"""
    triangles: Triangles
    """Shape (m, 3), outward by the right-hand rule, read-only."""
    attenuation_per_mm: float
    """Attenuation inside minus attenuation of what the mesh lies in. [1/mm]"""
    texture: Texture = Texture.PLAIN
    """Texture of its shadow."""

    def __post_init__(self) -> None:
        self.points.flags.writeable = False
        self.triangles.flags.writeable = False

    def moved(self, change: Callable[[Points], Points]) -> "Mesh":
        """The mesh with every vertex changed by a function of (n, 3) to (n, 3) that keeps handedness."""
        return replace(self, points=np.ascontiguousarray(change(self.points), dtype=np.float64))

    def mirrored(self) -> "Mesh":
        """The mesh mirrored in the plane z = 0."""
        return replace(
            self,
            points=self.points * np.array([1.0, 1.0, -1.0]),
            triangles=np.ascontiguousarray(self.triangles[:, ::-1]),
        )

    def volume_mm3(self) -> float:
        """Enclosed volume, positive when the triangles face outward. [mm3]"""
        corners = self.points[self.triangles]
        return float(np.einsum("ij,ij->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])) / 6.0)


def from_field(
    name: str,
    values: NDArray[np.float32],
    *,
    origin_mm: tuple[float, float, float],
    step_mm: float,
    attenuation_per_mm: float,
    texture: Texture = Texture.PLAIN,
) -> Mesh:
    """Surface where a field (negative inside, mm) is zero, by marching cubes.

    Where a solid would leave the grid it is closed off at the rim, so that the surface is always closed.
    """
    from skimage.measure import marching_cubes

    closed = np.array(values)
    # A grid point exactly on the surface would give several vertices at one place, and a rim between them.
    closed[np.abs(closed) < 1e-3 * step_mm] = 1e-3 * step_mm
    for axis in range(3):
        for end in (0, -1):
            rim = np.moveaxis(closed, axis, 0)[end]
            np.maximum(rim, np.float32(0.2 * step_mm), out=rim)
    measure: Any = marching_cubes
    points, triangles, _, _ = measure(closed, level=0.0, gradient_direction="descent")
    return Mesh(
        name=name,
        points=points.astype(np.float64) * step_mm + np.array(origin_mm),
        triangles=np.ascontiguousarray(triangles, dtype=np.int32),
        attenuation_per_mm=attenuation_per_mm,
        texture=texture,
    )


def swept(
    name: str,
    centres: Points,
    half_x: NDArray[np.float64],
    half_z: NDArray[np.float64],
    *,
    attenuation_per_mm: float,
    around: int = 48,
    texture: Texture = Texture.PLAIN,
) -> Mesh:
    """Tube of elliptic rings along a line, closed by fans at both ends.

    Parameters
    ----------
    centres : (n, 3) float64
        Line through the ring centres; neighbours must differ. [mm]
    half_x, half_z : (n,) float64
        Half axes of each ring, `half_x` along the direction nearest to x. [mm]
    attenuation_per_mm : float
        As in `Mesh`. [1/mm]
    around : int
        Vertices of one ring.
    texture : Texture
        As in `Mesh`.
    """
    centres = np.asarray(centres, dtype=np.float64)
    along = np.gradient(centres, axis=0)
    along /= np.linalg.norm(along, axis=1)[:, None]
    # The line may run along any axis: choose the reference that is never parallel to it.
    helper = np.array([1.0, 0.0, 0.0]) if np.abs(along[:, 0]).max() < 0.85 else np.array([0.0, 1.0, 0.0])
    first = helper - (along @ helper)[:, None] * along
    first /= np.linalg.norm(first, axis=1)[:, None]
    second = np.cross(first, along)
    angle = np.linspace(0.0, 2.0 * np.pi, around, endpoint=False)
    rings = (
        centres[:, None, :]
        + (half_x[:, None] * np.cos(angle))[..., None] * first[:, None, :]
        + (half_z[:, None] * np.sin(angle))[..., None] * second[:, None, :]
    )
    count = len(centres)
    points = np.concatenate([rings.reshape(-1, 3), centres[:1], centres[-1:]])
    ring, step = np.meshgrid(np.arange(count - 1), np.arange(around), indexing="ij")
    here, beside = ring * around + step, ring * around + (step + 1) % around
    sides = np.stack([here, here + around, beside, beside, here + around, beside + around], axis=-1)
    spoke = np.arange(around)
    last = (count - 1) * around
    start = np.stack([np.full(around, count * around), spoke, (spoke + 1) % around], axis=1)
    end = np.stack([np.full(around, count * around + 1), last + (spoke + 1) % around, last + spoke], axis=1)
    triangles = np.concatenate([sides.reshape(-1, 3), start, end]).astype(np.int32)
    tube = Mesh(
        name=name, points=points, triangles=triangles, attenuation_per_mm=attenuation_per_mm, texture=texture
    )
    return (
        tube if tube.volume_mm3() > 0 else replace(tube, triangles=np.ascontiguousarray(triangles[:, ::-1]))
    )


def rod(
    name: str,
    start: Points,
    end: Points,
    diameter_mm: float,
    *,
    attenuation_per_mm: float,
    around: int = 48,
) -> Mesh:
    """Straight round rod with flat ends."""
    line = np.stack([start, end])
    half = np.full(2, diameter_mm / 2.0)
    return swept(name, line, half, half, attenuation_per_mm=attenuation_per_mm, around=around)


def ball(
    name: str, centre: Points, diameter_mm: float, *, attenuation_per_mm: float, rings: int = 64
) -> Mesh:
    """Sphere of rings and fans."""
    polar = np.linspace(0.0, np.pi, rings + 2)[1:-1]
    line = centre + np.stack([0 * polar, -np.cos(polar), 0 * polar], axis=1) * diameter_mm / 2.0
    half = np.sin(polar) * diameter_mm / 2.0
    tube = swept(name, line, half, half, attenuation_per_mm=attenuation_per_mm, around=2 * rings)
    points = tube.points.copy()
    points[-2:] = centre + np.array([[0.0, -1.0, 0.0], [0.0, 1.0, 0.0]]) * diameter_mm / 2.0
    return replace(tube, points=points)
