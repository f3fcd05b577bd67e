"""First, coarse look at a straightened shaft: which pair of edges bounds the bone, and where metal lies."""

from dataclasses import dataclass

import numpy as np

from limbwright.film.tracing.path import smooth_paths
from limbwright.film.tracing.plate import Floats, Image
from limbwright.film.tracing.strip import Strip

KINDS = 5
"""Edges looked for on each side, strongest first."""
NAIL_MM = (5.0, 16.0)
"""Widths on the film that a nail may have. [mm]"""

PLAINLY = (3.0, 8.0)
"""How much better the outline without a nail has to be for the nail to be given up: one that is no steeper
than walls are, and one that is; engineering judgement."""
METAL_STEEPNESS = 1.3
"""How much steeper the edges of metal are than the walls of the bone around it; engineering judgement, as
found on phantom films."""
FIBULA_MM = (7.0, 20.0)
"""How far the far edge of a fibula may lie outside the wall of the tibia that it stands beside. [mm]"""
SECOND_WALL = 0.4
"""Steepness of an edge that far inside another, as a share of it, from which it is rather the bone's own wall
and the outer one that of the fibula; engineering judgement, as found on phantom films."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Edge:
    """One coarse edge path."""

    offset_mm: Floats
    """Per row of the coarse strip."""
    strength: Floats
    """Slope along it, per row, as a share of the strip's strong bone edges."""
    place_mm: float
    """Median offset."""
    mean_strength: float
    """Median strength."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Outline:
    """The pair of edges that bounds the bone, and the pair that bounds a nail in it, if there is one."""

    left: Edge
    right: Edge
    nail: tuple[Edge, Edge] | None
    rivals: float
    """Score of the best other pair over the score of this one, 0 to 1: how nearly another was chosen."""


def find_outline(strip: Strip, *, centred_mm: float) -> Outline | None:
    """The outer walls of the bone on a coarse strip.

    Parameters
    ----------
    strip : Strip
        Coarse: columns 0.3 to 0.5 mm apart, rows 4 to 6 mm.
    centred_mm : float
        How far the middle of the bone may lie from the guide, as a standard deviation. [mm]

    Notes
    -----
    Several disjoint paths of falling grey are found on each side. Of all pairs the one wins that is steep on
    both sides, lies evenly about the guide, and has soft tissue (not air, not more bone) outside. A pair as
    narrow as a nail that is brightest in its middle is metal: bone is a tube and has a dip there.
    """
    slope = strip.slope(0.8)
    sides = np.stack([slope, -slope])
    steep = np.quantile(sides.max(axis=2), 0.5)
    if steep <= 0:
        return None
    sides = np.clip(sides / np.float32(steep), 0.0, None)
    found = _edges(strip, sides)
    pairs = [(left, right) for left in found[0] for right in found[1] if right.place_mm - left.place_mm > 4.0]
    nails = [pair for pair in pairs if _is_nail(strip, pair, found)]
    floor = float(np.quantile(strip.grey[:, ::4], 0.01))

    def scored(nail: tuple[Edge, Edge] | None) -> list[tuple[float, int]]:
        return sorted(
            (
                (
                    _score(strip, pair, nail, centred_mm=centred_mm, floor=floor)
                    * _innermost(pair, nail, found),
                    number,
                )
                for number, pair in enumerate(pairs)
                if pair not in nails
            ),
            reverse=True,
        )

    nail = max(nails, key=lambda p: min(p[0].mean_strength, p[1].mean_strength), default=None)
    order = scored(nail)
    if nail is not None:
        # A cortex with a fibula over it looks like a nail, but is no steeper than walls are, and leaves no
        # bone that could enclose it.
        plain = scored(None)
        needed = PLAINLY[1] if not order or _metallic(nail, pairs[order[0][1]]) else PLAINLY[0]
        if plain and plain[0][0] > needed * (order[0][0] if order else 0.0):
            nail, order = None, plain
    if not order or order[0][0] <= 0:
        return None
    best = pairs[order[0][1]]
    inside = nail if nail is not None and _encloses(best, nail) else None
    rivals = max((score for score, _ in order[1:]), default=0.0) / order[0][0]
    return Outline(left=best[0], right=best[1], nail=inside, rivals=float(np.clip(rivals, 0.0, 1.0)))


def _edges(strip: Strip, sides: Image) -> tuple[list[Edge], list[Edge]]:
    """Up to `KINDS` disjoint edges on each side, steepest first."""
    step = strip.offset_step_mm
    gain = np.minimum(sides, np.float32(1.5))
    # The left wall lies left of the far side of the bone: beyond that nothing is a left wall.
    gain[0][:, strip.offset_mm > 14.0] = -1.0
    gain[1][:, strip.offset_mm < -14.0] = -1.0
    found: tuple[list[Edge], list[Edge]] = ([], [])
    rows = np.arange(sides.shape[1])
    spread = round(1.8 / step)
    for _ in range(KINDS):
        paths = smooth_paths(gain, reach=5, stiffness=0.02)
        for side in (0, 1):
            column = paths[side]
            found[side].append(
                Edge(
                    offset_mm=strip.offset_mm[column],
                    strength=sides[side][rows, column].astype(np.float64),
                    place_mm=float(np.median(strip.offset_mm[column])),
                    mean_strength=float(np.median(sides[side][rows, column])),
                )
            )
            for near in range(-spread, spread + 1):
                gain[side][rows, np.clip(column + near, 0, sides.shape[2] - 1)] = -0.5
    return found


def _level(strip: Strip, offset_mm: Floats) -> Floats:
    column = np.clip(np.rint(strip.column_of(offset_mm)).astype(np.intp), 0, len(strip.offset_mm) - 1)
    return strip.grey[np.arange(len(strip.depth_mm)), column].astype(np.float64)


def _is_nail(strip: Strip, pair: tuple[Edge, Edge], found: tuple[list[Edge], list[Edge]]) -> bool:
    if not 0.5 * NAIL_MM[0] <= pair[1].place_mm - pair[0].place_mm <= 1.3 * NAIL_MM[1]:
        return False
    width = pair[1].offset_mm - pair[0].offset_mm
    middle = 0.5 * (pair[0].offset_mm + pair[1].offset_mm)
    typical = float(np.median(width))
    if not NAIL_MM[0] <= typical <= NAIL_MM[1] or float(np.median(np.abs(width - typical))) > 1.8:
        return False
    solid = np.median(
        _level(strip, middle)
        - 0.5 * (_level(strip, middle - 0.35 * width) + _level(strip, middle + 0.35 * width))
    )
    outside = np.median(_level(strip, middle - 0.75 * width) + _level(strip, middle + 0.75 * width)) / 2
    height = np.median(_level(strip, middle)) - outside
    if height <= 0 or solid < -0.02 * height:
        return False
    if float(np.abs(np.median(middle))) > 12.0:
        return False
    # A bone must lie around it, with an edge of its own on each side.
    around = [
        max(
            (e.mean_strength for e in edges if sign * (e.place_mm - own.place_mm) > 1.0),
            default=0.0,
        )
        for sign, own, edges in ((-1.0, pair[0], found[0]), (1.0, pair[1], found[1]))
    ]
    weaker = min(edge.mean_strength for edge in pair)
    return min(around) > 0.2 * weaker and weaker > 0.7 * max(around)


def _metallic(nail: tuple[Edge, Edge], bone: tuple[Edge, Edge]) -> bool:
    """Whether the edges of a nail are steeper than the walls around it, as those of metal are."""
    walls = np.sqrt(max(bone[0].mean_strength * bone[1].mean_strength, 0.0))
    return min(edge.mean_strength for edge in nail) > METAL_STEEPNESS * float(walls)


def _encloses(outer: tuple[Edge, Edge], inner: tuple[Edge, Edge]) -> bool:
    return bool(inner[0].place_mm - outer[0].place_mm > 1.0 and outer[1].place_mm - inner[1].place_mm > 1.0)


def _innermost(
    pair: tuple[Edge, Edge], nail: tuple[Edge, Edge] | None, found: tuple[list[Edge], list[Edge]]
) -> float:
    """Less than 1 where a steeper edge lies inside: a fibula's far edge behind the tibia's own."""
    middle = 0.5 * (pair[0].place_mm + pair[1].place_mm)
    share = 1.0
    for sign, own, edges in ((-1.0, pair[0], found[0]), (1.0, pair[1], found[1])):
        inside = [
            edge.mean_strength
            for edge in edges
            if (nail is None or edge not in nail)
            and sign * (own.place_mm - edge.place_mm) > 2.5
            and sign * (edge.place_mm - middle) > 2.5
        ]
        share *= min(1.0, own.mean_strength / max([*inside, 1e-9])) ** 2
        behind = [
            edge.mean_strength
            for edge in edges
            if (nail is None or edge not in nail)
            and FIBULA_MM[0] <= sign * (own.place_mm - edge.place_mm) <= FIBULA_MM[1]
            and sign * (edge.place_mm - middle) > 2.5
        ]
        ratio = max([*behind, 0.0]) / max(own.mean_strength, 1e-9)
        share /= 1.0 + (ratio / SECOND_WALL) ** 4
    return share


def _score(
    strip: Strip,
    pair: tuple[Edge, Edge],
    nail: tuple[Edge, Edge] | None,
    *,
    centred_mm: float,
    floor: float,
) -> float:
    left, right = pair
    width = right.offset_mm - left.offset_mm
    if right.place_mm - left.place_mm < 8.0 or (nail is not None and not _encloses(pair, nail)):
        return 0.0
    middle = 0.5 * (left.place_mm + right.place_mm)
    if abs(middle) > 3.5 * centred_mm:
        return 0.0
    strength = np.sqrt(max(left.mean_strength, 0.0) * max(right.mean_strength, 0.0))
    even = np.exp(-0.5 * (middle / centred_mm) ** 2)
    # Inside a bone it is everywhere brighter than just outside it, and outside it is not air.
    outside = np.minimum(_level(strip, left.offset_mm - 2.0), _level(strip, right.offset_mm + 2.0))
    both = 0.5 * (_level(strip, left.offset_mm - 2.0) + _level(strip, right.offset_mm + 2.0))
    inside = _level(strip, 0.5 * (left.offset_mm + right.offset_mm))
    full = max(float(np.median(np.maximum(inside - outside, 0.0))), 1e-9)
    tube = np.median(np.minimum(inside - both, full)) / full
    soft = np.clip(np.median(outside - floor) / max(float(np.median(inside)) - floor, 1e-9), 0.0, 1.0)
    smooth = 1.0 / (1.0 + float(np.median(np.abs(np.diff(width, 2)))))
    return float(
        min(strength, 1.5) ** 2
        * even
        * np.clip(tube, 0.05, 1.0)
        * (0.35 + 0.65 * min(1.0, 3 * soft))
        * smooth
    )
