"""Traces as a case keeps them."""

import numpy as np
import pytest
from drawn_films import Tube
from traced_tubes import traced

from limbwright.error import Missing
from limbwright.film.film import Film, FilmWall, Provenance, ViewerSide
from limbwright.film.tracing import Pin, film_walls, shaft_line, shaft_marks, walls_with
from limbwright.film.tracing.case_walls import borders
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.view import Border, Surface

FRONTAL = Film(name="standing frontal", projection=Projection.FRONTAL, width_px=500, height_px=700)
SAGITTAL = Film(
    name="lateral",
    projection=Projection.SAGITTAL,
    width_px=500,
    height_px=700,
    anterior_at=ViewerSide.VIEWER_LEFT,
)


def test_borders_follow_side_and_projection():
    assert borders(FRONTAL, Side.RIGHT) == (Border.LATERAL, Border.MEDIAL)
    assert borders(FRONTAL, Side.LEFT) == (Border.MEDIAL, Border.LATERAL)
    assert borders(SAGITTAL, Side.LEFT) == (Border.ANTERIOR, Border.POSTERIOR)


def test_walls_fit_a_film_and_keep_their_uncertainty():
    trace = traced(Tube(lean_deg=2.0))
    walls = film_walls(trace, FRONTAL, side=Side.RIGHT, bone=Bone.TIBIA)
    film = Film(
        name="standing frontal", projection=Projection.FRONTAL, width_px=500, height_px=700, walls=walls
    )
    assert [(w.surface, w.border) for w in film.walls] == [
        (Surface.OUTER, Border.LATERAL),
        (Surface.OUTER, Border.MEDIAL),
        (Surface.INNER, Border.LATERAL),
        (Surface.INNER, Border.MEDIAL),
    ]
    assert np.diff(walls[0].y_px).min() > 0
    assert walls[0].sd_px == pytest.approx(np.nanmedian(trace.outer[0].sd_mm) / 0.2)


def test_shaft_points_are_snapped_marks():
    line = shaft_line(traced(Tube(lean_deg=2.0)))
    marks = shaft_marks(line, bone=Bone.FEMUR, part="distal", column_mm=0.2)
    assert set(marks) == {Landmark.FEMUR_DISTAL_SHAFT_UPPER, Landmark.FEMUR_DISTAL_SHAFT_LOWER}
    upper = marks[Landmark.FEMUR_DISTAL_SHAFT_UPPER]
    assert (upper.x_px, upper.y_px) == line.upper_px
    assert upper.provenance is Provenance.SNAPPED


def test_a_trace_with_no_wall_gives_nothing_to_keep():
    from dataclasses import replace

    trace = traced(Tube())
    blank = replace(trace.outer[0], found=np.zeros(len(trace.depth_mm), bool))
    empty = replace(trace, outer=(blank, blank), inner=(blank, blank))
    with pytest.raises(Missing, match="no wall was found"):
        film_walls(empty, FRONTAL, side=Side.RIGHT, bone=Bone.TIBIA)


def test_a_wall_keeps_the_pins_it_was_traced_through():
    trace = traced(Tube())
    pin = Pin(x_px=280.0, y_px=300.0, surface=Surface.INNER, viewer_left=False)
    walls = film_walls(trace, FRONTAL, side=Side.RIGHT, bone=Bone.TIBIA, pins=(pin,))
    assert [(w.surface, w.border) for w in walls if w.pins] == [(Surface.INNER, Border.MEDIAL)]
    assert {w.provenance for w in walls} == {Provenance.SNAPPED, Provenance.PINNED}


def wall(first: int, last: int, *, bone: Bone = Bone.TIBIA, surface: Surface = Surface.OUTER) -> FilmWall:
    rows = tuple(float(y) for y in range(first, last + 1, 10))
    return FilmWall(
        side=Side.RIGHT,
        bone=bone,
        surface=surface,
        border=Border.MEDIAL,
        x_px=tuple(100.0 for _ in rows),
        y_px=rows,
        pins=((100.0, float(first)), (100.0, float(last))),
    )


def test_a_new_trace_takes_the_place_of_what_lay_beside_it():
    femur, long, inner = (
        wall(0, 200, bone=Bone.FEMUR),
        wall(0, 600),
        wall(210, 290, surface=Surface.INNER),
    )
    new = wall(200, 300)
    above, below = wall(0, 190), wall(310, 600)
    kept = walls_with((femur, long, inner), (new,))
    assert [(w.bone, w.surface, w.y_px) for w in kept] == [
        (w.bone, w.surface, w.y_px) for w in (femur, above, below, new)
    ]
    assert kept[1].pins == kept[2].pins == ((100.0, 0.0), (100.0, 600.0))
