"""Which film shows the treated leg in each plane, and which part of the leg a figure should show."""

from collections.abc import Mapping

import numpy as np

from limbwright.film.film import Film
from limbwright.film.leg import LegViews
from limbwright.film.reading.picture import Picture
from limbwright.limb.anatomy import Projection
from limbwright.limb.landmark import Landmark
from limbwright.plan.canal import ACROSS
from limbwright.plan.decision import Plan
from limbwright.plan.drawing import drawing
from limbwright.plan.leg import JOINT_CENTRES, LegModel
from limbwright.plan.motion import PROXIMAL, Floats
from limbwright.plan.shape import ShapeKind
from limbwright.plan.stage import StageName
from limbwright.report.film_image import film_image
from limbwright.report.leg_figure import FilmOfLeg, Window

BESIDE_MM = 60.0
BEYOND_JOINT_MM = 55.0


def films_of_leg(
    views: LegViews, films: tuple[Film, ...], pictures: Mapping[str, Picture]
) -> list[tuple[Projection, FilmOfLeg | None]]:
    """The planes that can be drawn, each with its film when its picture is at hand.

    Parameters
    ----------
    views : LegViews
        The treated leg.
    films : tuple of Film
        Films of the case.
    pictures : mapping
        Pictures by film name; a film without one is drawn as an empty dark ground.
    """
    found: list[tuple[Projection, FilmOfLeg | None]] = []
    for projection in Projection:
        view = views.frontal if projection is Projection.FRONTAL else views.sagittal
        if view is None:
            continue
        knee = view.spots[Landmark.TIBIA_KNEE_CENTRE]
        name = knee.patch
        film = next((f for f in films if f.name == name), None)
        frame = next((f for f in views.frames if f.film == name), None)
        if film is None or frame is None or name not in pictures:
            found.append((projection, None))
            continue
        image = film_image(pictures[name], mm_per_px=abs(frame.across_per_column_mm))
        found.append(
            (
                projection,
                FilmOfLeg(
                    image=image,
                    frame=frame,
                    knee_centre=(knee.across_mm, knee.proximal_mm),
                    across_range_px=film.columns_of(views.side),
                ),
            )
        )
    return found


def leg_window(leg: LegModel, plan: Plan, *, whole: bool = False) -> Window:
    """The part of the leg to show at every stage: the bones that are operated on, or the whole leg."""
    bones = tuple(JOINT_CENTRES) if whole else tuple(b.bone for b in plan.bones)
    wanted = [mark for bone in bones for mark in JOINT_CENTRES[bone] if leg.has(mark)]
    places = [leg.place_mm(mark) for mark in wanted]
    for stage in (StageName.CORRECTED, StageName.FULL_LENGTH):
        for projection in (Projection.FRONTAL, *([Projection.SAGITTAL] if leg.has_sagittal else [])):
            moved = drawing(leg, plan, projection, stage)
            places += [
                _place(point, projection)
                for shape in moved.shapes
                if shape.kind is ShapeKind.LANDMARK and shape.label in wanted
                for point in shape.points_mm
            ]
    across = [x for place in places for x in (place[ACROSS[p]] for p in Projection) if not np.isnan(x)]
    up = [place[PROXIMAL] for place in places]
    return Window(
        across_mm=(min(across) - BESIDE_MM, max(across) + BESIDE_MM),
        proximal_mm=(min(up) - BEYOND_JOINT_MM, max(up) + BEYOND_JOINT_MM),
    )


def _place(point: tuple[float, float], projection: Projection) -> Floats:
    """A point of one plane in three dimensions, the hidden coordinate unknown."""
    place = np.full(3, np.nan)
    place[ACROSS[projection]], place[PROXIMAL] = point
    return place
