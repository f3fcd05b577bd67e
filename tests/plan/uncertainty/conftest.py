"""A corrected invented tibia with its forecast, made once."""

from dataclasses import dataclass

import pytest

from limbwright.implant.nail import Direction
from limbwright.implant.shipped import shipped_catalogue
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.reading import Measure
from limbwright.plan.forecast.drift_course import BoneForecast
from limbwright.plan.forecast.forecast import Sampling, bone_forecast
from limbwright.plan.forecast.loads import CourseDay
from limbwright.plan.leg import LegModel, leg_model
from limbwright.plan.planner import BoneTask, PlannedBone, plan_bone
from limbwright.plan.situation import Angulation, BoneSituation
from limbwright.practice.profile import Profile

TARGETS = {Measure.MPTA: 87.0}


@dataclass(frozen=True)
class Corrected:
    leg: LegModel
    found: PlannedBone
    forecast: BoneForecast


@pytest.fixture(scope="session")
def tibia(make_leg) -> Corrected:  # type: ignore[no-untyped-def]
    """10 degrees of valgus at 130 mm, corrected and lengthened by 35 mm."""
    bent = make_leg().deformed(Bone.TIBIA, -130.0, varus=-10.0)
    model = leg_model(bent.view(Projection.FRONTAL), bent.view(Projection.SAGITTAL))
    found = plan_bone(
        BoneTask(
            leg=model,
            direction=Direction.ANTEGRADE,
            lengthening_mm=35.0,
            situation=BoneSituation(
                bone=Bone.TIBIA,
                length_mm=360,
                short_mm=35,
                angulations=(Angulation(below_joint_mm=130.0, frontal_deg=-10.0),),
            ),
            targets=TARGETS,
            catalogue=shipped_catalogue(),
        )
    )
    assert found.plan is not None
    days = tuple(CourseDay(day=8 + i, gained_mm=1.0 + i) for i in range(35))
    made = bone_forecast(found.plan, found.canals, days, Profile(), sampling=Sampling(count=0))
    return Corrected(leg=model, found=found, forecast=made)
