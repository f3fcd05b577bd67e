"""Real bone surfaces through the same beam: a closed outer surface made hollow, with cortex and inside.

A scanned surface knows nothing of the canal: the cortex given here is invented. Only the outer shape is real.
"""

import numpy as np
from numpy.typing import NDArray

from limbwright.error import OutOfRange
from limbwright.film.phantom.bones import CORTEX, SPONGY
from limbwright.film.phantom.mesh import Mesh, Points, Texture, Triangles

Floats = NDArray[np.float64]


def vertex_normals(points: Points, triangles: Triangles) -> Floats:
    """Outward unit normal at every vertex, weighted by area. Shape (n, 3)."""
    corners = points[triangles]
    face = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals = np.zeros_like(points)
    for corner in range(3):
        np.add.at(normals, triangles[:, corner], face)
    return np.asarray(normals / np.maximum(np.linalg.norm(normals, axis=1)[:, None], 1e-12))


def shaft_cortex_mm(points: Points, *, thickest_mm: float, end_mm: float = 1.4) -> Floats:
    """Invented cortex of a long bone along y: thin at its ends, thickest in its middle. Shape (n,), mm."""
    share = (points[:, 1] - points[:, 1].min()) / np.ptp(points[:, 1])
    middle = np.clip(1.25 * np.sin(np.pi * share) ** 2 - 0.25, 0.0, 1.0)
    return np.asarray(end_mm + (thickest_mm - end_mm) * middle)


def hollow_bone(
    name: str, points: Points, triangles: Triangles, cortex_mm: Floats | float
) -> tuple[Mesh, Mesh]:
    """Outer surface and inside of a scanned bone.

    Parameters
    ----------
    name : str
        What it is.
    points : (n, 3) float64
        Vertices. [mm]
    triangles : (m, 3) int32
        Outward by the right-hand rule.
    cortex_mm : (n,) float64 or float
        Thickness of the cortex under each vertex. [mm]

    Raises
    ------
    OutOfRange
        If the surface is open or faces inward.
    """
    edges = np.sort(
        np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]), axis=1
    )
    shared = np.unique(edges, axis=0, return_counts=True)[1]
    outer = Mesh(
        name=name,
        points=np.array(points, dtype=np.float64),
        triangles=np.array(triangles, dtype=np.int32),
        attenuation_per_mm=CORTEX,
    )
    if np.any(shared != 2) or outer.volume_mm3() <= 0:
        raise OutOfRange(
            f"{int((shared != 2).sum())} edges without exactly two faces, "
            f"volume {outer.volume_mm3():.0f} mm3.",
            where=f"surface of the {name}",
            next_step="Give a closed surface whose triangles face outward.",
        )
    inside = outer.points - np.broadcast_to(cortex_mm, len(outer.points))[:, None] * vertex_normals(
        outer.points, outer.triangles
    )
    inner = Mesh(
        name=f"spongy bone of the {name}",
        points=inside,
        triangles=outer.triangles.copy(),
        attenuation_per_mm=SPONGY,
        texture=Texture.SPONGY,
    )
    return outer, inner
