"""A shaft point laid onto the middle of its bone, by walls that are traced or by a short trace about it."""

import numpy as np
from numpy.typing import NDArray

from limbwright.error import Missing, Refused
from limbwright.film.film import FilmWall
from limbwright.film.tracing import Plate, borders, shaft_line, trace_shaft
from limbwright.limb.anatomy import Side
from limbwright.limb.landmark import Landmark, bone_of, plain_words
from limbwright.limb.view import Surface
from limbwright.web.assist.opened import OpenedFilm
from limbwright.web.assist.proposal import Point

HALF_TRACE_MM = 28.0
"""Half the shaft that is traced about a click on it: a trace under 40 mm says less. [mm]"""
FARTHEST_MM = 25.0
"""A click farther from the middle of the bone means another bone. [mm]"""


def on_mid_line(
    film: OpenedFilm, *, side: Side, landmark: Landmark, click_px: Point
) -> tuple[Point, float, float]:
    """The nearest point of the mid-diaphyseal line, its standard uncertainty in pixels, and the support.

    Raises
    ------
    Refused
        Where neither traced walls nor the film itself show the middle of the bone.
    """
    plate = film.detector.plate
    plate.require_on_film((click_px,))
    walls = _walls_at(film, side, landmark, click_px)
    if walls is not None:
        line, sd_px = _between(walls, click_px[1], HALF_TRACE_MM / plate.row_mm)
        support = 1.0
    else:
        line, sd_px, support = _traced(film, side, landmark, click_px)
    point, away_mm = _nearest(plate, line, click_px)
    if away_mm > FARTHEST_MM:
        raise Refused(
            f"the middle of the {bone_of(landmark)} lies {away_mm:.0f} mm from the click, expected at most "
            f"{FARTHEST_MM:g} mm.",
            where=plain_words(landmark),
            next_step="Click on the shaft.",
        )
    return point, sd_px, support


def _walls_at(
    film: OpenedFilm, side: Side, landmark: Landmark, click_px: Point
) -> tuple[FilmWall, FilmWall] | None:
    """The two outer walls of the bone at the click's level."""
    found: list[FilmWall] = []
    for border in borders(film.film, side):
        beside = [
            wall
            for wall in film.film.walls
            if (wall.side, wall.bone, wall.surface, wall.border)
            == (side, bone_of(landmark), Surface.OUTER, border)
            and wall.y_px[0] <= click_px[1] <= wall.y_px[-1]
        ]
        if not beside:
            return None
        found.append(beside[-1])
    return found[0], found[1]


def _between(
    walls: tuple[FilmWall, FilmWall], row_px: float, half_px: float
) -> tuple[NDArray[np.float64], float]:
    """Straight line halfway between two walls about a row: two points, (2, 2); and its uncertainty [px]."""
    top = max(walls[0].y_px[0], walls[1].y_px[0], row_px - half_px)
    bottom = min(walls[0].y_px[-1], walls[1].y_px[-1], row_px + half_px)
    rows = np.linspace(top, bottom, 41)
    middle = sum(np.interp(rows, wall.y_px, wall.x_px) for wall in walls) / 2
    slope, at = np.polynomial.polynomial.polyfit(rows - row_px, middle, 1)[::-1]
    ends = np.array([top, bottom])
    line = np.stack([at + slope * (ends - row_px), ends], axis=1)
    return line, 0.5 * float(np.hypot(walls[0].sd_px, walls[1].sd_px))


def _traced(
    film: OpenedFilm, side: Side, landmark: Landmark, click_px: Point
) -> tuple[NDArray[np.float64], float, float]:
    """The line through a short trace about the click, along the bone as far as its course is known."""
    plate = film.detector.plate
    along = _direction(film, side, landmark)
    step = np.array([along[0] / plate.column_mm, along[1] / plate.row_mm]) * HALF_TRACE_MM
    ends = np.clip(
        np.array([np.array(click_px) - step, np.array(click_px) + step]),
        0.0,
        np.array([plate.columns - 1.0, plate.rows - 1.0]),
    )
    trace = trace_shaft(plate, ((ends[0, 0], ends[0, 1]), (ends[1, 0], ends[1, 1])))
    found = shaft_line(trace)
    return np.array([found.upper_px, found.lower_px]), found.offset_sd_mm / plate.column_mm, trace.support


def _direction(film: OpenedFilm, side: Side, landmark: Landmark) -> NDArray[np.float64]:
    """Unit vector down the bone in millimetres, from what is marked of it; straight down else."""
    marks, bone = film.film.marks(side), bone_of(landmark)
    plate = film.detector.plate
    own = [
        (mark.x_px, mark.y_px)
        for other, mark in marks.items()
        if other is not landmark
        and bone_of(other) is bone
        and other is not Landmark.FEMORAL_NECK_CENTRE
        and ("_shaft_" in other or other.endswith("centre"))
    ]
    if len(own) < 2:
        return np.array([0.0, 1.0])
    first, last = min(own, key=lambda at: at[1]), max(own, key=lambda at: at[1])
    down = np.diff(plate.mm(np.array([first, last])), axis=0)[0]
    length = float(np.hypot(*down))
    if length < 1.0:
        raise Missing(
            "the points marked on the bone lie upon each other.",
            where=plain_words(landmark),
            next_step="Move them apart.",
        )
    return np.asarray(down / length)


def _nearest(plate: Plate, line: NDArray[np.float64], click_px: Point) -> tuple[Point, float]:
    """Foot of the perpendicular from the click, and how far it is from it. [px], [mm]"""
    start, end = plate.mm(line)
    click = plate.mm(np.array([click_px]))[0]
    along = (end - start) / np.hypot(*(end - start))
    foot = start + along * float((click - start) @ along)
    (at,) = plate.px(foot[None])
    return (float(at[0]), float(at[1])), float(np.hypot(*(foot - click)))
