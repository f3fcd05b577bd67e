"""Femur and tibia of one leg both corrected and lengthened over nails: alignment, lengths, knee height."""

import numpy as np
import pytest

from limbwright.implant.catalogue import Catalogue
from limbwright.implant.nail import Direction, Nail
from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.reading import Measure
from limbwright.plan.bone_task import BoneTask
from limbwright.plan.decision import BonePlan, Plan
from limbwright.plan.goal import Staging
from limbwright.plan.leg import LegModel, leg_model
from limbwright.plan.outlook import Outlook, outlook
from limbwright.plan.planner import plan_bone
from limbwright.plan.situation import Angulation, BoneSituation
from limbwright.plan.stage import StageName
from limbwright.practice.profile import Profile

TARGETS = {Measure.MPTA: 87.0, Measure.MLDFA: 88.0}
GAIN_MM = {Bone.FEMUR: 40.0, Bone.TIBIA: 25.0}
SITUATION = {
    Bone.FEMUR: BoneSituation(
        bone=Bone.FEMUR,
        length_mm=430,
        short_mm=40,
        angulations=(Angulation(below_joint_mm=280, frontal_deg=-9),),
    ),
    Bone.TIBIA: BoneSituation(
        bone=Bone.TIBIA,
        length_mm=359,
        short_mm=25,
        angulations=(Angulation(below_joint_mm=140, frontal_deg=8, sagittal_deg=4),),
    ),
}


def leg(make_leg, side: Side = Side.RIGHT) -> LegModel:  # type: ignore[no-untyped-def]
    made = make_leg().deformed(Bone.TIBIA, -140, varus=8, procurvatum=4).deformed(Bone.FEMUR, 150, varus=-9)
    return leg_model(made.view(Projection.FRONTAL, side), made.view(Projection.SAGITTAL, side))


def planned(made: LegModel, bone: Bone) -> BonePlan:
    catalogue = Catalogue(
        title="invented",
        nails=tuple(
            Nail(
                name=f"{bone}-{length}",
                bone=bone,
                direction=Direction.ANTEGRADE,
                thick_diameter_mm=10.7,
                thin_diameter_mm=8,
                length_mm=length,
                stroke_mm=60,
                exposed_thin_mm=30,
                elastic_modulus_gpa=110,
            )
            for length in range(235, 420, 20)
        ),
    )
    found = plan_bone(
        BoneTask(
            leg=made,
            direction=Direction.ANTEGRADE,
            lengthening_mm=GAIN_MM[bone],
            situation=SITUATION[bone],
            targets=TARGETS,
            catalogue=catalogue,
            profile=Profile(nail_straightness_gap_mm=5, reaming_beyond_canal_mm=6),
        )
    )
    assert found.plan is not None, [f.words for f in found.findings]
    return found.plan


def look(made: LegModel, *bones: BonePlan, other=None, **kwargs) -> Outlook:  # type: ignore[no-untyped-def]
    plan = Plan(side=Side.RIGHT, bones=bones, staging=Staging.SIMULTANEOUS, steps=(), findings=())
    return outlook(made, other, plan, Profile(), age_years=30, targets=TARGETS, **kwargs)


@pytest.fixture(scope="module")
def both(make_leg) -> tuple[LegModel, BonePlan, BonePlan]:  # type: ignore[no-untyped-def]
    made = leg(make_leg)
    return made, planned(made, Bone.FEMUR), planned(made, Bone.TIBIA)


def test_each_joint_angle_is_reached_though_the_other_bone_moves_too(both) -> None:
    made, femur, tibia = both
    seen = look(made, femur, tibia)
    end = seen.stage(StageName.FULL_LENGTH)
    assert end.value(Measure.MLDFA) == pytest.approx(88, abs=1e-3)
    assert end.value(Measure.MPTA) == pytest.approx(87, abs=1e-3)
    # The angles around the knee add up in the frontal plane, varus +.
    around = end.value(Measure.MLDFA) - end.value(Measure.MPTA) + end.value(Measure.JLCA)
    assert end.value(Measure.HKA) == pytest.approx(around, abs=1e-3)
    assert end.value(Measure.TIBIA_LENGTH) == pytest.approx(385, abs=1.5)
    assert "end-off-target" not in {f.id for f in seen.findings}


def test_the_order_of_the_bones_makes_no_difference(both) -> None:
    made, femur, tibia = both
    one, other = look(made, femur, tibia), look(made, tibia, femur)
    assert one.stages == other.stages


def test_one_bone_at_a_time_leaves_the_other_as_it_was(both) -> None:
    made, femur, tibia = both
    stands = look(made, femur).stage(StageName.AS_IT_STANDS)
    alone = look(made, femur).stage(StageName.FULL_LENGTH)
    for measure in (Measure.MPTA, Measure.LDTA, Measure.TIBIA_LENGTH):
        assert alone.value(measure) == pytest.approx(stands.value(measure), abs=0.6)
    shin = look(made, tibia).stage(StageName.FULL_LENGTH)
    for measure in (Measure.MLDFA, Measure.FEMUR_LENGTH):
        assert shin.value(measure) == pytest.approx(stands.value(measure), abs=1e-6)


def test_the_mechanical_axis_is_where_hip_and_ankle_put_it(both) -> None:
    """MAD worked out here from the three centres of the moved leg."""
    made, femur, tibia = both
    view = look(made, femur, tibia).stage(StageName.FULL_LENGTH).frontal
    hip, knee, ankle = (
        np.array([view.spot(m).across_mm, view.spot(m).proximal_mm])
        for m in (Landmark.FEMORAL_HEAD_CENTRE, Landmark.TIBIA_KNEE_CENTRE, Landmark.ANKLE_CENTRE)
    )
    axis = (ankle - hip) / np.linalg.norm(ankle - hip)
    off = (knee - hip) - ((knee - hip) @ axis) * axis
    shown = look(made, femur, tibia).stage(StageName.FULL_LENGTH).value(Measure.MAD)
    assert abs(shown) == pytest.approx(np.linalg.norm(off), abs=2.0)


def test_only_the_tibia_raises_the_knee(make_leg, both) -> None:
    made, femur, tibia = both
    other = make_leg().view(Projection.FRONTAL, Side.LEFT)
    heights = {}
    for name, bones in (("none", ()), ("femur", (femur,)), ("tibia", (tibia,)), ("both", (femur, tibia))):
        seen = look(made, *bones, other=other) if bones else look(made, femur, other=other)
        stage = seen.stage(StageName.FULL_LENGTH if bones else StageName.AS_IT_STANDS)
        heights[name] = stage.discrepancy.knee_height.value
    # Standing a leg up again turns the tibia with it, and a tilted tibia is as long but not as high.
    assert heights["femur"] == pytest.approx(heights["none"], abs=3.0)
    assert heights["tibia"] - heights["none"] == pytest.approx(25, abs=4.0)
    assert heights["both"] == pytest.approx(heights["tibia"], abs=3.0)
    assert "knee-heights-at-end" in {f.id for f in look(made, femur, tibia, other=other).findings}


def test_knee_heights_are_told_in_words_and_only_where_they_count(make_leg, bone_plan) -> None:
    made = leg_model(make_leg().view(Projection.FRONTAL), None)
    other = make_leg().view(Projection.FRONTAL, Side.LEFT)
    long = bone_plan(made, Bone.TIBIA, 100, 30)
    finding = next(f for f in look(made, long, other=other).findings if f.id == "knee-heights-at-end")
    assert "stands 30 mm higher than the other" in finding.words
    silent = look(made, long, other=other, knee_height_counts=False)
    assert "knee-heights-at-end" not in {f.id for f in silent.findings}
    femur = bone_plan(made, Bone.FEMUR, 100, 40)
    assert "knee-heights-at-end" not in {f.id for f in look(made, femur, other=other).findings}
