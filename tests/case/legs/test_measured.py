"""A case measured: reading errors of the practice, films before the operation, templates."""

from dataclasses import replace
from datetime import date

from limbwright.case.case import Case
from limbwright.case.measured import films_before_operation, measured_case, reading_error_of
from limbwright.course.course import Course, Treatment
from limbwright.course.prescription import default_prescription
from limbwright.film.leg import usual_reading_error
from limbwright.limb.anatomy import Bone
from limbwright.limb.reading import Measure
from limbwright.limb.template import Origin
from limbwright.practice.profile import Profile


def test_the_practice_starts_with_the_reading_errors_that_fit_published_observers() -> None:
    assert reading_error_of(Profile()) == usual_reading_error()


def test_a_more_careful_reader_has_smaller_uncertainties(drawn_case: Case) -> None:
    (film,) = drawn_case.films
    unsure = {landmark: replace(mark, sd_px=None) for landmark, mark in film.right.items()}
    bare = replace(drawn_case, films=(replace(film, right=unsure),))
    sd = {
        profile: measured_case(bare, profile).treated.frontal.need(Measure.MAD).value.sd
        for profile in (Profile(), Profile(centre_landmark_sd_mm=0.5))
    }
    usual, careful = sd.values()
    assert careful < usual


def test_films_after_the_operation_are_not_measured_as_the_leg_that_stands(drawn_case: Case) -> None:
    profile = Profile()
    prescription = default_prescription(profile, bone=Bone.TIBIA, age_years=28.0, target_mm=30.0)
    course = Course(treatments=(Treatment(operated_on=date(2026, 3, 16), prescription=prescription),))
    before = replace(drawn_case.films[0], taken_on=date(2026, 3, 2))
    after = replace(before, name="later", taken_on=date(2026, 3, 30))
    case = replace(drawn_case, films=(before, after), course=course)
    assert [film.name for film in films_before_operation(case)] == ["frontal"]


def test_the_other_leg_is_no_template_where_the_practice_says_so(drawn_case: Case) -> None:
    usual = measured_case(drawn_case, Profile()).templates[Measure.MPTA]
    assert usual.origin is Origin.OTHER_LEG
    norm = measured_case(drawn_case, Profile(prefer_opposite_leg_template=False)).templates[Measure.MPTA]
    assert (norm.origin, norm.value) == (Origin.POPULATION, 87.0)
