"""Exact path lengths through closed meshes: one pass over the triangles, compiled; imported when used."""

import numpy as np
from numba import njit
from numpy.typing import NDArray


@njit(cache=True, nogil=True, fastmath=False)
def _crossing(xa: float, ya: float, xb: float, yb: float, y: float) -> float:
    # The edge is always walked from its lower end, so that two triangles which share it round alike and no
    # ray slips between them.
    if ya > yb or (ya == yb and xa > xb):
        xa, ya, xb, yb = xb, yb, xa, ya
    return xa + (y - ya) * (xb - xa) / (yb - ya)


@njit(cache=True, nogil=True, fastmath=False)
def add_paths(  # noqa: PLR0917 - compiled code takes its arguments by place
    image: NDArray[np.float32],
    points: NDArray[np.float64],
    triangles: NDArray[np.int32],
    attenuation: float,
    focal_px: float,
    column0: float,
    row0: float,
    reference: float,
) -> None:
    """Add attenuation times depth behind the source, per pixel, for one closed mesh.

    `points` are in the beam frame (u right, v down, w away from the source, mm); a pixel (row, column) lies
    on the ray through ((column - column0) / focal_px, (row - row0) / focal_px, 1). What is added is the depth
    w along the beam's axis; the obliquity of each ray is applied once, later.
    """
    rows, columns = image.shape
    count = points.shape[0]
    px = np.empty(count)
    py = np.empty(count)
    for i in range(count):
        px[i] = points[i, 0] / points[i, 2] * focal_px + column0
        py[i] = points[i, 1] / points[i, 2] * focal_px + row0
    for t in range(triangles.shape[0]):
        a, b, c = triangles[t, 0], triangles[t, 1], triangles[t, 2]
        ya, yb, yc = py[a], py[b], py[c]
        first = max(int(np.ceil(min(ya, yb, yc))), 0)
        last = min(int(np.ceil(max(ya, yb, yc))) - 1, rows - 1)
        if first > last:
            continue
        xa, xb, xc = px[a], px[b], px[c]
        if max(xa, xb, xc) < 0.0 or min(xa, xb, xc) > columns - 1:
            continue
        area = (xb - xa) * (yc - ya) - (xc - xa) * (yb - ya)
        if area == 0.0:
            continue
        sign = attenuation if area > 0.0 else -attenuation
        e1u, e1v, e1w = (
            points[b, 0] - points[a, 0],
            points[b, 1] - points[a, 1],
            points[b, 2] - points[a, 2],
        )
        e2u, e2v, e2w = (
            points[c, 0] - points[a, 0],
            points[c, 1] - points[a, 1],
            points[c, 2] - points[a, 2],
        )
        nu, nv, nw = e1v * e2w - e1w * e2v, e1w * e2u - e1u * e2w, e1u * e2v - e1v * e2u
        plane = nu * points[a, 0] + nv * points[a, 1] + nw * points[a, 2]
        near = min(points[a, 2], points[b, 2], points[c, 2])
        far = max(points[a, 2], points[b, 2], points[c, 2])
        for row in range(first, last + 1):
            y = float(row)
            left, right = np.inf, -np.inf
            if (ya <= y) != (yb <= y):
                x = _crossing(xa, ya, xb, yb, y)
                left, right = min(left, x), max(right, x)
            if (yb <= y) != (yc <= y):
                x = _crossing(xb, yb, xc, yc, y)
                left, right = min(left, x), max(right, x)
            if (yc <= y) != (ya <= y):
                x = _crossing(xc, yc, xa, ya, y)
                left, right = min(left, x), max(right, x)
            if not left < right:
                continue
            start = max(int(np.ceil(left)), 0)
            stop = min(int(np.ceil(right)), columns)
            across = nv * (y - row0) / focal_px + nw
            for column in range(start, stop):
                slope = nu * (column - column0) / focal_px + across
                depth = plane / slope if slope != 0.0 else near
                # A triangle seen edge-on has an ill-defined depth, but never one outside its own corners.
                depth = min(max(depth, near), far)
                image[row, column] += sign * (depth - reference)


@njit(cache=True, nogil=True)
def stretch_by_obliquity(image: NDArray[np.float32], focal_px: float, column0: float, row0: float) -> None:
    """Turn depths along the beam's axis into lengths along each ray, in place."""
    for row in range(image.shape[0]):
        down = (row - row0) / focal_px
        for column in range(image.shape[1]):
            over = (column - column0) / focal_px
            image[row, column] *= np.sqrt(1.0 + down * down + over * over)
