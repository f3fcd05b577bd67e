"""Rough clicks on a phantom film become marks; what the film does not show stays as it was clicked."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from limbwright.course.assisted import assisted_film
from limbwright.course.film_clicks import FilmClicks
from limbwright.course.recorded import with_marks
from limbwright.course.visit import Visit
from limbwright.error import OutOfRange, Refused
from limbwright.film.film import Provenance, ViewerSide
from limbwright.film.phantom import (
    FRONTAL_SETUP,
    Detail,
    Detector,
    FilmDay,
    Hardware,
    Lengthening,
    PatientShape,
    Positioning,
    lengthening_series,
)
from limbwright.film.phantom import Nail as PhantomNail
from limbwright.film.reading.development import Development
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark

PX_MM = 0.4
GREY = Development(high=16383.0, white=16383.0, absolute=False, certain=False)


@pytest.fixture(scope="module")
def taken():
    """A frontal film of day 40, 20 mm apart, and where everything truly lies."""
    (day,) = lengthening_series(
        PatientShape(),
        side=Side.LEFT,
        bone=Bone.TIBIA,
        hardware=Hardware(
            lengthenings=(Lengthening(bone=Bone.TIBIA, level=0.3),),
            nails=(
                PhantomNail(
                    bone=Bone.TIBIA, length_mm=280.0, thick_mm=10.7, thin_mm=8.5, thick_length_mm=250.0
                ),
            ),
        ),
        days=(FilmDay(day=40, gap_mm=20.0, varus_deg=-3.0, density=0.5),),
        seed=7,
        positioning=Positioning(rotation_deg=0.0, knee_flexion_deg=0.0),
        frontal=replace(
            FRONTAL_SETUP, height_mm=500.0, top_above_hip_mm=-405.0, detector=Detector(pixel_mm=PX_MM)
        ),
        sagittal=replace(FRONTAL_SETUP, height_mm=40.0, width_mm=40.0, detector=Detector(pixel_mm=2.0)),
        detail=Detail.COARSE,
    )
    return day.frontal


def clicked(film, **changes):
    """Clicks a millimetre off, to and fro."""
    truth = film.truth.leg(Side.LEFT)
    thick, gap, at = truth.nails[0], truth.gaps[0], truth.landmarks_px
    off = 1.0 / PX_MM

    def near(place, dx=0.7, dy=-0.7):
        return float(place[0]) + dx * off, float(place[1]) + dy * off

    up, low = np.array(gap.upper_px), np.array(gap.lower_px)
    places = {
        "nail_thick_end": near(thick.thick_axis_px[0]),
        "nail_junction": near(thick.thick_axis_px[-1], -0.7),
        "nail_thin_end": near(thick.rod_axis_px[-1], 0.7, 0.7),
        "proximal_upper": near(up - np.array([0, 48 / PX_MM]), -0.7),
        "cut_upper": near(up),
        "cut_lower": near(low, -0.7, 0.7),
        "distal_lower": near(low + np.array([0, 95 / PX_MM])),
        "knee_outer": near(at[Landmark.LATERAL_PLATEAU]),
        "knee_inner": near(at[Landmark.MEDIAL_PLATEAU]),
        "ankle_outer": near(at[Landmark.LATERAL_PLAFOND]),
        "ankle_inner": near(at[Landmark.MEDIAL_PLAFOND]),
        "fibular_head": near(at[Landmark.FIBULAR_HEAD_TIP]),
        "malleolus": near(at[Landmark.LATERAL_MALLEOLUS_TIP]),
    }
    places |= changes
    return FilmClicks(
        film="day 40 frontal",
        bone=Bone.TIBIA,
        projection=Projection.FRONTAL,
        across_to=ViewerSide.VIEWER_RIGHT,
        **{name: place for name, place in places.items() if place is not None},
    )


NO_FRAGMENTS = dict.fromkeys(("proximal_upper", "cut_upper", "cut_lower", "distal_lower"))
NO_JOINTS = dict.fromkeys(
    ("knee_outer", "knee_inner", "ankle_outer", "ankle_inner", "fibular_head", "malleolus")
)


def read(film, nail, **changes):
    return assisted_film(
        film.picture.astype(np.float32), clicked(film, **changes), nail, development=GREY, white=16383.0
    )


def test_everything_is_snapped_to_where_it_truly_lies(taken, nail):
    truth = taken.truth.leg(Side.LEFT)
    found = read(taken, nail)
    marks = found.marks
    for mark, place in (
        (marks.nail_thick_end, truth.nails[0].thick_axis_px[0]),
        (marks.nail_thin_end, truth.nails[0].rod_axis_px[-1]),
    ):
        assert mark.provenance is Provenance.SNAPPED
        assert mark.y_px == pytest.approx(place[1], abs=0.6 / PX_MM)
    left, right = marks.nail_edges[0]
    assert np.hypot(right.x_px - left.x_px, right.y_px - left.y_px) == pytest.approx(
        truth.nails[0].thick_px, rel=0.02
    )
    gap = (np.array(truth.gaps[0].upper_px), np.array(truth.gaps[0].lower_px))
    for pair, end in zip((marks.proximal_edge, marks.distal_edge), gap, strict=True):
        middle = 0.5 * (pair[0].y_px + pair[1].y_px)
        assert middle == pytest.approx(end[1], abs=1.2 / PX_MM)
    assert marks.proximal_axis[0].provenance is Provenance.SNAPPED
    assert marks.distal_axis[0].provenance is Provenance.SNAPPED
    assert found.new_bone.gap_mm.value == pytest.approx(20.0, abs=1.0)
    assert marks.fibula is not None
    visit = with_marks(Visit(seen_on=date(2026, 4, 11)), found)
    assert visit.films == ("day 40 frontal",)
    assert {c.cortex.value for c in visit.new_bone_of(Bone.TIBIA).cortices} == {"medial", "lateral"}
    assert with_marks(visit, found).marks == (marks,)


def test_the_nail_alone_is_enough(taken, nail):
    found = read(taken, nail, **NO_FRAGMENTS, **NO_JOINTS)
    assert found.new_bone is None
    assert found.marks.proximal_axis is None
    assert found.marks.fibula is None
    assert found.not_snapped == ()


def test_what_the_film_does_not_show_stays_as_clicked_and_says_why(taken, nail):
    dark = {
        "proximal_upper": (40.0, 240.0),
        "cut_upper": (40.0, 360.0),
        "cut_lower": (40.0, 420.0),
        "distal_lower": (40.0, 640.0),
        "fibular_head": (30.0, 60.0),
        "malleolus": (30.0, 1200.0),
    }
    found = read(taken, nail, **dark)
    said = {one.what for one in found.not_snapped}
    assert {"walls of the proximal fragment", "walls of the distal fragment"} <= said
    assert all(one.why for one in found.not_snapped)
    assert found.marks.proximal_axis[0].provenance is Provenance.CLICKED
    assert found.marks.proximal_edge is None
    assert found.new_bone is None
    assert (found.marks.fibula.head.x_px, found.marks.fibula.malleolus.y_px) == (30.0, 1200.0)


def test_a_gap_too_short_to_measure_has_no_new_bone(taken, nail):
    at = taken.truth.leg(Side.LEFT).gaps[0].upper_px
    short = read(taken, nail, cut_upper=(at[0], at[1]), cut_lower=(at[0], at[1] + 1.0 / PX_MM))
    assert short.new_bone is None
    assert short.marks.proximal_edge is not None


def test_a_film_without_the_nail_s_edges_has_no_scale(taken, nail):
    beside = {
        "nail_thick_end": (20.0, 120.0),
        "nail_junction": (20.0, 800.0),
        "nail_thin_end": (20.0, 900.0),
    }
    with pytest.raises(Refused, match="no two parallel edges"):
        read(taken, nail, **beside, **NO_FRAGMENTS, **NO_JOINTS)
    with pytest.raises(OutOfRange, match="click at 5000"):
        read(taken, nail, malleolus=(5000.0, 10.0))
