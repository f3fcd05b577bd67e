"""A corrected invented tibia searched once."""

from collections.abc import Callable

import pytest

from limbwright.implant.nail import Direction
from limbwright.implant.shipped import shipped_catalogue
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.reading import Measure
from limbwright.plan.leg import leg_model
from limbwright.plan.planner import BoneTask
from limbwright.plan.search.search import SearchResult, search_bone
from limbwright.plan.situation import Angulation, BoneSituation


@pytest.fixture(scope="session")
def make_task(make_leg) -> Callable[..., BoneTask]:  # type: ignore[no-untyped-def]
    def made(**changes: object) -> BoneTask:
        bent = make_leg().deformed(Bone.TIBIA, -130.0, varus=-10.0)
        settings: dict[str, object] = {
            "leg": leg_model(bent.view(Projection.FRONTAL), bent.view(Projection.SAGITTAL)),
            "direction": Direction.ANTEGRADE,
            "lengthening_mm": 35.0,
            "situation": BoneSituation(
                bone=Bone.TIBIA,
                length_mm=360,
                short_mm=35,
                angulations=(Angulation(below_joint_mm=130.0, frontal_deg=-10.0),),
            ),
            "targets": {Measure.MPTA: 87.0},
            "catalogue": shipped_catalogue(),
            **changes,
        }
        return BoneTask(**settings)  # type: ignore[arg-type]  # tests change one field at a time

    return made


@pytest.fixture(scope="session")
def searched(make_task: Callable[..., BoneTask]) -> SearchResult:
    return search_bone(make_task())
