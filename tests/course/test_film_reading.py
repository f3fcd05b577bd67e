import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.course.film_reading import read_film
from limbwright.course.film_scale import nail_scale, shown_mm
from limbwright.error import Contradiction, Missing, OutOfRange
from limbwright.film.film import Mark
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone, Projection

approx = pytest.approx
PX_PER_MM = 7.0


def test_a_film_without_change_reads_nothing(film, nail, profile):
    read = read_film(film(), film(), nail, profile)
    assert read.scale.across_mm == approx(1 / PX_PER_MM)
    for value in (read.gained, read.angulation, read.translation, read.head_distal, read.malleolus_proximal):
        assert value.value == approx(0, abs=1e-9)
    assert read.slip_mm is None


def test_everything_at_once(film, nail, profile):
    now = film(gap_mm=20.0, apex_across_deg=-3.0, shift_mm=2.0, head_mm=12.0, malleolus_mm=22.0)
    read = read_film(now, film(), nail, profile)
    assert read.gained_by_nail.value == approx(20.0)
    assert read.gained_by_gap.value == approx(20.0)
    assert read.gained.value == approx(20.0)
    assert read.angulation.value == approx(-3.0)  # valgus
    assert read.translation.value == approx(2.0, abs=0.01)
    assert read.head_distal.value == approx(4.0)
    assert read.malleolus_proximal.value == approx(3.0, abs=0.4)  # its tip leans with the fragment
    # junction at 255, moving edge at 140
    assert read.overlap.value == approx(115.0)


@given(
    shown=st.fixed_dictionaries(
        {
            "gap_mm": st.floats(0, 60),
            "apex_across_deg": st.floats(-8, 8),
            "turned_deg": st.floats(-10, 10),
            "tilt_deg": st.floats(0, 12),
            "across_right": st.booleans(),
            "px_per_mm": st.floats(4, 12),
        }
    )
)
def test_side_position_and_zoom_of_the_film_change_nothing(film, nail, profile, shown):
    gap_mm, apex_deg, tilt_deg = (shown[k] for k in ("gap_mm", "apex_across_deg", "tilt_deg"))
    now = film(**shown)
    read = read_film(now, film(), nail, profile)
    assert read.gained_by_nail.value == approx(gap_mm, abs=1e-6)
    assert read.gained_by_gap.value == approx(gap_mm, abs=1e-6)
    if tilt_deg == 0:
        assert read.angulation.value == approx(apex_deg, abs=1e-6)


def test_a_tilted_nail_is_seen_and_does_not_shorten_the_gain(film, nail, profile):
    now = film(gap_mm=40.0, tilt_deg=15.0)
    scale = nail_scale(now, nail, profile)
    assert scale.tilt_deg == approx(15.0)
    assert read_film(now, film(), nail, profile).gained.value == approx(40.0)
    # without the thick end the diameter alone is the scale, and the tilt shortens the gap unseen
    blind = replace(now, nail_thick_end=None)
    read = read_film(blind, film(), nail, profile)
    assert read.scale.tilt_deg is None
    assert read.gained_by_gap.value == approx(40.0 * math.cos(math.radians(15.0)))


@given(bend_deg=st.floats(0.5, 15), depth_mm=st.floats(20, 120), in_plane=st.booleans())
def test_a_bent_nail_shows_the_straight_distance_of_its_ends(nail, bend_deg, depth_mm, in_plane):
    bent = replace(nail, bend_deg=bend_deg, bend_depth_mm=depth_mm)
    length = nail.thick_length_mm
    # by coordinates: along the entry part, then straight down
    lean = math.radians(bend_deg)
    end = (depth_mm * math.sin(lean), depth_mm * math.cos(lean) + length - depth_mm)
    seen = math.hypot(*end) if in_plane else end[1]
    plane = Projection.SAGITTAL if in_plane else Projection.FRONTAL
    assert shown_mm(bent, plane, length_mm=length) == approx(seen)
    assert shown_mm(nail, plane, length_mm=length) == approx(length)


def test_the_thick_part_is_a_far_better_scale_than_the_diameter(film, nail, profile):
    read = read_film(film(gap_mm=50.0), film(), nail, profile)
    # 0.2 mm of 10.7 mm, two pairs; 0.28 mm of 250 mm
    assert read.scale.across_relative_sd == approx(0.2 / 10.7 / math.sqrt(2))
    assert read.scale.along_relative_sd == approx(math.sqrt(2) * 0.2 / 250)
    assert read.gained_by_nail.sd < 0.45  # four ends on two films, 0.2 mm each
    assert read.gained.sd < read.gained_by_nail.sd


def test_a_nail_that_gives_more_than_the_bone_takes_has_slipped(film, nail, profile):
    read = read_film(film(gap_mm=12.0, nail_mm=20.0), film(), nail, profile)
    assert read.slip_mm == approx(8.0)
    assert read.gained.value == approx(12.0)


def test_a_nail_turned_the_wrong_way_reads_negative(film, nail, profile):
    """The rod is drawn in by 2 mm and the bone follows."""
    read = read_film(film(gap_mm=-2.0, nail_mm=-2.0), film(), nail, profile)
    assert read.gained.value == approx(-2.0)


def test_without_a_first_film_only_length_and_overlap_are_read(film, nail, profile):
    read = read_film(film(gap_mm=20.0), None, nail, profile)
    assert read.gained.value == approx(20.0)
    assert (read.angulation, read.translation, read.head_distal) == (None, None, None)
    assert read.angle_sd_deg == profile.angle_reading_sd_deg


def test_what_is_not_marked_is_not_read(film, nail, profile):
    marks = film(gap_mm=20.0, fibula=False)
    bare = replace(
        marks, nail_thin_end=None, distal_axis=None, proximal_edge=None, nail_junction=None, fibula=None
    )
    read = read_film(bare, film(), nail, profile)
    assert [
        getattr(read, name)
        for name in ("gained", "angulation", "translation", "head_distal", "overlap", "angle_sd_deg")
    ] == [None] * 6


def test_total_length_serves_where_the_junction_is_hidden(film, nail, profile):
    read = read_film(replace(film(gap_mm=20.0), nail_junction=None), film(), nail, profile)
    assert read.gained_by_nail.value == approx(20.0)
    assert read.gained_by_nail.sd > 3  # 300 mm with the diameter as scale
    assert (
        read_film(
            replace(film(), nail_junction=None, nail_thick_end=None), None, nail, profile
        ).gained_by_nail
        is None
    )


def test_a_retrograde_nail_overlaps_the_proximal_fragment(film, nail, profile):
    """Driven from below, cut at 120 mm: the junction lies above the upper edge."""
    marks = film(bone=Bone.FEMUR, fibula=False)
    up = replace(marks, nail_thick_end=marks.nail_thin_end, nail_thin_end=marks.nail_thick_end)
    junction = Mark(x_px=1500.0, y_px=(20 + 70) * PX_PER_MM)
    thin = replace(up, nail_junction=junction, nail_thick_end=Mark(x_px=1500.0, y_px=340 * PX_PER_MM))
    retrograde = replace(nail, bone=Bone.FEMUR, direction=Direction.RETROGRADE)
    assert read_film(thin, None, retrograde, profile).overlap.value == approx(50.0)


def test_short_axes_are_less_sure_than_the_published_angle(film, nail, profile):
    marks = film()
    lower = marks.proximal_axis[1]
    short = replace(marks, proximal_axis=(replace(lower, y_px=lower.y_px - 10 * PX_PER_MM), lower))
    read = read_film(short, film(), nail, profile)
    assert read.angle_sd_deg == approx(math.degrees(math.sqrt(2) * 0.7 * math.hypot(1 / 10, 1 / 200)))


def test_films_that_cannot_be_compared_are_refused(film, nail, profile):
    with pytest.raises(Contradiction, match=r"a frontal film of the tibia is compared with a sagittal film"):
        read_film(film(), film(projection=Projection.SAGITTAL, fibula=False), nail, profile)
    with pytest.raises(Missing, match=r"no pair of nail edges is marked"):
        read_film(replace(film(), nail_edges=()), None, nail, profile)
    with pytest.raises(
        OutOfRange, match=r"thick part measures 250 mm by its diameter of 10.7 mm, expected 200"
    ):
        read_film(film(), None, replace(nail, length_mm=230.0), profile)


def test_impossible_marks_are_refused(film):
    marks = film()
    point = marks.nail_thick_end
    with pytest.raises(Contradiction, match=r"both points of nail_edges\[0\] lie at"):
        replace(marks, nail_edges=((point, point),))
    with pytest.raises(Contradiction, match=r"upper point of proximal_axis lies below"):
        replace(marks, proximal_axis=marks.proximal_axis[::-1])
    with pytest.raises(Contradiction, match=r"the fibula is marked on a sagittal film of the tibia"):
        replace(marks, projection=Projection.SAGITTAL)
