"""Follow-up films of a phantom leg, marked where they truly are, read back: positioning is the only error."""

from dataclasses import replace

import numpy as np
import pytest

from limbwright.course.film_marks import FollowUpMarks
from limbwright.course.film_reading import read_film
from limbwright.film.film import Mark, ViewerSide
from limbwright.film.phantom import (
    FRONTAL_SETUP,
    SAGITTAL_SETUP,
    Detail,
    Detector,
    FilmDay,
    Hardware,
    Lengthening,
    Nail,
    PatientShape,
    lengthening_series,
)
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark

GAP_MM, VARUS_DEG, PROCURVATUM_DEG = 24.0, -5.0, 3.0


@pytest.fixture(scope="module")
def series():
    """Day 0 and day 40 of a left tibia, each leg placed a little differently."""
    return lengthening_series(
        PatientShape(),
        side=Side.LEFT,
        bone=Bone.TIBIA,
        hardware=Hardware(
            lengthenings=(Lengthening(bone=Bone.TIBIA, level=0.4),),
            nails=(Nail(bone=Bone.TIBIA),),
        ),
        days=(
            FilmDay(day=0, gap_mm=0.0),
            FilmDay(day=40, gap_mm=GAP_MM, varus_deg=VARUS_DEG, procurvatum_deg=PROCURVATUM_DEG),
        ),
        seed=5,
        frontal=replace(FRONTAL_SETUP, detector=Detector(pixel_mm=2.0)),
        sagittal=replace(SAGITTAL_SETUP, detector=Detector(pixel_mm=2.0)),
        detail=Detail.COARSE,
    )


def marked(film, projection):
    """Marks at the film's own truth."""
    truth = film.truth.leg(Side.LEFT)
    thick, gap = truth.nails[0], truth.gaps[0]

    def mark(place):
        return Mark(x_px=float(place[0]), y_px=float(place[1]))

    def across(place, along, half):
        way = np.subtract(along[-1], along[0])
        side = np.array([way[1], -way[0]]) / np.hypot(*way)
        return mark(np.add(place, half * side)), mark(np.subtract(place, half * side))

    def axis(upper, lower):
        return mark(truth.landmarks_px[upper]), mark(truth.landmarks_px[lower])

    axis_px = thick.thick_axis_px
    middle = axis_px[len(axis_px) // 2]
    anterior_left = film.truth.anterior_at == "viewer left"
    lateral = ViewerSide.VIEWER_RIGHT  # a left leg's outer side on a frontal film
    sagittal = ViewerSide.VIEWER_LEFT if anterior_left else ViewerSide.VIEWER_RIGHT
    return FollowUpMarks(
        film=f"{projection}",
        bone=Bone.TIBIA,
        projection=projection,
        across_to=lateral if projection is Projection.FRONTAL else sagittal,
        nail_edges=(across(middle, axis_px, thick.thick_px / 2),),
        proximal_edge=across(gap.upper_px, axis_px, 6.0),
        distal_edge=across(gap.lower_px, axis_px, 6.0),
        proximal_axis=axis(Landmark.TIBIA_PROXIMAL_SHAFT_UPPER, Landmark.TIBIA_PROXIMAL_SHAFT_LOWER),
        distal_axis=axis(Landmark.TIBIA_DISTAL_SHAFT_UPPER, Landmark.TIBIA_DISTAL_SHAFT_LOWER),
    )


@pytest.mark.parametrize("projection", list(Projection))
def test_length_and_angle_come_back_within_what_positioning_does(series, nail, profile, projection):
    first, later = (marked(getattr(visit, projection.value), projection) for visit in series)
    read = read_film(later, first, nail, profile)
    assert read.gained.value == pytest.approx(GAP_MM, abs=0.5)
    assert abs(read.gained.value - GAP_MM) < 2 * read.gained.sd
    expected = VARUS_DEG if projection is Projection.FRONTAL else PROCURVATUM_DEG
    assert read.angulation.value == pytest.approx(expected, abs=1.0)
