"""Blocking screws of the demo cases stand where the computation of screws lets them stand."""

from dataclasses import replace

import pytest

from limbwright.case.planned import planned_case
from limbwright.cli.demo_films import invented_case
from limbwright.cli.demo_patients import DEMO_PATIENTS, DemoPatient
from limbwright.implant.shipped import shipped_catalogue
from limbwright.plan.forecast.construct import modelled_bone
from limbwright.plan.forecast.screw_limits import screw_limits
from limbwright.practice.profile import Profile


@pytest.mark.parametrize("demo", DEMO_PATIENTS, ids=lambda demo: demo.id)
def test_no_planned_screw_of_a_demo_case_is_refused(demo: DemoPatient) -> None:
    case, _ = invented_case(demo, pixel_mm=0.9)
    profile = Profile()
    found = planned_case(case, profile, shipped_catalogue())
    assert found.completed
    for done, proposal in zip(found.completed, found.proposals, strict=False):
        plan, hardware = done.plan, case.examination.hardware
        modelled = modelled_bone(replace(plan, blocking_screws=()), proposal.canals, profile)
        limits = screw_limits(modelled, plan, proposal.canals, profile, hardware=hardware)
        assert [limits.against(s.fragment, s.side, s.depth_mm) for s in plan.blocking_screws] == [""] * len(
            plan.blocking_screws
        )
