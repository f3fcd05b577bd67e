"""A sagittal angle set in the goal is what the bone is turned to."""

from dataclasses import replace

import pytest

from limbwright.case.case import Case
from limbwright.case.planned import planned_case
from limbwright.cli.demo_films import invented_case
from limbwright.cli.demo_patients import ADULT_TIBIA
from limbwright.implant.shipped import shipped_catalogue
from limbwright.limb.reading import Measure
from limbwright.practice.profile import Profile


@pytest.fixture(scope="module")
def adult() -> Case:
    case, _ = invented_case(ADULT_TIBIA, pixel_mm=0.9)
    return case


def test_the_slope_wanted_is_reached_below_the_cut(adult: Case) -> None:
    assert adult.goal is not None
    plain = planned_case(adult, Profile(), shipped_catalogue())
    wanted = replace(adult, goal=replace(adult.goal, targets_deg={Measure.PPTA: 76.0}))
    found = planned_case(wanted, Profile(), shipped_catalogue())
    assert plain.plan is not None
    assert found.plan is not None
    turned = found.situation.tibia.sagittal_deg - plain.situation.tibia.sagittal_deg
    assert abs(turned) > 0.5
    told = next(f for f in found.findings if f.id == "sagittal-angle-by-far-shaft")
    by_far_shaft = next(n.value for n in told.numbers if "beyond" in n.name)
    assert by_far_shaft == pytest.approx(76.0, abs=0.5)
    assert not any(f.id == "end-off-target" and "PPTA" in f.words for f in found.findings)
