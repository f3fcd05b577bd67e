"""A planned demo case with its film pictures, made once."""

from dataclasses import dataclass

import pytest

from limbwright.case.case import Case
from limbwright.case.planned import PlannedCase, planned_case
from limbwright.cli.demo_films import invented_case
from limbwright.cli.demo_patients import DEMO_PATIENTS
from limbwright.film.reading.picture import Picture
from limbwright.film.reading.read import read_picture
from limbwright.implant.shipped import shipped_catalogue
from limbwright.practice.profile import Profile


@dataclass(frozen=True)
class Shown:
    """A case, its plan and its pictures."""

    case: Case
    planned: PlannedCase
    pictures: dict[str, Picture]


@pytest.fixture(scope="session")
def shown() -> Shown:
    """The adult demo case at low resolution."""
    case, contents = invented_case(DEMO_PATIENTS[0], pixel_mm=0.9)
    return Shown(
        case=case,
        planned=planned_case(case, Profile(), shipped_catalogue()),
        pictures={
            f.name: read_picture(content, name=f.name).picture
            for f, content in zip(case.films, contents, strict=True)
        },
    )
