"""The moved film and the lines drawn on it agree: a landmark's pixel lands where the landmark is drawn."""

import re
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from limbwright.limb.anatomy import Projection
from limbwright.limb.landmark import Landmark
from limbwright.plan.drawing import drawing
from limbwright.plan.shape import ShapeKind
from limbwright.plan.stage import StageName
from limbwright.report.film_of_leg import films_of_leg, leg_window
from limbwright.report.leg_figure import stages_figure

SVG = "{http://www.w3.org/2000/svg}"


def matrices(figure: bytes) -> list[np.ndarray]:
    """The transforms of all film pieces, in the order drawn."""
    found = []
    for image in ElementTree.fromstring(figure).iter(f"{SVG}image"):
        numbers = re.findall(r"[-+0-9.e]+", image.attrib["transform"].removeprefix("matrix"))
        a, b, c, d, e, f = map(float, numbers)
        found.append(np.array([[a, c, e], [b, d, f]]))
    return found


@pytest.mark.parametrize("projection", list(Projection))
def test_a_landmarks_pixel_lands_where_the_landmark_is_drawn(shown: Any, projection: Projection) -> None:
    planned = shown.planned
    films = [
        pair
        for pair in films_of_leg(planned.measured.treated.views, shown.case.films, shown.pictures)
        if pair[0] is projection
    ]
    film = films[0][1]
    assert film is not None
    window = leg_window(planned.leg, planned.plan)
    figure = stages_figure(planned.leg, planned.plan, films, window)
    whole, *pieces = matrices(figure)
    gap = 6.0
    type_mm = max(0.024 * 3 * (window.width_mm + gap), 0.017 * window.height_mm)
    marks = next(f for f in shown.case.films if f.name == film.frame.film).marks(planned.measured.side)
    checked = 0
    for index, (stage, upper, lower) in enumerate(
        (
            (StageName.AS_IT_STANDS, whole, whole),
            (StageName.CORRECTED, pieces[0], pieces[1]),
            (StageName.FULL_LENGTH, pieces[2], pieces[3]),
        )
    ):
        places = {
            s.label: s.points_mm[0]
            for s in drawing(planned.leg, planned.plan, projection, stage).shapes
            if s.kind is ShapeKind.LANDMARK
        }
        low, high = window.across_mm
        for landmark, piece in ((Landmark.TIBIA_KNEE_CENTRE, upper), (Landmark.ANKLE_CENTRE, lower)):
            across, up = places[landmark.value]
            from_left = across - low if film.toward_right > 0 else high - across
            expected = (
                index * (window.width_mm + gap) + from_left,
                2.0 * type_mm + window.proximal_mm[1] - up,
            )
            pixel = np.array([marks[landmark].x_px, marks[landmark].y_px]) / film.image.shrunk_by
            # Depth is not on a film: 11 degrees of valgus taken out move a point 20 mm off the cut's depth
            # by 20·sin 11 = 3.8 mm in the sagittal picture, and 4 degrees of procurvatum by 1.4 mm.
            room = 1.5 if projection is Projection.FRONTAL else 4.0
            assert piece @ [*pixel, 1.0] == pytest.approx(expected, abs=room), (stage, landmark)
            checked += 1
    assert checked == 6


def test_the_figure_is_cut_only_when_the_bone_is(shown: Any) -> None:
    planned = shown.planned
    films = films_of_leg(planned.measured.treated.views, shown.case.films, shown.pictures)
    window = leg_window(planned.leg, planned.plan)
    standing = stages_figure(planned.leg, planned.plan, films, window, stages=[StageName.AS_IT_STANDS])
    assert len(matrices(standing)) == len(films)
    moved = stages_figure(planned.leg, planned.plan, films, window, stages=[StageName.FULL_LENGTH])
    assert len(matrices(moved)) == 2 * len(films)


def test_without_pictures_the_lines_stand_alone(shown: Any) -> None:
    planned = shown.planned
    films = films_of_leg(planned.measured.treated.views, shown.case.films, {})
    assert [film for _, film in films] == [None, None]
    figure = stages_figure(planned.leg, planned.plan, films, leg_window(planned.leg, planned.plan))
    assert matrices(figure) == []
    assert b"osteotomy" in figure


def test_the_window_holds_the_leg_at_every_stage(shown: Any) -> None:
    planned = shown.planned
    for whole in (False, True):
        window = leg_window(planned.leg, planned.plan, whole=whole)
        for stage in StageName:
            for shape in drawing(planned.leg, planned.plan, Projection.FRONTAL, stage).shapes:
                if shape.kind is ShapeKind.LANDMARK and shape.label == Landmark.ANKLE_CENTRE.value:
                    across, up = shape.points_mm[0]
                    assert window.across_mm[0] < across < window.across_mm[1]
                    assert window.proximal_mm[0] < up
    assert leg_window(planned.leg, planned.plan, whole=True).height_mm > window.width_mm
