"""A plan with two osteotomies carried out: drawings, distances, steps, nail, canals, pins."""

from dataclasses import replace

import numpy as np
import pytest

from limbwright.implant.catalogue import Catalogue
from limbwright.implant.nail import Direction, Hole, HoleDirection, Nail, NailEnd
from limbwright.limb.anatomy import Bone, Fragment, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.view import Border
from limbwright.plan.bone_task import BoneTask, PlannedBone
from limbwright.plan.canal import by_side
from limbwright.plan.circumstances import Examination
from limbwright.plan.complete import completed
from limbwright.plan.decision import BlockingScrew, BonePlan, MiddleHold, Plan, ScrewDirection
from limbwright.plan.drawing import drawing, poses
from limbwright.plan.drawn_nail import blocking_point_mm, nail_point_mm
from limbwright.plan.drift import Drift
from limbwright.plan.goal import BoneChoice
from limbwright.plan.leg import leg_model
from limbwright.plan.nail_fit import NailDemand, NailRules, nail_verdict
from limbwright.plan.outlook import outlook
from limbwright.plan.planner import plan_bone
from limbwright.plan.route import canals_on
from limbwright.plan.shape import ShapeKind
from limbwright.plan.situation import Angulation, BoneSituation
from limbwright.plan.stage import StageName
from limbwright.plan.steps import StepName, checklist, operation_steps
from limbwright.practice.profile import Profile

APEXES = (
    Angulation(below_joint_mm=120, frontal_deg=-9, sagittal_deg=5),
    Angulation(below_joint_mm=222, frontal_deg=8, sagittal_deg=-4),
)
NAIL = Nail(
    name="N335",
    bone=Bone.TIBIA,
    direction=Direction.ANTEGRADE,
    thick_diameter_mm=10.7,
    thin_diameter_mm=8,
    length_mm=335,
    stroke_mm=60,
    exposed_thin_mm=30,
    elastic_modulus_gpa=110,
    bend_deg=10,
    bend_depth_mm=40,
    holes=tuple(
        Hole(end=end, distance_mm=mm, direction=way, screw_diameter_mm=5)
        for end, mm, way in (
            (NailEnd.THICK, 15, HoleDirection.MEDIOLATERAL),
            (NailEnd.THICK, 30, HoleDirection.ANTEROPOSTERIOR),
            (NailEnd.THIN, 12, HoleDirection.MEDIOLATERAL),
            (NailEnd.THIN, 25, HoleDirection.ANTEROPOSTERIOR),
        )
    ),
)
SCREW = BlockingScrew(
    fragment=Fragment.DISTAL,
    side=Border.LATERAL,
    direction=ScrewDirection.ANTEROPOSTERIOR,
    depth_mm=0.0,
    from_osteotomy_mm=20.0,
    offset_mm=8.35,
    diameter_mm=5.0,
    drill_mm=4.2,
)


def planned(make_leg, *, lengthened: float, second: float) -> tuple[BoneTask, PlannedBone]:  # type: ignore[no-untyped-def]
    leg = make_leg()
    for apex in APEXES[::-1]:
        leg.deformed(Bone.TIBIA, -apex.below_joint_mm, varus=apex.frontal_deg, procurvatum=apex.sagittal_deg)
    task = BoneTask(
        leg=leg_model(leg.view(Projection.FRONTAL), leg.view(Projection.SAGITTAL)),
        direction=Direction.ANTEGRADE,
        lengthening_mm=30,
        situation=BoneSituation(bone=Bone.TIBIA, length_mm=359, short_mm=30, angulations=APEXES),
        catalogue=Catalogue(title="invented", nails=(NAIL,)),
        choice=BoneChoice(
            bone=Bone.TIBIA, osteotomy_below_joint_mm=lengthened, second_osteotomy_below_joint_mm=second
        ),
    )
    return task, plan_bone(task)


@pytest.fixture(scope="module", params=["upper", "lower"])
def case(make_leg, request) -> tuple[BoneTask, PlannedBone, BonePlan]:  # type: ignore[no-untyped-def]
    levels = (120.0, 222.0) if request.param == "upper" else (222.0, 120.0)
    task, found = planned(make_leg, lengthened=levels[0], second=levels[1])
    assert found.plan is not None, [f.words for f in found.findings]
    return task, found, found.plan


def whole(plan: BonePlan) -> Plan:
    return Plan(side=Side.RIGHT, bones=(plan,), staging=None, steps=(), findings=())


def test_three_fragments_are_drawn_and_only_the_lengthened_cut_opens(case) -> None:
    task, _, plan = case
    for gained in (0.0, 12.0, 30.0):
        at = {Bone.TIBIA: gained}
        drawn = drawing(task.leg, whole(plan), Projection.FRONTAL, StageName.FULL_LENGTH, gained_mm=at)
        assert {s.fragment for s in drawn.of_kind(ShapeKind.INNER_WALL) if s.bone is Bone.TIBIA} == {
            Fragment.PROXIMAL,
            Fragment.MIDDLE,
            Fragment.DISTAL,
        }
        gap = {}
        for name in ("osteotomy", "second osteotomy"):
            pair = [s for s in drawn.of_kind(ShapeKind.OSTEOTOMY) if s.label.startswith(f"{name} of")]
            assert len(pair) == 2
            upper, lower = (np.mean(s.points_mm, axis=0) for s in pair)
            gap[name] = upper[1] - lower[1]
        assert gap["osteotomy"] == pytest.approx(gained, abs=1.0)
        assert gap["second osteotomy"] == pytest.approx(0.0, abs=1.0)
    standing = drawing(task.leg, whole(plan), Projection.FRONTAL, StageName.AS_IT_STANDS)
    assert len(standing.of_kind(ShapeKind.NAIL_LINE)) == 3
    assert len(standing.of_kind(ShapeKind.APEX)) == 2


def test_landmarks_of_the_drawing_are_those_of_the_outlook_with_drift_too(case) -> None:
    task, _, plan = case
    drifts = {Bone.TIBIA: Drift(varus_deg=-4.0, procurvatum_deg=2.0)}
    drawn = drawing(task.leg, whole(plan), Projection.FRONTAL, StageName.FULL_LENGTH, drifts=drifts)
    seen = outlook(task.leg, None, whole(plan), Profile(), age_years=30, drifts=drifts).stages[2].frontal
    marks = {s.label: s.points_mm[0] for s in drawn.of_kind(ShapeKind.LANDMARK)}
    for landmark, spot in seen.spots.items():
        assert marks[landmark.value] == pytest.approx((spot.across_mm, spot.proximal_mm), abs=1e-9)


def test_a_blocking_screw_moves_with_the_fragment_it_stands_in(case) -> None:
    task, _, plan = case
    side = plan.middle_side
    away = 1.0 if side is Fragment.DISTAL else -1.0
    pose = poses(task.leg, whole(plan), StageName.CORRECTED)[Bone.TIBIA]
    for distance, fragment in ((20.0, Fragment.MIDDLE), (plan.middle_length_mm + 20.0, side)):
        screw = replace(SCREW, fragment=side, from_osteotomy_mm=distance)
        assert plan.fragment_beside(side, distance) is fragment
        beside = nail_point_mm(plan, pose, plan.osteotomy.depth_mm + away * distance)
        off = blocking_point_mm(plan, pose, screw) - beside
        assert np.linalg.norm(off) == pytest.approx(8.35, abs=1e-6)
        assert off[2] > 8  # lateral
    shown = drawing(
        task.leg,
        whole(replace(plan, blocking_screws=(replace(SCREW, fragment=side),))),
        Projection.FRONTAL,
        StageName.CORRECTED,
    )
    assert shown.of_kind(ShapeKind.BLOCKING_SCREW)[0].fragment is Fragment.MIDDLE


def test_canals_of_the_side_that_is_cut_again_run_on(case) -> None:
    task, found, plan = case
    traced = canals_on(task.leg, found.route, plan.osteotomy.depth_mm)
    assert len(traced) == 6
    joined = by_side(traced, plan.middle_side)
    assert len(joined) == 4
    long = next(c for c in joined if c.fragment is plan.middle_side and c.projection is Projection.FRONTAL)
    pieces = [
        c
        for c in traced
        if c.projection is Projection.FRONTAL and c.fragment in {Fragment.MIDDLE, plan.middle_side}
    ]
    for piece in pieces:
        depth = float(np.mean(piece.inner.depth_mm))
        assert long.gaps_mm(depth, 0.0) == pytest.approx(piece.gaps_mm(depth, 0.0), abs=1e-6)
    assert by_side(traced, None) == traced


def test_the_steps_take_the_cut_nearer_to_the_entry_first(case) -> None:
    _, _, plan = case
    steps = operation_steps((plan,), staging=None)
    names = [step.name for step in steps]
    lengthened, second = (names.index(n) for n in (StepName.OSTEOTOMY, StepName.SECOND_OSTEOTOMY))
    assert (lengthened < second) is (plan.middle_side is Fragment.DISTAL)
    assert names.index(StepName.FIX_SECOND) > names.index(StepName.LOCKING)
    assert names.count(StepName.REAM_CORRECTED) == 2
    words = " ".join(checklist(steps))
    assert "which is only corrected" in words
    assert f"from the middle to the {plan.middle_side} fragment" in words
    locked = replace(plan, second=replace(plan.second, hold=MiddleHold.LOCKED))
    assert "The middle fragment is locked to the nail" in " ".join(
        checklist(operation_steps((locked,), staging=None))
    )


def test_distances_and_pins_know_both_cuts(case) -> None:
    task, _, plan = case
    done = completed(task.leg, plan, examination=Examination(), choice=None, profile=Profile())
    marks = {m.what: m for m in done.marks}
    assert marks["osteotomy of the tibia"].from_proximal_mm == pytest.approx(plan.osteotomy.below_joint_mm)
    second = marks["second osteotomy of the tibia"]
    assert second.from_proximal_mm == pytest.approx(plan.second.osteotomy.below_joint_mm)
    assert second.stays_true_from == ("plafond" if plan.middle_side is Fragment.DISTAL else "plateau")
    for pin in done.plan.pins:
        for cut in plan.osteotomies():
            assert abs(pin.below_joint_mm - cut.below_joint_mm) > 10


RULES = NailRules(
    overlap_mm=50,
    exposed_thin_mm=30,
    tip_clearance_mm=15,
    over_reaming_mm=2,
    reaming_beyond_canal_mm=2,
    cortex_left_mm=3,
    misfit_mm=1,
    hole_to_osteotomy_mm=20,
    screws_per_fragment=2,
)


def verdict(second: float, *, cut: float = 120.0, nail: Nail = NAIL):  # type: ignore[no-untyped-def]
    demand = NailDemand(osteotomy_depth_mm=cut, lengthening_mm=30, room_mm=400, second_depth_mm=second)
    return nail_verdict(nail, demand=demand, rules=RULES, canals=())


def test_the_thick_part_leaves_a_second_cut_that_moves_and_stays_at_one_that_does_not() -> None:
    moving = verdict(222.0)
    assert moving.fits
    assert moving.number("length of the middle fragment") == 102
    assert moving.number("thick part past the second osteotomy at the start") == 83
    assert moving.number("thick part past the second osteotomy at full length") == 53
    assert moving.number("thick part in the middle fragment at full length") == 102
    still = verdict(120.0, cut=222.0)
    assert still.number("thick part past the second osteotomy at full length") == 185
    assert still.number("overlap at full length") == 53


def test_holes_are_counted_by_fragment_and_kept_off_both_cuts() -> None:
    far = verdict(300.0)
    assert not far.fits
    assert any("in the far fragment, 2 wanted" in r or "cut face" in r for r in far.reasons)
    assert any("35.0 mm of the nail lie beyond the second osteotomy" in r for r in far.reasons)
    near = verdict(40.0, cut=222.0)
    assert any("comes within 10.0 mm of a cut face" in r for r in near.reasons)
    hole = Hole(end=NailEnd.THICK, distance_mm=170, direction=HoleDirection.OBLIQUE, screw_diameter_mm=5)
    held = verdict(120.0, cut=222.0, nail=replace(NAIL, holes=(*NAIL.holes, hole)))
    assert held.number("locking holes in the middle fragment") == 1
    assert held.fits


def test_the_leg_is_whole_again_whatever_day_is_asked(case) -> None:
    task, _, plan = case
    shown = drawing(
        task.leg, whole(plan), Projection.FRONTAL, StageName.FULL_LENGTH, gained_mm={Bone.TIBIA: 7.0}
    )
    labels = {s.label for s in shown.of_kind(ShapeKind.LANDMARK)}
    assert {Landmark.ANKLE_CENTRE.value, Landmark.FEMORAL_HEAD_CENTRE.value} <= labels
    assert shown.gained_mm == 7.0
