"""The traced canal seen from the nail's line: walls, gaps on every side, the narrowest place.

Offsets are across the line in each plane, lateral + or anterior +, as in the views; depths run along the nail
from its driving end, bones corrected and not yet lengthened. Without traced inner walls nothing is said of
the canal; a finding names what is missing.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from limbwright.finding import Finding, Severity
from limbwright.limb.anatomy import Bone, Fragment, Projection
from limbwright.limb.view import Border, Surface
from limbwright.mechanics.canal import Walls
from limbwright.plan.leg import LegModel
from limbwright.plan.motion import ANTERIOR, LATERAL, PROXIMAL, Floats
from limbwright.published import Source, Status
from limbwright.quantity import Value

HAIR_MM = 1e-6  # a length at its limit but for rounding is at its limit
SAMPLE_MM = 2.0  # finer than walls are traced; clearances between samples are linear anyway
BORDERS = {
    Projection.FRONTAL: (Border.MEDIAL, Border.LATERAL),
    Projection.SAGITTAL: (Border.POSTERIOR, Border.ANTERIOR),
}
ACROSS = {Projection.FRONTAL: LATERAL, Projection.SAGITTAL: ANTERIOR}
TRACED_WALLS = Source(text="geometry of the traced cortical edges", status=Status.DERIVED)


def along_line(
    points_mm: Floats, line_point_mm: npt.ArrayLike, direction: npt.ArrayLike, across: int
) -> tuple[Floats, Floats]:
    """Points of a film in the frame of a line: distance along it and offset across it, each (n,). [mm]

    Parameters
    ----------
    points_mm : (n, 3)
        Points as one film shows them.
    line_point_mm, direction : (3,)
        The line; offsets count from it, distances along `direction`.
    across : int
        Column the film shows beside the proximal one (`LATERAL` or `ANTERIOR`).

    Notes
    -----
    The film shows the line foreshortened by the length of its direction's projection; distances along it are
    given as on the line itself.
    """
    columns = [across, PROXIMAL]
    u = np.asarray(direction, dtype=float)[columns]
    shown = float(np.linalg.norm(u))
    u = u / shown
    # Positive across whichever way the line runs.
    normal = np.array([-u[1], u[0]]) if u[1] < 0 else np.array([u[1], -u[0]])
    relative = points_mm[..., columns] - np.asarray(line_point_mm, dtype=float)[columns]
    return relative @ u / shown, relative @ normal


@dataclass(frozen=True, slots=True, kw_only=True)
class CanalAlong(Value):
    """The canal of one fragment in one plane, along the nail's line in it."""

    fragment: Fragment
    """Which fragment."""
    projection: Projection
    """Which plane."""
    inner: Walls
    """Inner walls: depth along the nail, offsets from its line [mm]."""
    outer: Walls | None
    """Outer walls likewise; None when they were not traced."""

    def gaps_mm(self, depth_mm: npt.ArrayLike, radius_mm: npt.ArrayLike) -> tuple[Floats, Floats]:
        """Free distance between the nail's surface and the medial/posterior and the lateral/anterior wall.

        Negative where bone has to be reamed away; the wall's end value is used beyond its ends. [mm]
        """
        depth, radius = np.asarray(depth_mm, dtype=float), np.asarray(radius_mm, dtype=float)
        low = -np.interp(depth, self.inner.depth_mm, self.inner.negative_mm) - radius
        high = np.interp(depth, self.inner.depth_mm, self.inner.positive_mm) - radius
        return low, high

    def width_mm(self, depth_mm: npt.ArrayLike) -> Floats:
        """Canal width across the line. [mm]"""
        low, high = self.gaps_mm(depth_mm, 0.0)
        return low + high

    def cortex_left_mm(self, depth_mm: npt.ArrayLike, bore_radius_mm: float) -> tuple[Floats, Floats] | None:
        """Bone left between a bore on the nail's line and the outer edges; None without outer walls. [mm]"""
        if self.outer is None:
            return None
        depth = np.asarray(depth_mm, dtype=float)
        low = -np.interp(depth, self.outer.depth_mm, self.outer.negative_mm) - bore_radius_mm
        high = np.interp(depth, self.outer.depth_mm, self.outer.positive_mm) - bore_radius_mm
        return low, high

    def depths_mm(self, from_mm: float, to_mm: float) -> Floats:
        """Sample depths within a stretch and within the traced walls, rising; may be empty. [mm]"""
        start = max(from_mm, self.inner.depth_mm[0])
        end = min(to_mm, self.inner.depth_mm[-1])
        if end < start:
            return np.empty(0)
        return np.linspace(start, end, max(2, int((end - start) / SAMPLE_MM) + 1))

    def narrowest(self, from_mm: float, to_mm: float) -> tuple[float, float] | None:
        """Depth and width of the narrowest place within a stretch; None where nothing is traced. [mm]"""
        depths = self.depths_mm(from_mm, to_mm)
        if depths.size == 0:
            return None
        widths = self.width_mm(depths)
        i = int(np.argmin(widths))
        return float(depths[i]), float(widths[i])


@dataclass(frozen=True, slots=True, kw_only=True)
class Clearance(Value):
    """Room of the nail at one depth in one plane."""

    fragment: Fragment
    """Fragment."""
    projection: Projection
    """Plane."""
    depth_mm: float
    """Depth along the nail [mm]."""
    medial_or_posterior_gap_mm: float
    """Nail's surface to the medial or posterior inner wall; negative where bone is reamed away [mm]."""
    lateral_or_anterior_gap_mm: float
    """Nail's surface to the lateral or anterior inner wall [mm]."""
    medial_or_posterior_cortex_mm: float | None
    """Bone left outside the reamer on the medial or posterior side; None when not traced [mm]."""
    lateral_or_anterior_cortex_mm: float | None
    """The same on the lateral or anterior side [mm]."""

    @property
    def hits_cortex(self) -> bool:
        """Whether the unreamed nail would meet a wall here."""
        return min(self.medial_or_posterior_gap_mm, self.lateral_or_anterior_gap_mm) < 0


def clearances(
    canals: Iterable[CanalAlong],
    *,
    thick_length_mm: float,
    length_mm: float,
    thick_diameter_mm: float,
    thin_diameter_mm: float,
    reamer_mm: float,
    step_mm: float = 10.0,
) -> tuple[Clearance, ...]:
    """Room on every side of a closed nail, level by level, in every plane that was traced.

    A bend near the entry is left out: it lies where the canal is wide (`nail_fit.canal_fit_mm` checks it).
    """
    found = []
    for canal in canals:
        ends = canal.depths_mm(0.0, length_mm)
        if ends.size == 0:
            continue
        depths = np.arange(np.ceil(ends[0] / step_mm) * step_mm, ends[-1] + HAIR_MM, step_mm)
        radius = np.where(depths <= thick_length_mm, thick_diameter_mm, thin_diameter_mm) / 2
        low, high = canal.gaps_mm(depths, radius)
        cortex = canal.cortex_left_mm(depths, reamer_mm / 2)
        for i, depth in enumerate(depths):
            found.append(
                Clearance(
                    fragment=canal.fragment,
                    projection=canal.projection,
                    depth_mm=float(depth),
                    medial_or_posterior_gap_mm=float(low[i]),
                    lateral_or_anterior_gap_mm=float(high[i]),
                    medial_or_posterior_cortex_mm=None if cortex is None else float(cortex[0][i]),
                    lateral_or_anterior_cortex_mm=None if cortex is None else float(cortex[1][i]),
                )
            )
    return tuple(found)


def canal_along(
    part: LegModel,
    *,
    bone: Bone,
    fragment: Fragment,
    projection: Projection,
    line_point_mm: npt.ArrayLike,
    direction: npt.ArrayLike,
    depth_at_point_mm: float,
) -> CanalAlong | None:
    """The canal of one fragment along a line of it; None when its inner walls are not traced.

    Parameters
    ----------
    part : LegModel
        The fragment as it stands (`cut.split`), or a whole leg.
    line_point_mm, direction : (3,)
        A point of the nail's line in the fragment, and its direction toward greater depth. [mm; -]
    depth_at_point_mm : float
        Depth of that point along the nail. [mm]
    """

    def walls(surface: Surface) -> Walls | None:
        edges = []
        for border in BORDERS[projection]:
            points = edge_points(part, bone, surface, border)
            if points is None:
                return None
            s, offset = along_line(points, line_point_mm, direction, ACROSS[projection])
            order = np.argsort(s)
            edges.append((s[order] + depth_at_point_mm, offset[order]))
        return common_walls(edges[0], edges[1])

    inner = walls(Surface.INNER)
    if inner is None:
        return None
    return CanalAlong(fragment=fragment, projection=projection, inner=inner, outer=walls(Surface.OUTER))


def canal_not_traced(bone: Bone, projection: Projection, fragments: Sequence[Fragment]) -> Finding:
    """The finding that names inner walls which are missing beside the nail."""
    low, high = BORDERS[projection]
    which = " and ".join(fragments)
    return Finding(
        id="canal-not-traced",
        severity=Severity.CAUTION,
        words=f"The {low} and {high} inner edges of the {bone} are not traced in the {which} fragment on the "
        f"{projection} film: nail diameter, straightness and the gap beside the nail are not checked there.",
        next_step=f"Trace both inner cortical edges of the {bone} on the {projection} film.",
        rule="Nothing is said of a canal that was not traced.",
        source=TRACED_WALLS,
    )


def edge_points(leg: LegModel, bone: Bone, surface: Surface, border: Border) -> Floats | None:
    """All traced points of one edge, (n, 3); None where it was not traced. A border names its film. [mm]"""
    points = [w.array() for w in leg.walls if (w.bone, w.surface, w.border) == (bone, surface, border)]
    return np.concatenate(points) if points else None


def common_walls(low: tuple[Floats, Floats], high: tuple[Floats, Floats]) -> Walls | None:
    """Two edges (depth rising, offset) sampled at common depths; None when they share no stretch."""
    start, end = max(low[0][0], high[0][0]), min(low[0][-1], high[0][-1])
    if end - start < SAMPLE_MM:
        return None
    depth = np.linspace(start, end, max(2, int((end - start) / SAMPLE_MM) + 1))
    return Walls(
        depth_mm=tuple(depth.tolist()),
        negative_mm=tuple(np.interp(depth, *low).tolist()),
        positive_mm=tuple(np.interp(depth, *high).tolist()),
    )


def outer_edges_mm(
    leg: LegModel, bone: Bone, projection: Projection, point_mm: npt.ArrayLike, direction: npt.ArrayLike
) -> tuple[float, float] | None:
    """Offsets of the outer edges of a bone from a point of a line, medial or posterior one first. [mm]

    None where an outer edge is not traced at that level.
    """
    found = []
    for border in BORDERS[projection]:
        points = edge_points(leg, bone, Surface.OUTER, border)
        if points is None:
            return None
        s, offset = along_line(points, point_mm, direction, ACROSS[projection])
        order = np.argsort(s)
        if not s[order[0]] <= 0 <= s[order[-1]]:
            return None
        found.append(float(np.interp(0.0, s[order], offset[order])))
    return found[0], found[1]


def by_side(canals: Iterable[CanalAlong], middle_side: Fragment | None) -> tuple[CanalAlong, ...]:
    """Canals named by their side of the lengthened osteotomy: the middle fragment's joined to the side "
    "it is on.

    Parameters
    ----------
    middle_side : Fragment or None
        Side that is cut again (`BonePlan.middle_side`); None with one osteotomy, which changes nothing.
    """
    given = tuple(canals)
    if middle_side is None:
        return given
    found = [c for c in given if c.fragment not in {Fragment.MIDDLE, middle_side}]
    for projection in Projection:
        pieces = [
            c for c in given if c.projection is projection and c.fragment in {Fragment.MIDDLE, middle_side}
        ]
        pieces.sort(key=lambda c: c.inner.depth_mm[0])
        if pieces:
            outer = [c.outer for c in pieces if c.outer is not None]
            found.append(
                CanalAlong(
                    fragment=middle_side,
                    projection=projection,
                    inner=_one_after_the_other([c.inner for c in pieces]),
                    outer=_one_after_the_other(outer) if len(outer) == len(pieces) else None,
                )
            )
    return tuple(found)


def _one_after_the_other(walls: Sequence[Walls]) -> Walls:
    depth, low, high = (
        np.concatenate([getattr(w, name) for w in walls])
        for name in ("depth_mm", "negative_mm", "positive_mm")
    )
    # At a cut the end of one fragment and the start of the next may fall on one depth.
    kept = np.concatenate([[True], depth[1:] > np.maximum.accumulate(depth)[:-1]])
    return Walls(
        depth_mm=tuple(depth[kept].tolist()),
        negative_mm=tuple(low[kept].tolist()),
        positive_mm=tuple(high[kept].tolist()),
    )
