"""Plans of straight invented bones for the forecast, with canals as wide as asked for."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from limbwright.implant.nail import Direction
from limbwright.implant.shipped import shipped_catalogue
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.view import Surface
from limbwright.plan.circumstances import Examination
from limbwright.plan.forecast.loads import CourseDay
from limbwright.plan.goal import BoneChoice
from limbwright.plan.leg import leg_model
from limbwright.plan.planner import BoneTask, PlannedBone, plan_bone
from limbwright.plan.situation import BoneSituation
from limbwright.practice.profile import Profile

SCREWLESS = Profile(blocking_screws_max=0)


def days_of(gained_mm: float, rate_mm: float = 1.0, latency: int = 7) -> tuple[CourseDay, ...]:
    """A course at one rate."""
    count = int(np.ceil(gained_mm / rate_mm))
    return tuple(
        CourseDay(day=latency + 1 + i, gained_mm=min((i + 1) * rate_mm, gained_mm)) for i in range(count)
    )


@pytest.fixture(scope="session")
def days() -> Callable[..., tuple[CourseDay, ...]]:
    return days_of


@pytest.fixture(scope="session")
def planned(make_leg: Callable[..., object]) -> Callable[..., PlannedBone]:
    """A plan for one straight bone; `widen_mm` widens its canal, `walls` and `sagittal` leave tracing out."""

    def made(
        *,
        bone: Bone = Bone.TIBIA,
        level: float = 130.0,
        gained: float = 40.0,
        nail: str | None = "T-10.7/275",
        widen_mm: float = 0.0,
        walls: bool = True,
        sagittal: bool = True,
        profile: Profile = SCREWLESS,
        examination: Examination | None = None,
    ) -> PlannedBone:
        leg = make_leg()
        middle = {Projection.FRONTAL: 2, Projection.SAGITTAL: 0}
        wider = []
        for projection, owner, surface, border, points in leg.walls:
            across = middle[projection]
            moved = points.copy()
            if surface is Surface.INNER:
                sign = 1.0 if border.value in {"lateral", "anterior"} else -1.0
                moved[:, across] += sign * widen_mm / 2
            wider.append((projection, owner, surface, border, moved))
        leg.walls = wider
        model = leg_model(
            leg.view(Projection.FRONTAL, walls=walls),
            leg.view(Projection.SAGITTAL, walls=walls) if sagittal else None,
        )
        retrograde = bone is Bone.FEMUR
        return plan_bone(
            BoneTask(
                leg=model,
                direction=Direction.RETROGRADE if retrograde else Direction.ANTEGRADE,
                lengthening_mm=gained,
                situation=BoneSituation(bone=bone, length_mm=360, short_mm=gained),
                profile=replace(profile, reaming_beyond_canal_mm=6.0),
                catalogue=shipped_catalogue(),
                examination=examination or Examination(),
                choice=BoneChoice(bone=bone, osteotomy_below_joint_mm=level, nail=nail),
                correct_alignment=False,
            )
        )

    return made
