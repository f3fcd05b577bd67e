"""Traces as a case keeps them."""

import numpy as np
import pytest
from drawn_films import Tube
from traced_tubes import traced

from limbwright.error import Missing
from limbwright.film.film import Film, Provenance, ViewerSide
from limbwright.film.tracing import film_walls, shaft_line, shaft_marks
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
