"""Traces as a case keeps them: walls and shaft points on a film, with provenance."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from limbwright.error import Missing
from limbwright.film.film import Film, FilmWall, Mark, Provenance, ViewerSide
from limbwright.film.tracing.canal import ShaftLine
from limbwright.film.tracing.shaft import Pin, ShaftTrace
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.view import Border, Surface

SHAFT_POINTS = {
    (Bone.FEMUR, "proximal"): (Landmark.FEMUR_PROXIMAL_SHAFT_UPPER, Landmark.FEMUR_PROXIMAL_SHAFT_LOWER),
    (Bone.FEMUR, "middle"): (Landmark.FEMUR_MIDDLE_SHAFT_UPPER, Landmark.FEMUR_MIDDLE_SHAFT_LOWER),
    (Bone.FEMUR, "distal"): (Landmark.FEMUR_DISTAL_SHAFT_UPPER, Landmark.FEMUR_DISTAL_SHAFT_LOWER),
    (Bone.TIBIA, "proximal"): (Landmark.TIBIA_PROXIMAL_SHAFT_UPPER, Landmark.TIBIA_PROXIMAL_SHAFT_LOWER),
    (Bone.TIBIA, "middle"): (Landmark.TIBIA_MIDDLE_SHAFT_UPPER, Landmark.TIBIA_MIDDLE_SHAFT_LOWER),
    (Bone.TIBIA, "distal"): (Landmark.TIBIA_DISTAL_SHAFT_UPPER, Landmark.TIBIA_DISTAL_SHAFT_LOWER),
}
THINNED = 3
"""Every how many millimetres a stored wall has a point."""


def borders(film: Film, side: Side) -> tuple[Border, Border]:
    """Which border of the bone lies at the viewer's left and right on a film."""
    if film.projection is Projection.FRONTAL:
        right_at_left = film.right_side_at is ViewerSide.VIEWER_LEFT
        lateral_at_left = right_at_left == (side is Side.RIGHT)
        return (Border.LATERAL, Border.MEDIAL) if lateral_at_left else (Border.MEDIAL, Border.LATERAL)
    front_at_left = film.anterior_at is ViewerSide.VIEWER_LEFT
    return (Border.ANTERIOR, Border.POSTERIOR) if front_at_left else (Border.POSTERIOR, Border.ANTERIOR)


def film_walls(
    trace: ShaftTrace, film: Film, *, side: Side, bone: Bone, pins: tuple[Pin, ...] = ()
) -> tuple[FilmWall, ...]:
    """Outer and inner walls of a trace for a film's record; stretches that were not found are left out.

    Parameters
    ----------
    trace, film, side, bone
        What was traced, and of whom.
    pins : tuple of Pin
        The pins it was traced with; a wall keeps its own.

    Raises
    ------
    Missing
        Where no wall was found over ten millimetres or more.
    """
    walls = []
    for surface in (Surface.OUTER, Surface.INNER):
        both = zip(borders(film, side), trace.edge(surface), (True, False), strict=True)
        for border, edge, viewer_left in both:
            own = tuple(
                (p.x_px, p.y_px) for p in pins if (p.surface, p.viewer_left) == (surface, viewer_left)
            )
            points = trace.points_px(edge)[::THINNED]
            if edge.found.sum() < 10 or len(points) < 4:
                continue
            walls.append(
                FilmWall(
                    side=side,
                    bone=bone,
                    surface=surface,
                    border=border,
                    x_px=tuple(float(x) for x in points[:, 0]),
                    y_px=tuple(float(y) for y in points[:, 1]),
                    sd_px=float(np.nanmedian(edge.sd_mm) / trace.column_mm),
                    provenance=Provenance.PINNED if own else Provenance.SNAPPED,
                    pins=own,
                )
            )
    if not walls:
        raise Missing(
            "no wall was found over ten millimetres or more.",
            where=f"{bone} of the {side} leg, film '{film.name}'",
            next_step="Click nearer to the middle of the shaft, or pin points of its walls.",
        )
    return tuple(walls)


def walls_with(before: tuple[FilmWall, ...], traced: tuple[FilmWall, ...]) -> tuple[FilmWall, ...]:
    """A film's walls after a stretch of one bone was traced: the new ones in place of what lay beside them.

    Of an earlier wall of the same edge, the pieces above and below the stretch stay where they have two
    points or more.
    """
    stretch = {_edge(wall): (wall.y_px[0], wall.y_px[-1]) for wall in traced}
    top = min(y for y, _ in stretch.values())
    bottom = max(y for _, y in stretch.values())
    bones = {(wall.side, wall.bone) for wall in traced}
    kept: list[FilmWall] = []
    for wall in before:
        if (wall.side, wall.bone) not in bones:
            kept.append(wall)
            continue
        # An edge that was not found this time is not to be seen there: its old piece goes as well.
        low, high = stretch.get(_edge(wall), (top, bottom))
        kept.extend(_pieces(wall, low, high))
    return (*kept, *traced)


def _edge(wall: FilmWall) -> tuple[Side, Bone, Surface, Border]:
    return wall.side, wall.bone, wall.surface, wall.border


def _pieces(wall: FilmWall, top_px: float, bottom_px: float) -> Iterator[FilmWall]:
    """What is left of a wall above one row and below another."""
    for keep in (
        [i for i, y in enumerate(wall.y_px) if y < top_px],
        [i for i, y in enumerate(wall.y_px) if y > bottom_px],
    ):
        if len(keep) < 2 or wall.y_px[keep[-1]] <= wall.y_px[keep[0]]:
            continue
        yield replace(
            wall,
            x_px=tuple(wall.x_px[i] for i in keep),
            y_px=tuple(wall.y_px[i] for i in keep),
            pins=tuple(p for p in wall.pins if not top_px <= p[1] <= bottom_px),
        )


def shaft_marks(line: ShaftLine, *, bone: Bone, part: str, column_mm: float) -> dict[Landmark, Mark]:
    """Upper and lower mid-diaphyseal point of one part ('proximal', 'middle', 'distal'), snapped."""
    sd_px = line.offset_sd_mm / column_mm
    points = zip(SHAFT_POINTS[(bone, part)], (line.upper_px, line.lower_px), strict=True)
    return {
        landmark: Mark(x_px=at[0], y_px=at[1], sd_px=max(sd_px, 1e-3), provenance=Provenance.SNAPPED)
        for landmark, at in points
    }
