"""Drawings and maps as plain JSON, in millimetres of the limb plane frame of the leg model."""

from typing import Any

import numpy as np

from limbwright.film.film import Film
from limbwright.film.leg import FilmFrame, LegViews
from limbwright.film.scale import FilmScale
from limbwright.limb.anatomy import Projection
from limbwright.limb.landmark import Landmark
from limbwright.limb.view import View
from limbwright.plan.decision import Plan
from limbwright.plan.drawing import Drawing, drawing
from limbwright.plan.leg import LegModel
from limbwright.plan.motion import Floats
from limbwright.plan.shape import Shape, ShapeKind
from limbwright.plan.stage import StageName

WALLS = frozenset({ShapeKind.INNER_WALL, ShapeKind.OUTER_WALL})
_KNEES = (Landmark.TIBIA_KNEE_CENTRE, Landmark.FEMUR_KNEE_CENTRE)


def drawing_plain(drawn: Drawing, *, walls: bool = True) -> dict[str, Any]:
    """A drawing; shapes that can be dragged carry an id."""
    counts: dict[str, int] = {}
    shapes = []
    for shape in drawn.shapes:
        if shape.kind in WALLS and not walls:
            continue
        shapes.append({**_shape(shape), "id": _id_of(shape, counts)})
    return {
        "projection": drawn.projection.value,
        "stage": drawn.stage.value,
        "gained_mm": round(drawn.gained_mm, 3),
        "shapes": shapes,
    }


def _shape(shape: Shape) -> dict[str, Any]:
    return {
        "kind": shape.kind.value,
        "label": shape.label,
        "points_mm": [[round(a, 3), round(p, 3)] for a, p in shape.points_mm],
        "closed": shape.closed,
        "radius_mm": shape.radius_mm,
        "bone": shape.bone.value if shape.bone else None,
        "fragment": shape.fragment.value if shape.fragment else None,
    }


def _id_of(shape: Shape, counts: dict[str, int]) -> str | None:
    match shape.kind:
        case ShapeKind.LANDMARK:
            return f"landmark/{shape.label}"
        case ShapeKind.NAIL_LINE | ShapeKind.OSTEOTOMY:
            second = "second-" if shape.label.startswith("second") else ""
            return f"{second}{shape.kind.value.replace(' ', '-')}/{shape.bone}/{shape.fragment}"
        case ShapeKind.BLOCKING_SCREW | ShapeKind.PIN:
            key = f"{shape.kind.value.replace(' ', '-')}/{shape.bone}"
            counts[key] = counts.get(key, -1) + 1
            return f"{key}/{counts[key]}"
        case _:
            return None


def lines_plain(leg: LegModel | None, *, walls: bool = True) -> dict[str, Any]:
    """A leg as it stands in both planes, without a plan; None for what is not known."""
    if leg is None:
        return {projection.value: None for projection in Projection}
    empty = Plan(side=leg.side, bones=(), staging=None, steps=(), findings=())
    return {
        projection.value: drawing_plain(drawing(leg, empty, projection, StageName.AS_IT_STANDS), walls=walls)
        if projection is Projection.FRONTAL or leg.has_sagittal
        else None
        for projection in Projection
    }


def mm_from_px(frame: FilmFrame, view: View) -> Floats | None:
    """Map from (x, y, 1) in pixels to the leg model's (across, proximal), (2, 3); None without a knee centre.

    Parameters
    ----------
    frame : FilmFrame
        How the film maps to the view.
    view : View
        The view it became part of; the leg model has its origin at the knee centre of the film's frame.
    """
    home = frame.film
    onto = {join.patch: join.onto for join in view.joins}
    while home in onto:
        home = onto[home]
    knee = next((view.spots[k] for k in _KNEES if k in view.spots and view.frame_of(k) == home), None)
    if knee is None:
        return None
    origin = np.array(frame.limb_point(0.0, 0.0))
    columns = [np.array(frame.limb_point(x, y)) - origin for x, y in ((1.0, 0.0), (0.0, 1.0))]
    affine: Floats = np.column_stack([*columns, origin - [knee.across_mm, knee.proximal_mm]])
    return affine


def inverse(affine: Floats) -> Floats:
    """The map that takes everything back, (2, 3)."""
    back = np.linalg.inv(affine[:, :2])
    result: Floats = np.column_stack([back, -back @ affine[:, 2]])
    return result


def matrix_plain(affine: Floats) -> list[list[float]]:
    """A (2, 3) map as rows; nine digits keep a long film true to a thousandth of a pixel."""
    return [[round(float(x), 9) for x in row] for row in affine]


def film_maps(film: Film, legs: tuple[tuple[LegViews, bool], ...]) -> dict[str, Any]:
    """How one film lies under the drawings of the legs it shows.

    Parameters
    ----------
    legs : tuple of (LegViews, bool)
        Each leg, and whether it is the treated one.
    """
    found, scale = [], None
    for views, treated in legs:
        scale = scale or views.scales.get(film.name)
        frame = next((f for f in views.frames if f.film == film.name), None)
        view = views.frontal if film.projection is Projection.FRONTAL else views.sagittal
        affine = None if frame is None or view is None else mm_from_px(frame, view)
        if affine is None or view is None or not view.scaled:
            continue
        found.append(
            {
                "side": views.side.value,
                "treated": treated,
                "mm_from_px": matrix_plain(affine),
                "px_from_mm": matrix_plain(inverse(affine)),
                "columns_px": list(film.columns_of(views.side)),
                "mm_per_px": round(float(np.hypot(affine[0, 0], affine[1, 0])), 6),
            }
        )
    return {
        "film": film.name,
        "sha256": film.sha256,
        "projection": film.projection.value,
        "legs": found,
        "scale": scale_plain(scale),
    }


def scale_plain(found: FilmScale | None) -> dict[str, Any] | None:
    """The scale in use; None for a film without one."""
    if found is None or found.scale is None:
        return None
    scale = found.scale
    return {
        "row_mm": scale.row_mm,
        "column_mm": scale.column_mm,
        "relative_sd": scale.relative_sd,
        "method": scale.method.value,
    }
