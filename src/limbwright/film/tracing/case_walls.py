"""Traces as a case keeps them: walls and shaft points on a film, with provenance."""

import numpy as np

from limbwright.error import Missing
from limbwright.film.film import Film, FilmWall, Mark, Provenance, ViewerSide
from limbwright.film.tracing.canal import ShaftLine
from limbwright.film.tracing.shaft import ShaftTrace
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


def film_walls(trace: ShaftTrace, film: Film, *, side: Side, bone: Bone) -> tuple[FilmWall, ...]:
    """Outer and inner walls of a trace for a film's record; stretches that were not found are left out.

    Raises
    ------
    Missing
        Where no wall was found over ten millimetres or more.
    """
    walls = []
    for surface in (Surface.OUTER, Surface.INNER):
        for border, edge in zip(borders(film, side), trace.edge(surface), strict=True):
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
                )
            )
    if not walls:
        raise Missing(
            "no wall was found over ten millimetres or more.",
            where=f"{bone} of the {side} leg, film '{film.name}'",
            next_step="Click nearer to the middle of the shaft, or pin points of its walls.",
        )
    return tuple(walls)


def shaft_marks(line: ShaftLine, *, bone: Bone, part: str, column_mm: float) -> dict[Landmark, Mark]:
    """Upper and lower mid-diaphyseal point of one part ('proximal', 'middle', 'distal'), snapped."""
    sd_px = line.offset_sd_mm / column_mm
    points = zip(SHAFT_POINTS[(bone, part)], (line.upper_px, line.lower_px), strict=True)
    return {
        landmark: Mark(x_px=at[0], y_px=at[1], sd_px=max(sd_px, 1e-3), provenance=Provenance.SNAPPED)
        for landmark, at in points
    }
