"""A corrected invented tibia searched once, and both bones of a short leg."""

from collections.abc import Callable

import pytest

from limbwright.implant.nail import Direction
from limbwright.implant.shipped import shipped_catalogue
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.reading import Measure
from limbwright.plan.leg import leg_model
from limbwright.plan.planner import BoneTask, plan_bone
from limbwright.plan.search.search import PlannedTask, SearchResult, search_leg
from limbwright.plan.search.space import Held
from limbwright.plan.situation import Angulation, BoneSituation

TARGETS = {Measure.MPTA: 87.0, Measure.MAD: 5.0}


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
            "targets": TARGETS,
            "catalogue": shipped_catalogue(),
            **changes,
        }
        return BoneTask(**settings)  # type: ignore[arg-type]  # tests change one field at a time

    return made


@pytest.fixture(scope="session")
def planned() -> Callable[..., PlannedTask]:
    def made(task: BoneTask, *, path: bool = False, screws: bool = False) -> PlannedTask:
        found = plan_bone(task)
        assert found.plan is not None
        return PlannedTask(task=task, plan=found.plan, proposed=found, held=Held(path=path, screws=screws))

    return made


@pytest.fixture(scope="session")
def search(planned) -> Callable[..., SearchResult]:  # type: ignore[no-untyped-def]
    def made(*tasks: BoneTask, **held: bool) -> SearchResult:
        bones = [planned(task, **held) for task in tasks]
        return search_leg(tasks[0].leg, bones, targets=TARGETS)

    return made


@pytest.fixture(scope="session")
def searched(make_task, search) -> SearchResult:  # type: ignore[no-untyped-def]
    return search(make_task())


@pytest.fixture(scope="session")
def two_bones(make_leg) -> tuple[BoneTask, BoneTask]:  # type: ignore[no-untyped-def]
    """A straight leg, femur and tibia to be lengthened by 25 and 20 mm."""
    straight = make_leg()
    model = leg_model(straight.view(Projection.FRONTAL), straight.view(Projection.SAGITTAL))

    def task(bone: Bone, length_mm: float, gain_mm: float, direction: Direction) -> BoneTask:
        return BoneTask(
            leg=model,
            direction=direction,
            lengthening_mm=gain_mm,
            situation=BoneSituation(bone=bone, length_mm=length_mm, short_mm=gain_mm, angulations=()),
            targets=TARGETS,
            catalogue=shipped_catalogue(),
        )

    return (
        task(Bone.FEMUR, 430.0, 25.0, Direction.ANTEGRADE),
        task(Bone.TIBIA, 360.0, 20.0, Direction.ANTEGRADE),
    )
