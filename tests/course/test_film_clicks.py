"""Clicks on a follow-up film."""

import math

import pytest

from limbwright.course.film_clicks import FilmClicks
from limbwright.error import Missing, OutOfRange
from limbwright.film.film import ViewerSide
from limbwright.limb.anatomy import Bone, Projection

NAIL = {"nail_thick_end": (10.0, 10.0), "nail_junction": (10.0, 90.0), "nail_thin_end": (10.0, 120.0)}


def clicks(**more):
    return FilmClicks(
        film="x",
        bone=Bone.TIBIA,
        projection=Projection.FRONTAL,
        across_to=ViewerSide.VIEWER_RIGHT,
        **{**NAIL, **more},
    )


def test_only_what_was_clicked_is_listed():
    assert clicks(malleolus=(1.0, 2.0)).places() == {**NAIL, "malleolus": (1.0, 2.0)}


def test_a_fragment_without_its_osteotomy_is_refused():
    with pytest.raises(Missing, match="only cut_upper"):
        clicks(cut_upper=(10.0, 40.0))


def test_a_place_that_is_no_number_is_refused():
    with pytest.raises(OutOfRange, match="malleolus"):
        clicks(malleolus=(math.nan, 2.0))
