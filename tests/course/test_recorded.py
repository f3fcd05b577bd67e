from datetime import date

import pytest

from limbwright.course.alignment import Alignment
from limbwright.course.recorded import film_readings, first_marks, with_readings
from limbwright.course.visit import GainedLength, Visit
from limbwright.limb.anatomy import Bone, Projection
from limbwright.quantity import Directed, Sense


def visits(film, **now):
    first = Visit(
        seen_on=date(2026, 3, 3),
        marks=(film(), film(projection=Projection.SAGITTAL, fibula=False, name="side")),
    )
    later = Visit(
        seen_on=date(2026, 3, 30),
        gained=(GainedLength(bone=Bone.TIBIA, reported_mm=17.5),),
        marks=(
            film(gap_mm=17.0, apex_across_deg=-4.0, head_mm=9.0),
            film(gap_mm=17.0, apex_across_deg=2.0, projection=Projection.SAGITTAL, fibula=False, name="side"),
        ),
        **now,
    )
    return first, later


def test_films_fill_the_visit_and_keep_what_the_patient_reports(film, nail, profile):
    first, later = visits(film)
    readings = film_readings(later, (first,), Bone.TIBIA, nail, profile)
    done = with_readings(later, Bone.TIBIA, readings)
    gain = done.gained_of(Bone.TIBIA)
    assert (gain.measured_mm, gain.reported_mm) == (17.0, 17.5)
    assert 0.1 < gain.measured_sd_mm < 0.5
    alignment = done.alignment_of(Bone.TIBIA)
    assert alignment.frontal == Directed(magnitude=4.0, direction=Sense.VALGUS, unit="deg")
    assert alignment.sagittal == Directed(magnitude=2.0, direction=Sense.PROCURVATUM, unit="deg")
    assert (alignment.varus_deg, alignment.procurvatum_deg) == (-4.0, 2.0)
    assert alignment.angle_sd_deg == profile.angle_reading_sd_deg
    assert done.fibula.head_distal_mm == pytest.approx(1.0)
    assert done.marks == later.marks


def test_what_the_films_do_not_show_keeps_what_was_typed(film, nail, profile):
    typed = Alignment(
        bone=Bone.TIBIA, sagittal=Directed(magnitude=1.0, direction=Sense.RECURVATUM, unit="deg")
    )
    first, later = visits(film, alignment=(typed,))
    readings = film_readings(later, (first,), Bone.TIBIA, nail, profile)
    only = with_readings(later, Bone.TIBIA, {Projection.FRONTAL: readings[Projection.FRONTAL]})
    assert only.alignment_of(Bone.TIBIA).sagittal == typed.sagittal
    assert only.alignment_of(Bone.TIBIA).frontal.direction is Sense.VALGUS


def test_nothing_marked_changes_nothing(film, nail, profile):
    bare = Visit(seen_on=date(2026, 3, 30))
    assert film_readings(bare, (), Bone.TIBIA, nail, profile) == {}
    assert with_readings(bare, Bone.TIBIA, {}) == bare


def test_the_first_film_with_fragments_is_the_one_compared_with(film):
    early = Visit(seen_on=date(2026, 3, 2))
    first, later = visits(film)
    assert first_marks((early, first, later), Bone.TIBIA, Projection.FRONTAL) is first.marks[0]
    assert first_marks((early,), Bone.TIBIA, Projection.FRONTAL) is None
