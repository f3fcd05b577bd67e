"""Growth still to come, of a growing patient whose legs are drawn."""

from dataclasses import replace
from datetime import date

import pytest

from limbwright.case.followed import followed_case
from limbwright.case.patient import Patient
from limbwright.course.course import Course, Treatment
from limbwright.course.prescription import default_prescription
from limbwright.growth.discrepancy import DiscrepancyKind
from limbwright.growth.growth import Sex
from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import Examination
from limbwright.practice.profile import Profile

PROFILE = Profile()
TREATMENT = Treatment(
    operated_on=date(2026, 3, 2),
    prescription=default_prescription(PROFILE, bone=Bone.TIBIA, age_years=14, target_mm=30),
)


@pytest.fixture
def growing(case_of):
    """A boy of 14 years on the day of the film, with a congenital discrepancy."""

    def made(**values):
        case = case_of(**values)
        return replace(
            case,
            patient=Patient(id="P", sex=Sex.MALE, birth_date=date(2012, 2, 1)),
            films=tuple(replace(f, taken_on=date(2026, 2, 1)) for f in case.films),
            examination=Examination(
                discrepancy_kind=DiscrepancyKind.CONGENITAL, foot_height_difference_mm=0.0
            ),
            goal=None,
            course=Course(treatments=(TREATMENT,)),
        )

    return made


def test_what_growth_leaves_is_projected_from_the_films(growing):
    found = followed_case(growing(), PROFILE, on=date(2026, 4, 1))
    (one,) = (f for f in found.findings if f.id == "growth-still-to-come")
    numbers = {n.name: n.value for n in one.numbers}
    now = numbers["at maturity without lengthening"] / 1.08  # multiplier of a boy of 14 years
    assert 30 < now < 60
    assert numbers["at maturity with it"] == pytest.approx(numbers["at maturity without lengthening"] - 30)


def test_with_one_leg_on_the_film_it_says_why_not(growing):
    found = followed_case(growing(other_shown=False), PROFILE, on=date(2026, 4, 1))
    (one,) = (f for f in found.findings if f.id == "growth-not-projected")
    assert "no film shows both legs" in one.words
