from datetime import date

import pytest

from limbwright.case.case import Case
from limbwright.case.patient import Patient
from limbwright.error import OutOfRange
from limbwright.film.film import Film
from limbwright.growth.growth import Sex
from limbwright.limb.anatomy import Projection, Side


def film(name, taken_on):
    return Film(name=name, projection=Projection.FRONTAL, width_px=10, height_px=10, taken_on=taken_on)


FILMS = (
    film("undated", None),
    film("later", date(2026, 6, 1)),
    film("first", date(2026, 1, 1)),
)


def case(**patient):
    return Case(id="a", side=Side.LEFT, patient=Patient(id="A", sex=Sex.MALE, **patient), films=FILMS)


def test_age_follows_from_the_birth_date():
    assert case(birth_date=date(2010, 1, 1)).age_years(date(2026, 1, 1)) == pytest.approx(16.0, abs=0.003)


def test_a_stated_age_is_true_on_the_day_of_the_first_film():
    stated = case(age_years=12.5)
    assert stated.first_film_on() == date(2026, 1, 1)
    assert stated.age_years(date(2026, 1, 1)) == 12.5
    assert stated.age_years(date(2027, 1, 1)) == pytest.approx(13.5, abs=0.003)


def test_without_a_dated_film_a_stated_age_is_taken_as_it_is():
    patient = Patient(id="A", sex=Sex.MALE, age_years=12.5)
    assert patient.age_on(date(2030, 1, 1), age_stated_on=None) == 12.5


def test_a_day_before_birth_is_refused():
    with pytest.raises(OutOfRange, match=r"age is -\d+(\.\d+)? years, expected 0 to 120 years"):
        case(birth_date=date(2010, 1, 1)).age_years(date(2000, 1, 1))


def test_films_are_found_by_name():
    found = case(age_years=12.5).film("later")
    assert found is FILMS[1]
    assert case(age_years=12.5).film("none") is None


def test_an_other_schema_version_cannot_be_built():
    with pytest.raises(OutOfRange, match=r"schema_version: version 3, expected 2.*case_from_json"):
        Case(
            schema_version=3,
            id="a",
            side=Side.LEFT,
            patient=Patient(id="A", sex=Sex.MALE, age_years=3.0),
        )
