"""Films, marks and evidence of scale that cannot be are not built."""

import pytest

from limbwright.error import Contradiction, Missing, OutOfRange
from limbwright.film.film import (
    CalibrationBall,
    Film,
    FilmWall,
    HeaderScale,
    KnownNail,
    Mark,
    Ruler,
    TypedMagnification,
    ViewerSide,
)
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.view import Border, Surface

POINT = Mark(x_px=10.0, y_px=20.0)
NAN = float("nan")


def film(**changes):
    values = {"name": "f", "projection": Projection.FRONTAL, "width_px": 100, "height_px": 400}
    return Film(**values | changes)


def wall(**changes):
    values = {
        "side": Side.RIGHT,
        "bone": Bone.TIBIA,
        "surface": Surface.INNER,
        "border": Border.MEDIAL,
        "x_px": (10.0, 12.0),
        "y_px": (20.0, 90.0),
    }
    return FilmWall(**values | changes)


def test_a_film_gives_the_marks_of_either_leg():
    right, left = {Landmark.ANKLE_CENTRE: POINT}, {Landmark.ANKLE_CENTRE: Mark(x_px=90.0, y_px=20.0)}
    both = film(right=right, left=left, walls=(wall(),))
    assert both.marks(Side.RIGHT) is right
    assert both.marks(Side.LEFT) is left


@pytest.mark.parametrize(
    ("changes", "error", "message"),
    [
        ({"name": "  "}, OutOfRange, r"name: '  ' is no name for a film"),
        ({"name": "a\nb"}, OutOfRange, r"is no name for a film"),
        ({"name": "x" * 81}, OutOfRange, r"is no name for a film"),
        ({"width_px": 0}, OutOfRange, r"width_px is 0 px, expected 1 to 65535 px"),
        ({"height_px": 70_000}, OutOfRange, r"height_px is 70000 px"),
        ({"file": "../x"}, OutOfRange, r"'\.\./x' does not lie beside the case file"),
        ({"file": "a/../../x"}, OutOfRange, r"does not lie beside"),
        ({"file": "/x"}, OutOfRange, r"does not lie beside"),
        ({"file": "\\\\server\\x"}, OutOfRange, r"does not lie beside"),
        ({"file": "c:x"}, OutOfRange, r"does not lie beside"),
        ({"file": ""}, OutOfRange, r"does not lie beside"),
        ({"file": "x\0y"}, OutOfRange, r"does not lie beside"),
        ({"sha256": "0" * 63}, OutOfRange, r"is no SHA-256"),
        ({"sha256": "A" * 64}, OutOfRange, r"is no SHA-256"),
        ({"projection": Projection.SAGITTAL}, Missing, r"does not say where anterior is"),
        ({"anterior_at": ViewerSide.VIEWER_LEFT}, Contradiction, r"with anterior at the viewer left"),
        ({"right": {Landmark.ANKLE_CENTRE: Mark(x_px=101.0, y_px=3.0)}}, OutOfRange, r"outside the image"),
        ({"walls": (wall(), wall(border=Border.ANTERIOR))}, Contradiction, r"\[1\]\.border: anterior wall"),
    ],
)
def test_impossible_films_are_refused(changes, error, message):
    with pytest.raises(error, match=message):
        film(**changes)


@pytest.mark.parametrize(
    ("build", "error", "message"),
    [
        (lambda: Mark(x_px=NAN, y_px=1.0), OutOfRange, r"x_px: nan px is not a number"),
        (lambda: Mark(x_px=1.0, y_px=float("inf")), OutOfRange, r"y_px: inf px is not a number"),
        (lambda: Mark(x_px=1.0, y_px=1.0, sd_px=0.0), OutOfRange, r"sd_px: 0 px, expected more than 0 px"),
        (
            lambda: CalibrationBall(diameter_mm=2.5, centre=POINT, radius_px=9.0),
            OutOfRange,
            r"is 2.5 mm, expected 5",
        ),
        (
            lambda: CalibrationBall(diameter_mm=25.0, centre=POINT, radius_px=0.0),
            OutOfRange,
            r"radius_px: 0 px",
        ),
        (
            lambda: CalibrationBall(diameter_mm=25.0, centre=POINT, radius_px=9.0, depth_off_bone_mm=900.0),
            OutOfRange,
            r"depth_off_bone_mm is 900 mm, expected -500 to 500 mm",
        ),
        (
            lambda: Ruler(start=POINT, end=POINT, length_mm=100.0),
            Contradiction,
            r"both ticks are marked at 10, 20",
        ),
        (
            lambda: Ruler(start=POINT, end=Mark(x_px=1.0, y_px=1.0), length_mm=0.1),
            OutOfRange,
            r"length_mm is 0.1 mm, expected 5 to 2000 mm",
        ),
        (
            lambda: KnownNail(diameter_mm=107.0, diameter_px=80.0),
            OutOfRange,
            r"diameter_mm is 107 mm, expected 3 to 20",
        ),
        (lambda: KnownNail(diameter_mm=10.7, diameter_px=-8.0), OutOfRange, r"diameter_px: -8 px"),
        (lambda: HeaderScale(pixel_spacing_mm=(0.1, 0.0)), OutOfRange, r"pixel_spacing_mm\[1\]: 0 mm"),
        (
            lambda: HeaderScale(imager_pixel_spacing_mm=(NAN, 0.1)),
            OutOfRange,
            r"imager_pixel_spacing_mm\[0\]: nan mm",
        ),
        (
            lambda: HeaderScale(magnification=0.0),
            OutOfRange,
            r"magnification: 0 times, expected more than 0 times",
        ),
        (lambda: HeaderScale(source_to_detector_mm=-1.0), OutOfRange, r"source_to_detector_mm: -1 mm"),
        (
            lambda: TypedMagnification(magnification=105.0),
            OutOfRange,
            r"105 times, expected 1 to 3.*1.05 for 5 %",
        ),
        (lambda: wall(y_px=(1.0,)), Contradiction, r"2 x and 1 y coordinates of a wall"),
        (lambda: wall(x_px=(1.0, NAN)), OutOfRange, r"x_px\[1\]: nan px is not a number"),
        (lambda: wall(sd_px=0.0), OutOfRange, r"sd_px: 0 px"),
    ],
)
def test_impossible_marks_and_evidence_are_refused(build, error, message):
    with pytest.raises(error, match=message):
        build()
