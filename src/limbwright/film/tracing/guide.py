"""The rough course of a shaft through a few clicks, with depth along it and a normal at every depth."""

from dataclasses import dataclass

import numpy as np

from limbwright.error import OutOfRange
from limbwright.film.tracing.plate import Floats, Plate, Point

SHORTEST_MM = 15.0
MOST_CLICKS = 12


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Guide:
    """A smooth curve down a shaft; film millimetres, x to the viewer's right, y down."""

    depth_mm: Floats
    """Distance along the curve from its first point, rising evenly. Shape (n,)."""
    x_mm: Floats
    """Shape (n,)."""
    y_mm: Floats
    """Shape (n,)."""
    normal_x: Floats
    """Unit normal, toward the viewer's right of a line that runs down the film. Shape (n,)."""
    normal_y: Floats
    """Shape (n,)."""

    @property
    def length_mm(self) -> float:
        """Length of the curve [mm]."""
        return float(self.depth_mm[-1])

    def at(self, depth_mm: Floats, offset_mm: Floats) -> tuple[Floats, Floats]:
        """Film millimetres of points given by depth and offset along the normal; shapes broadcast."""
        x = np.interp(depth_mm, self.depth_mm, self.x_mm)
        y = np.interp(depth_mm, self.depth_mm, self.y_mm)
        across = np.interp(depth_mm, self.depth_mm, self.normal_x)
        down = np.interp(depth_mm, self.depth_mm, self.normal_y)
        return x + offset_mm * across, y + offset_mm * down


def guide_through(plate: Plate, clicks_px: tuple[Point, ...], *, step_mm: float = 1.0) -> Guide:
    """A curve through clicks from proximal to distal: straight for two, a parabola for three, else a spline.

    Raises
    ------
    OutOfRange
        Fewer than two clicks, a click off the film, or clicks too close together.
    """
    if not 2 <= len(clicks_px) <= MOST_CLICKS:
        raise OutOfRange(
            f"{len(clicks_px)} clicks along a shaft, expected 2 to {MOST_CLICKS}.",
            where="clicks",
            next_step="Click two or three times along the shaft.",
        )
    plate.require_on_film(clicks_px)
    points = plate.mm(np.array(clicks_px))
    chord = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    if chord[-1] < SHORTEST_MM or np.diff(chord).min() < 1.0:
        raise OutOfRange(
            f"clicks that lie {chord[-1]:.1f} mm apart, expected {SHORTEST_MM:g} mm or more.",
            where="clicks",
            next_step="Click near both ends of the stretch of shaft you want.",
        )
    if len(points) == 2:
        return through_curve(points, chord, step_mm=step_mm)
    from scipy.interpolate import make_interp_spline

    fine = np.linspace(0.0, chord[-1], max(64, round(chord[-1])))
    # A parabola through three clicks; a spline through more, natural order of the number of clicks.
    spline = make_interp_spline(chord, points, k=2 if len(points) == 3 else 3)
    return through_curve(np.asarray(spline(fine)), fine, step_mm=step_mm)


def through_curve(points_mm: Floats, along_mm: Floats, *, step_mm: float) -> Guide:
    """A guide along a dense polyline. `points_mm` of shape (n, 2), `along_mm` rising of shape (n,)."""
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points_mm, axis=0).T))])
    count = max(8, round(float(length[-1]) / step_mm) + 1)
    depth = np.arange(count) * step_mm
    depth = depth[depth <= length[-1] + 1e-9]
    x, y = np.interp(depth, length, points_mm[:, 0]), np.interp(depth, length, points_mm[:, 1])
    down_x, down_y = np.gradient(x), np.gradient(y)
    norm = np.hypot(down_x, down_y)
    # The viewer's right of a line that runs down: (down_y, -down_x).
    return Guide(depth_mm=depth, x_mm=x, y_mm=y, normal_x=down_y / norm, normal_y=-down_x / norm)
