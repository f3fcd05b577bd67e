"""The straight line that lies best in a bone's canal, its fragments brought together as they are to be.

Each level of the canal gives its middle, weighted by 1/width², so that the narrow part decides and the wide
metaphysis gives way. Where a canal was not traced, mid-diaphyseal points stand in for it.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from limbwright.error import Missing
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.view import Surface
from limbwright.plan.canal import ACROSS, BORDERS, common_walls, edge_points
from limbwright.plan.leg import JOINT_CENTRES, SHAFT_POINTS, LegModel
from limbwright.plan.motion import ANTERIOR, LATERAL, PROXIMAL, Floats, Motion, unit

# A mid-diaphyseal point stands for some centimetres of a canal of usual width; our judgement.
_POINT_WEIGHT = 25 / 14.0**2


@dataclass(frozen=True, slots=True)
class CanalMiddle:
    """Middle of a canal as each film shows it."""

    points_mm: Mapping[Projection, Floats]
    """Points (n, 3) per film, its hidden coordinate filled in from the other film. [mm]"""
    weight: Mapping[Projection, Floats]
    """Weight of each point, (n,)."""
    traced: bool
    """Whether all of it comes from traced inner walls."""

    def moved(self, motion: Motion) -> "CanalMiddle":
        """The same, carried along."""
        return CanalMiddle(
            {p: motion.moved(x) if len(x) else x for p, x in self.points_mm.items()}, self.weight, self.traced
        )

    def joined(self, other: "CanalMiddle") -> "CanalMiddle":
        """Both together."""
        return CanalMiddle(
            {p: np.concatenate([x, other.points_mm[p]]) for p, x in self.points_mm.items()},
            {p: np.concatenate([w, other.weight[p]]) for p, w in self.weight.items()},
            self.traced and other.traced,
        )

    def within(self, lowest_mm: float, highest_mm: float) -> "CanalMiddle":
        """Only what lies between two levels. [mm]"""
        keep = {
            p: (x[:, PROXIMAL] >= lowest_mm) & (x[:, PROXIMAL] <= highest_mm)
            for p, x in self.points_mm.items()
        }
        return CanalMiddle(
            {p: x[keep[p]] for p, x in self.points_mm.items()},
            {p: w[keep[p]] for p, w in self.weight.items()},
            self.traced,
        )

    def at_level(self, level_mm: float) -> Floats:
        """Middle of the canal at a level, the nearest end's beyond them, (3,). [mm]"""
        point = np.array([0.0, level_mm, 0.0])
        for projection, points in self.points_mm.items():
            if len(points):
                order = np.argsort(points[:, PROXIMAL])
                across = ACROSS[projection]
                point[across] = np.interp(level_mm, points[order, PROXIMAL], points[order, across])
        return point


def canal_middle(part: LegModel, bone: Bone) -> CanalMiddle:
    """Middle of the canal of a bone, or of one fragment of it (`cut.split`); may hold no point at all."""
    flat: dict[Projection, tuple[Floats, Floats, Floats]] = {}
    traced = True
    for projection in Projection:
        if projection is Projection.SAGITTAL and not part.has_sagittal:
            continue
        samples = _traced_middle(part, bone, projection)
        if samples is None:
            traced = False
            samples = _marked_middle(part, bone, projection)
        flat[projection] = samples
    points, weights = {}, {}
    for projection, (levels, middle, weight) in flat.items():
        other = Projection.SAGITTAL if projection is Projection.FRONTAL else Projection.FRONTAL
        hidden = np.zeros_like(levels)
        if other in flat and len(flat[other][0]):
            rising = np.argsort(flat[other][0])
            hidden = np.interp(levels, flat[other][0][rising], flat[other][1][rising])
        x = np.zeros((len(levels), 3))
        x[:, PROXIMAL], x[:, ACROSS[projection]], x[:, ACROSS[other]] = levels, middle, hidden
        points[projection], weights[projection] = x, weight
    return CanalMiddle(points, weights, traced)


def fitted_line(middle: CanalMiddle, *, where: str) -> tuple[Floats, Floats]:
    """A point and the distal unit direction of the line that fits best, (3,) each. [mm; -]

    Raises
    ------
    Missing
        If a film shows fewer than two levels of the canal.
    """
    level = _mean_level(middle)
    point, slope = np.zeros(3), np.zeros(3)
    point[PROXIMAL], slope[PROXIMAL] = level, 1.0
    for projection, x in middle.points_mm.items():
        if len(np.unique(x[:, PROXIMAL])) < 2:
            raise Missing(
                f"there are {len(x)} level(s) of the canal to draw the nail's line through.",
                where=f"{where}, {projection} film",
                next_step="Mark two mid-diaphyseal points, or trace both inner walls.",
            )
        across = ACROSS[projection]
        slope[across], point[across] = np.polyfit(
            x[:, PROXIMAL] - level, x[:, across], 1, w=np.sqrt(middle.weight[projection])
        )
    return point, unit(-slope)


def meeting_level_mm(upper: CanalMiddle, lower: CanalMiddle, *, frontal: bool) -> float | None:
    """Level at which the lines of two fragments meet on one film; None when they do not. [mm]"""
    across = LATERAL if frontal else ANTERIOR
    try:
        lines = [fitted_line(m, where="") for m in (upper, lower)]
    except Missing:
        return None
    slopes = [direction[across] / direction[PROXIMAL] for _point, direction in lines]
    rise = slopes[0] - slopes[1]
    if abs(rise) < 1e-3:
        return None
    at_zero = [x[across] - slope * x[PROXIMAL] for (x, _d), slope in zip(lines, slopes, strict=True)]
    return float((at_zero[1] - at_zero[0]) / rise)


def _mean_level(middle: CanalMiddle) -> float:
    levels = [x[:, PROXIMAL] for x in middle.points_mm.values() if len(x)]
    return float(np.mean(np.concatenate(levels))) if levels else 0.0


def _traced_middle(
    part: LegModel, bone: Bone, projection: Projection
) -> tuple[Floats, Floats, Floats] | None:
    """Levels, middle and weight from both traced inner walls; None without them."""
    edges = []
    for border in BORDERS[projection]:
        points = edge_points(part, bone, Surface.INNER, border)
        if points is None:
            return None
        order = np.argsort(points[:, PROXIMAL])
        edges.append((points[order, PROXIMAL], points[order, ACROSS[projection]]))
    walls = common_walls(edges[0], edges[1])
    if walls is None:
        return None
    low, high = np.array(walls.negative_mm), np.array(walls.positive_mm)
    return np.array(walls.depth_mm), (low + high) / 2, 1 / (high - low) ** 2


def _marked_middle(part: LegModel, bone: Bone, projection: Projection) -> tuple[Floats, Floats, Floats]:
    """Levels, middle and weight from mid-diaphyseal points; the distal joint centre helps a single one."""
    marked = part.points(projection)
    chosen = [marked[k] for k in SHAFT_POINTS[bone] if k in marked]
    if len(chosen) == 1:
        chosen += [marked[k] for k in JOINT_CENTRES[bone][1:] if k in marked]
    places = np.array([p.array() for p in chosen]).reshape(-1, 3)
    return places[:, PROXIMAL], places[:, ACROSS[projection]], np.full(len(places), _POINT_WEIGHT)
