"""Facts of practice through a whole plan: which screw helps a tibia, and what drifts more.

Source of all of them: common practice, no source. Sizes are not claimed, directions are. The bone is an
invented straight tibia with a canal of one width, planned with the nails of the shipped, invented catalogue.
"""

from dataclasses import replace

import numpy as np
import pytest

from limbwright.implant.nail import Direction
from limbwright.implant.shipped import shipped_catalogue
from limbwright.limb.anatomy import Bone, Fragment, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.view import Border, Spot, Surface, View, Wall
from limbwright.plan.decision import BlockingScrew, BonePlan, ScrewDirection
from limbwright.plan.forecast.forecast import Sampling, bone_forecast
from limbwright.plan.forecast.loads import CourseDay
from limbwright.plan.goal import BoneChoice
from limbwright.plan.leg import leg_model
from limbwright.plan.planner import BoneTask, PlannedBone, plan_bone
from limbwright.plan.situation import BoneSituation
from limbwright.practice.profile import Profile

NO_BANDS = Sampling(count=0)
LEVELS = np.arange(-20.0, -345.0, -5.0)
POINTS = {
    Landmark.FEMORAL_HEAD_CENTRE: (0, 430, 0),
    Landmark.FEMUR_KNEE_CENTRE: (0, 0, 0),
    Landmark.TIBIA_KNEE_CENTRE: (0, 0, 0),
    Landmark.MEDIAL_PLATEAU: (0, 0, -35),
    Landmark.LATERAL_PLATEAU: (0, 0, 35),
    Landmark.PLATEAU_ANTERIOR: (20, 0, 0),
    Landmark.PLATEAU_POSTERIOR: (-20, 0, 0),
    Landmark.ANKLE_CENTRE: (0, -360, 0),
    Landmark.MEDIAL_PLAFOND: (0, -360, -15),
    Landmark.LATERAL_PLAFOND: (0, -360, 15),
    Landmark.PLAFOND_ANTERIOR: (16, -360, 0),
    Landmark.PLAFOND_POSTERIOR: (-16, -360, 0),
}
SIDES = {
    Projection.FRONTAL: ((Border.MEDIAL, -1), (Border.LATERAL, 1)),
    Projection.SAGITTAL: ((Border.POSTERIOR, -1), (Border.ANTERIOR, 1)),
}


def view(projection: Projection, canal_mm: float) -> View:
    across = 2 if projection is Projection.FRONTAL else 0
    walls = tuple(
        Wall(
            bone=Bone.TIBIA,
            surface=surface,
            border=border,
            sd_mm=0.5,
            across_mm=tuple(np.full_like(LEVELS, sign * half).tolist()),
            proximal_mm=tuple(LEVELS.tolist()),
        )
        for surface, half in ((Surface.INNER, canal_mm / 2), (Surface.OUTER, canal_mm / 2 + 7))
        for border, sign in SIDES[projection]
    )
    shown = {
        k for k in POINTS if projection is Projection.FRONTAL or not k.value.startswith(("medial", "lat"))
    }
    shown -= {k for k in shown if projection is Projection.FRONTAL and "terior" in k.value}
    spots = {
        k: Spot(across_mm=float(POINTS[k][across]), proximal_mm=float(POINTS[k][1]), sd_mm=1.0) for k in shown
    }
    return View(
        side=Side.RIGHT,
        projection=projection,
        spots=spots,
        walls=walls,
        scaled=True,
        scale_relative_sd=0.01,
    )


def planned(*, canal_mm: float = 16.0, nail: str = "T-10.7/275", gained_mm: float = 40.0) -> PlannedBone:
    profile = Profile(
        blocking_screws_max=0, reaming_beyond_canal_mm=6, overlap_mm=10, hole_to_osteotomy_min_mm=5
    )
    found = plan_bone(
        BoneTask(
            leg=leg_model(view(Projection.FRONTAL, canal_mm), view(Projection.SAGITTAL, canal_mm)),
            direction=Direction.ANTEGRADE,
            lengthening_mm=gained_mm,
            situation=BoneSituation(bone=Bone.TIBIA, length_mm=360, short_mm=gained_mm),
            profile=profile,
            catalogue=shipped_catalogue(),
            choice=BoneChoice(bone=Bone.TIBIA, osteotomy_below_joint_mm=110.0, nail=nail),
            correct_alignment=False,
        )
    )
    assert found.plan is not None
    return found


def drift(found: PlannedBone, plan: BonePlan | None = None) -> tuple[float, float]:
    """Frontal and sagittal drift at full length, both planes together. [deg]"""
    chosen = plan or found.plan
    assert chosen is not None
    days = [CourseDay(day=8 + i, gained_mm=1.0 + i) for i in range(int(chosen.lengthening_mm))]
    got = bone_forecast(chosen, found.canals, days, Profile(), sampling=NO_BANDS).planned.drift()
    assert got is not None
    return got.varus_deg, got.procurvatum_deg


def with_screw(found: PlannedBone, side: Border) -> BonePlan:
    plan = found.plan
    assert plan is not None
    return replace(
        plan,
        blocking_screws=(
            BlockingScrew(
                fragment=Fragment.PROXIMAL,
                side=side,
                direction=ScrewDirection.ANTEROPOSTERIOR,
                depth_mm=plan.osteotomy.depth_mm - 10,
                from_osteotomy_mm=10,
                offset_mm=plan.nail.thick_diameter_mm / 2 + 2.5,
                diameter_mm=5,
                drill_mm=4.2,
            ),
        ),
    )


@pytest.fixture(scope="module")
def usual() -> tuple[PlannedBone, tuple[float, float]]:
    found = planned()
    return found, drift(found)


def test_a_tibia_drifts_into_valgus_and_procurvatum(usual) -> None:
    """Wright, Goodier & Calder, Strategies Trauma Limb Reconstr 15(2), 2020 (direction; read there)."""
    _found, (frontal, sagittal) = usual
    assert frontal < -0.3
    assert sagittal > 0.3


@pytest.mark.parametrize(
    ("side", "plane", "helps"),
    [
        (Border.LATERAL, 0, True),
        (Border.POSTERIOR, 1, True),
        (Border.MEDIAL, 0, False),
        (Border.ANTERIOR, 1, False),
    ],
)
def test_lateral_and_posterior_screws_help_a_tibia_medial_and_anterior_do_not(
    usual, side: Border, plane: int, helps: bool
) -> None:
    """Common practice, no source; sides as in Muthusamy et al. 2016, table 1."""
    found, before = usual
    after = drift(found, with_screw(found, side))
    if helps:
        assert abs(after[plane]) < abs(before[plane]) - 0.2
    else:
        assert abs(after[plane]) >= abs(before[plane]) - 0.02


def test_a_narrower_nail_drifts_more(usual) -> None:
    """Common practice, no source."""
    thin = drift(planned(nail="T-8.5/275"))
    assert np.hypot(*thin) > np.hypot(*usual[1]) + 0.3


def test_a_wider_canal_drifts_more(usual) -> None:
    """Common practice, no source."""
    assert np.hypot(*drift(planned(canal_mm=20.0))) > np.hypot(*usual[1]) + 0.3


def test_longer_lengthening_drifts_more(usual) -> None:
    """Common practice, no source."""
    assert np.hypot(*drift(planned(gained_mm=20.0))) < np.hypot(*usual[1]) - 0.02


def test_a_plastered_nail_gains_nothing_from_a_screw(usual) -> None:
    """Common practice, no source: the nail lies on the cortex, so a screw there finds no gap to take away."""
    found = planned(canal_mm=12.8)
    plan = found.plan
    assert plan is not None
    close = replace(plan, reamer_mm=plan.nail.thick_diameter_mm + 0.4)
    tight = tuple(
        replace(
            c,
            inner=replace(
                c.inner,
                negative_mm=tuple(-close.reamer_mm / 2 for _ in c.inner.depth_mm),
                positive_mm=tuple(close.reamer_mm / 2 for _ in c.inner.depth_mm),
            ),
        )
        for c in found.canals
    )
    plastered = replace(found, canals=tight)
    before = drift(plastered, close)
    screw = replace(
        with_screw(found, Border.LATERAL).blocking_screws[0],
        offset_mm=plan.nail.thick_diameter_mm / 2 + 2.5 + 0.3,
    )
    after = drift(plastered, replace(close, blocking_screws=(screw,)))
    assert np.hypot(*before) < np.hypot(*usual[1])
    assert abs(after[0]) == pytest.approx(abs(before[0]), abs=0.02)
