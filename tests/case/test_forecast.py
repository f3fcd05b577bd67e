"""A planned demo case looked ahead: drift, the leg with drift, candidates."""

from dataclasses import dataclass, replace

import pytest

from limbwright.case.case import Case
from limbwright.case.forecast import CaseAhead, case_ahead, course_days
from limbwright.case.planned import PlannedCase, planned_case
from limbwright.cli.demo_films import invented_case
from limbwright.cli.demo_patients import DEMO_PATIENTS
from limbwright.implant.shipped import shipped_catalogue
from limbwright.limb.anatomy import Bone
from limbwright.limb.reading import Measure
from limbwright.plan.forecast.forecast import Sampling
from limbwright.plan.stage import StageName
from limbwright.practice.profile import Profile


@dataclass(frozen=True)
class Ahead:
    case: Case
    planned: PlannedCase
    ahead: CaseAhead


@pytest.fixture(scope="module")
def adult() -> Ahead:
    case, _ = invented_case(DEMO_PATIENTS[0], pixel_mm=0.9)
    planned = planned_case(case, Profile(), shipped_catalogue())
    return Ahead(case, planned, case_ahead(case, planned, Profile(), sampling=Sampling(count=0)))


def test_days_follow_the_prescription(adult: Ahead) -> None:
    (pace,) = adult.planned.prescriptions
    days = course_days(pace)
    assert days[pace.latency_days].gained_mm == 0
    assert max(d.gained_mm for d in days) == pytest.approx(pace.target_mm, abs=pace.phases[0].step_mm)


def test_the_leg_at_full_length_is_measured_with_the_drift(adult: Ahead) -> None:
    drift = adult.ahead.drifts[Bone.TIBIA]
    assert adult.planned.outlook is not None
    assert adult.ahead.outlook is not None
    plain, moved = (
        o.stage(StageName.FULL_LENGTH).value(Measure.MPTA)
        for o in (adult.planned.outlook, adult.ahead.outlook)
    )
    assert drift.varus_deg < 0
    # Valgus below the cut opens the angle at the knee, by the share of the tibia that turns.
    assert 0.3 * -drift.varus_deg < moved - plain < -drift.varus_deg
    assert adult.ahead.of(Bone.TIBIA) is adult.ahead.bones[0]
    assert adult.ahead.of(Bone.FEMUR) is None


def test_every_planned_screw_has_its_recipe(adult: Ahead) -> None:
    (bone,) = adult.ahead.bones
    assert adult.planned.plan is not None
    screws = adult.planned.plan.bones[0].blocking_screws
    assert [r.screw for r in bone.recipes] == list(screws)
    assert "forecast-not-validated" in [f.id for f in adult.ahead.findings]


def test_without_a_plan_nothing_is_foretold(adult: Ahead) -> None:
    empty = replace(adult.planned, completed=(), proposals=(), plan=None, prescriptions=())
    found = case_ahead(adult.case, empty, Profile())
    assert (found.bones, found.outlook, found.findings) == ((), None, ())
