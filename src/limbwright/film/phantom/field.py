"""Fields on a grid, negative inside a bone: primitives, smooth joins, and the surfaces they end in.

Every primitive is evaluated only in the box it reaches, so a whole femur at 1 mm costs about a second. Two
fields are kept side by side, the bone and its inside below the cortex, so that both come from one recipe.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Grid = NDArray[np.float32]
Coordinates = tuple[Grid, Grid, Grid]
"""Broadcastable x, y, z of a box of the grid, mm."""
Box = tuple[tuple[float, float], tuple[float, float], tuple[float, float]]
"""Lower and upper bound along x, y, z, mm."""
FAR_MM = 60.0


def smooth_min(first: Grid, second: Grid, reach_mm: float) -> Grid:
    """Union of two fields whose seam is rounded over `reach_mm`; exact where they differ by more."""
    low: Grid = np.minimum(first, second)
    if reach_mm <= 0:
        return low
    near = np.maximum(reach_mm - np.abs(first - second), 0.0)
    return np.asarray(low - near * near * np.float32(0.25 / reach_mm), dtype=np.float32)


def smooth_max(first: Grid, second: Grid, reach_mm: float) -> Grid:
    """Intersection of two fields whose rim is rounded over `reach_mm`."""
    return -smooth_min(-first, -second, reach_mm)


class BoneField:
    """The field of a bone and of its inside, built up part by part."""

    def __init__(self, box: Box, step_mm: float) -> None:
        self.step_mm = step_mm
        self.origin_mm = (box[0][0], box[1][0], box[2][0])
        shape = tuple(int(np.ceil((high - low) / step_mm)) + 1 for low, high in box)
        self.outer: Grid = np.full(shape, FAR_MM, dtype=np.float32)
        self.inner: Grid = np.full(shape, FAR_MM, dtype=np.float32)
        self._axes = tuple(
            (low + step_mm * np.arange(count)).astype(np.float32)
            for (low, _), count in zip(box, shape, strict=True)
        )

    def _window(self, box: Box | None) -> tuple[slice, slice, slice]:
        if box is None:
            return (slice(None), slice(None), slice(None))
        parts = []
        for axis, (low, high) in zip(self._axes, box, strict=True):
            start = int(np.searchsorted(axis, low))
            parts.append(slice(start, max(start, int(np.searchsorted(axis, high)))))
        return parts[0], parts[1], parts[2]

    def coordinates(self) -> Coordinates:
        """Broadcastable coordinates of the whole grid, mm."""
        return self._coordinates(self._window(None))

    def _coordinates(self, window: tuple[slice, slice, slice]) -> Coordinates:
        x, y, z = (axis[part] for axis, part in zip(self._axes, window, strict=True))
        return x[:, None, None], y[None, :, None], z[None, None, :]

    def add(
        self,
        part: Callable[[Coordinates], Grid | tuple[Grid, Grid]],
        box: Box | None = None,
        *,
        cortex_mm: float = 1.4,
        blend_mm: float = 0.0,
    ) -> None:
        """Join a part to the bone.

        `part` returns its field, or its field and that of its inside; with one field only, the inside begins
        `cortex_mm` below the surface.
        """
        window = self._window(box)
        if any(piece.stop == piece.start for piece in window if piece.stop is not None):
            return
        made = part(self._coordinates(window))
        outer, inner = made if isinstance(made, tuple) else (made, made + np.float32(cortex_mm))
        self.outer[window] = smooth_min(self.outer[window], outer, blend_mm)
        self.inner[window] = smooth_min(self.inner[window], inner, blend_mm)

    def keep(
        self,
        part: Callable[[Coordinates], Grid],
        box: Box | None = None,
        *,
        cortex_mm: float = 1.2,
        blend_mm: float = 0.0,
    ) -> None:
        """Keep only what lies inside `part` (negative there), leaving a shell of `cortex_mm` at the cut."""
        window = self._window(box)
        if any(piece.stop == piece.start for piece in window if piece.stop is not None):
            return
        field = part(self._coordinates(window))
        self.outer[window] = smooth_max(self.outer[window], field, blend_mm)
        self.inner[window] = smooth_max(self.inner[window], field + np.float32(cortex_mm), blend_mm)


@dataclass(frozen=True, slots=True, eq=False)
class Ellipsoid:
    """Ellipsoid with its own axes."""

    centre: tuple[float, float, float]
    half: tuple[float, float, float]
    axes: NDArray[np.float64] | None = None
    """Rows are the directions of the half axes; the coordinate axes unless given."""

    def box(self, margin_mm: float = 10.0) -> Box:
        """Box that holds it with a margin."""
        if self.axes is None:
            reach = np.array(self.half)
        else:
            reach = np.sqrt(((np.array(self.half)[:, None] * self.axes) ** 2).sum(axis=0))
        low, high = np.array(self.centre) - reach - margin_mm, np.array(self.centre) + reach + margin_mm
        return (low[0], high[0]), (low[1], high[1]), (low[2], high[2])

    def __call__(self, at: Coordinates) -> Grid:
        """Distance to the surface, nearly: exact at the surface. [mm]"""
        x, y, z = (np.float32(-c) + a for a, c in zip(at, self.centre, strict=True))
        if self.axes is not None:
            rows = self.axes.astype(np.float32)
            x, y, z = (r[0] * x + r[1] * y + r[2] * z for r in rows)
        a, b, c = (np.float32(value) for value in self.half)
        ring = np.sqrt((x / a) ** 2 + (y / b) ** 2 + (z / c) ** 2)
        slope = np.sqrt((x / (a * a)) ** 2 + (y / (b * b)) ** 2 + (z / (c * c)) ** 2)
        return np.asarray(ring * (ring - 1.0) / np.maximum(slope, np.float32(1e-6)), dtype=np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class Bar:
    """Round bar between two points with its own radius at each, rounded ends."""

    start: tuple[float, float, float]
    end: tuple[float, float, float]
    start_radius: float
    end_radius: float
    flatten: tuple[float, float, float] = (1.0, 1.0, 1.0)
    """Factors on distances along x, y, z; more than 1 makes it thinner that way."""

    def box(self, margin_mm: float = 10.0) -> Box:
        """Box that holds it with a margin."""
        reach = max(self.start_radius, self.end_radius) / np.minimum(np.array(self.flatten), 1.0) + margin_mm
        low = np.minimum(self.start, self.end) - reach
        high = np.maximum(self.start, self.end) + reach
        return (low[0], high[0]), (low[1], high[1]), (low[2], high[2])

    def __call__(self, at: Coordinates) -> Grid:
        """Distance to the surface. [mm]"""
        start = np.array(self.start, dtype=np.float32)
        line = np.array(self.end, dtype=np.float32) - start
        x, y, z = (a - s for a, s in zip(at, start, strict=True))
        share = np.clip((x * line[0] + y * line[1] + z * line[2]) / np.float32(line @ line), 0.0, 1.0)
        fx, fy, fz = (np.float32(value) for value in self.flatten)
        away = np.sqrt(
            (fx * (x - share * line[0])) ** 2
            + (fy * (y - share * line[1])) ** 2
            + (fz * (z - share * line[2])) ** 2
        )
        radius = np.float32(self.start_radius) + share * np.float32(self.end_radius - self.start_radius)
        return np.asarray(away - radius, dtype=np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Box with rounded edges, turned in the sagittal plane."""

    centre: tuple[float, float, float]
    half: tuple[float, float, float]
    rounding: float
    """Radius of edges and corners. [mm]"""
    tilt_deg: float = 0.0
    """Turn about z: + lifts its front. [deg]"""

    def box(self, margin_mm: float = 10.0) -> Box:
        """Box that holds it with a margin."""
        flat = float(np.hypot(self.half[0], self.half[1])) + margin_mm
        low, high = np.array(self.centre) - flat, np.array(self.centre) + flat
        return (
            (low[0], high[0]),
            (low[1], high[1]),
            (self.centre[2] - self.half[2] - margin_mm, self.centre[2] + self.half[2] + margin_mm),
        )

    def __call__(self, at: Coordinates) -> Grid:
        """Distance to the surface. [mm]"""
        x, y, z = (a - np.float32(c) for a, c in zip(at, self.centre, strict=True))
        cosine, sine = (
            np.float32(np.cos(np.radians(self.tilt_deg))),
            np.float32(np.sin(np.radians(self.tilt_deg))),
        )
        x, y = cosine * x + sine * y, cosine * y - sine * x
        over = [
            np.abs(place) - np.float32(half - self.rounding)
            for place, half in zip((x, y, z), self.half, strict=True)
        ]
        outside = np.sqrt(sum(np.maximum(part, 0.0) ** 2 for part in over))
        inside = np.minimum(np.maximum(np.maximum(over[0], over[1]), over[2]), 0.0)
        return np.asarray(outside + inside - np.float32(self.rounding), dtype=np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class Shaft:
    """Elliptic tube whose centre and half axes vary with y; exact where nothing else is joined to it."""

    y_mm: NDArray[np.float64]
    centre_x: NDArray[np.float64]
    centre_z: NDArray[np.float64]
    outer_x: NDArray[np.float64]
    outer_z: NDArray[np.float64]
    inner_x: NDArray[np.float64]
    inner_z: NDArray[np.float64]
    corner: float = 0.0
    """How three-cornered the section is: 0 is an ellipse, 0.05 a tibia with its crest in front. The widths
    along x and z stay the given ones, and stay centred."""

    def radius(
        self, cosine: NDArray[Any], sine: NDArray[Any], half_x: NDArray[Any], half_z: NDArray[Any]
    ) -> NDArray[Any]:
        """Distance of the surface from the centre in a direction of the section (cosine is forward). [mm]"""
        shape = 1.0 - 4.0 * self.corner * cosine * sine * sine
        slim = half_z / self._bulge()
        return np.asarray(shape / np.sqrt((cosine / half_x) ** 2 + (sine / slim) ** 2))

    def _bulge(self) -> float:
        """How much the corners would widen a circle sideways."""
        angle = np.linspace(0.0, np.pi, 2001)
        return float(np.max((1.0 - 4.0 * self.corner * np.cos(angle) * np.sin(angle) ** 2) * np.sin(angle)))

    def __call__(self, at: Coordinates) -> tuple[Grid, Grid]:
        """Distance to outer and inner surface along the section's radius. [mm]"""
        x, y, z = at
        level = y.ravel()

        def row(values: NDArray[np.float64]) -> Grid:
            return np.interp(level, self.y_mm, values).astype(np.float32)[None, :, None]

        dx, dz = x - row(self.centre_x), z - row(self.centre_z)
        away = np.sqrt(dx * dx + dz * dz) + np.float32(1e-6)
        # On the centre line itself any direction will do.
        cosine = np.where(away > 1e-5, dx / away, np.float32(1.0))
        sine = dz / away
        ends = np.maximum(np.float32(self.y_mm[0]) - y, y - np.float32(self.y_mm[-1]))
        fields = []
        for half_x, half_z in ((self.outer_x, self.outer_z), (self.inner_x, self.inner_z)):
            radius = self.radius(cosine, sine, row(half_x), row(half_z))
            fields.append(np.asarray(np.maximum(away - radius, ends), dtype=np.float32))
        return fields[0], fields[1]


def without(part: Ellipsoid | Bar | Block) -> Callable[[Coordinates], Grid]:
    """What lies outside a part, for `BoneField.keep`."""
    return lambda at: -part(at)
