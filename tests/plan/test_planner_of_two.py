"""A plan with two osteotomies of one bone, from apexes to decisions and findings."""

from dataclasses import replace

import pytest

from limbwright.finding import Severity
from limbwright.implant.catalogue import Catalogue
from limbwright.implant.nail import Direction, Hole, HoleDirection, Nail, NailEnd
from limbwright.limb.anatomy import SIDES_OF_A_CUT, Bone, Fragment, Projection, Side
from limbwright.limb.reading import Measure
from limbwright.plan.bone_task import BoneTask, PlannedBone
from limbwright.plan.circumstances import BoneQuality, Examination, Zone, ZoneQuality
from limbwright.plan.decision import MiddleHold, Plan
from limbwright.plan.goal import BoneChoice
from limbwright.plan.leg import leg_model
from limbwright.plan.outlook import Outlook, outlook
from limbwright.plan.planner import plan_bone
from limbwright.plan.situation import Angulation, BoneSituation
from limbwright.plan.stage import StageName
from limbwright.practice.profile import Profile

TARGETS = {Measure.MPTA: 87.0, Measure.LDTA: 89.0, Measure.MLDFA: 88.0, Measure.MLPFA: 90.0}
APEXES = (
    Angulation(below_joint_mm=120, frontal_deg=-9, sagittal_deg=5),
    Angulation(below_joint_mm=222, frontal_deg=8, sagittal_deg=-4),
)


def nails(*, in_middle: bool = False) -> tuple[Nail, ...]:
    """Tibial nails of many lengths; with `in_middle` one hole of the thin end lies far from the tip."""
    holes = [
        Hole(end=end, distance_mm=mm, direction=way, screw_diameter_mm=5)
        for end, mm, way in (
            (NailEnd.THICK, 15, HoleDirection.MEDIOLATERAL),
            (NailEnd.THICK, 30, HoleDirection.ANTEROPOSTERIOR),
            (NailEnd.THIN, 12, HoleDirection.MEDIOLATERAL),
            (NailEnd.THIN, 25, HoleDirection.ANTEROPOSTERIOR),
        )
    ]
    if in_middle:
        holes.append(
            Hole(
                end=NailEnd.THICK, distance_mm=165, direction=HoleDirection.MEDIOLATERAL, screw_diameter_mm=5
            )
        )
    return tuple(
        Nail(
            name=f"N{length}",
            bone=Bone.TIBIA,
            direction=Direction.ANTEGRADE,
            thick_diameter_mm=10.7,
            thin_diameter_mm=8,
            length_mm=length,
            stroke_mm=60,
            exposed_thin_mm=30,
            elastic_modulus_gpa=110,
            bend_deg=10,
            bend_depth_mm=40,
            holes=tuple(holes),
        )
        for length in range(215, 360, 10)
    )


def task(make_leg, *, bends=APEXES, side=Side.RIGHT, **changes) -> BoneTask:  # type: ignore[no-untyped-def]
    leg = make_leg()
    for apex in bends[::-1]:
        leg.deformed(Bone.TIBIA, -apex.below_joint_mm, varus=apex.frontal_deg, procurvatum=apex.sagittal_deg)
    standard = BoneTask(
        leg=leg_model(leg.view(Projection.FRONTAL, side), leg.view(Projection.SAGITTAL, side)),
        direction=Direction.ANTEGRADE,
        lengthening_mm=30,
        situation=BoneSituation(bone=Bone.TIBIA, length_mm=359, short_mm=30, angulations=bends),
        targets=TARGETS,
        catalogue=Catalogue(title="invented", nails=nails()),
    )
    return replace(standard, **changes)


def ids(planned: PlannedBone) -> set[str]:
    return {f.id for f in planned.findings}


def ahead(asked: BoneTask, planned: PlannedBone) -> Outlook:
    assert planned.plan is not None
    whole = Plan(side=asked.leg.side, bones=(planned.plan,), staging=None, steps=(), findings=())
    return outlook(asked.leg, None, whole, Profile(), age_years=30, targets=TARGETS)


def test_two_apexes_far_apart_are_cut_where_they_lie_and_end_on_target(make_leg) -> None:
    asked = task(make_leg)
    planned = plan_bone(asked)
    assert planned.plan is not None, [f.words for f in planned.findings]
    plan = planned.plan
    assert plan.second is not None
    levels = sorted(cut.below_joint_mm for cut in plan.osteotomies())
    assert levels == pytest.approx([120, 222], abs=26)
    assert planned.nail.fits
    assert {"two-osteotomies", "middle-fragment-hold", "second-osteotomy-not-forecast"} <= ids(planned)
    assert planned.reasons[0].startswith("Two osteotomies: one cut would leave an apex beyond tolerance")
    seen = ahead(asked, planned)
    end = seen.stage(StageName.FULL_LENGTH)
    assert end.value(Measure.MPTA) == pytest.approx(87, abs=1e-3)
    assert end.value(Measure.LDTA) == pytest.approx(89, abs=1e-3)
    assert end.value(Measure.TIBIA_LENGTH) == pytest.approx(390, abs=1.5)
    assert [face.lengthens for face in seen.cut_faces].count(True) == 1
    assert {c.fragment for c in planned.canals} == set(SIDES_OF_A_CUT)
    assert {s.fragment for s in plan.blocking_screws} <= set(SIDES_OF_A_CUT)


def test_the_same_leg_on_the_other_side_gets_the_same_two_levels(make_leg) -> None:
    right, left = (plan_bone(task(make_leg, side=side)) for side in (Side.RIGHT, Side.LEFT))
    assert left.plan == right.plan
    assert left.findings == right.findings


def test_one_is_enough_for_one_apex_or_for_two_near_each_other(make_leg) -> None:
    one = plan_bone(task(make_leg, bends=APEXES[:1]))
    assert one.plan.second is None
    assert "One osteotomy is enough: no more than one apex is beyond tolerance." in one.reasons
    assert "apex-left" not in ids(one)
    near = (APEXES[0], replace(APEXES[1], below_joint_mm=160.0))
    together = plan_bone(task(make_leg, bends=near))
    assert together.plan.second is None
    assert any("the apexes lie 40 mm apart" in r for r in together.reasons)
    assert "apex-left" in ids(together)


def test_a_small_second_bend_is_named_and_not_cut(make_leg) -> None:
    small = (APEXES[0], Angulation(below_joint_mm=222, frontal_deg=4))
    planned = plan_bone(task(make_leg, bends=small))
    assert planned.plan.second is None
    assert any("the lesser apex has 4.0 deg" in r for r in planned.reasons)
    assert "apex-left" in ids(planned)
    readier = Profile(second_osteotomy_from_deg=3)
    assert plan_bone(task(make_leg, bends=small, profile=readier)).plan.second is not None


def test_the_surgeon_can_ask_for_one(make_leg) -> None:
    choice = BoneChoice(bone=Bone.TIBIA, osteotomies=1)
    planned = plan_bone(task(make_leg, choice=choice))
    assert planned.plan.second is None
    left = next(f for f in planned.findings if f.id == "apex-left")
    assert left.severity is Severity.CAUTION
    assert "10.3 deg at 120 mm, 8.9 deg at 222 mm" in left.words


def test_length_in_good_bone_and_correction_at_the_apex(make_leg) -> None:
    bend = (replace(APEXES[1], below_joint_mm=225.0),)
    choice = BoneChoice(bone=Bone.TIBIA, osteotomies=2)
    asked = task(make_leg, bends=bend, choice=choice)
    planned = plan_bone(asked)
    plan = planned.plan
    assert plan is not None, [f.words for f in planned.findings]
    assert plan.second.osteotomy.off_apex_mm == pytest.approx(0, abs=26)
    assert plan.osteotomy.off_apex_mm is None
    assert plan.osteotomy.below_joint_mm < 125  # metaphyseal, where bone heals
    assert plan.middle_side is Fragment.DISTAL
    faces = {face.lengthens: face for face in ahead(asked, planned).cut_faces}
    assert faces[True].angulation_deg < 1e-3
    assert faces[False].varus_deg == pytest.approx(-8, abs=1.0)


def test_both_levels_can_be_fixed_and_either_may_be_the_one_that_lengthens(make_leg) -> None:
    for lengthened, second in ((120.0, 222.0), (222.0, 120.0)):
        choice = BoneChoice(
            bone=Bone.TIBIA, osteotomy_below_joint_mm=lengthened, second_osteotomy_below_joint_mm=second
        )
        planned = plan_bone(task(make_leg, choice=choice))
        assert planned.plan is not None, [f.words for f in planned.findings]
        assert planned.plan.osteotomy.below_joint_mm == pytest.approx(lengthened, abs=0.5)
        assert planned.plan.second.osteotomy.below_joint_mm == pytest.approx(second, abs=0.5)


def test_a_middle_fragment_chosen_too_short_is_a_stop(make_leg) -> None:
    choice = BoneChoice(
        bone=Bone.TIBIA, osteotomy_below_joint_mm=120.0, second_osteotomy_below_joint_mm=165.0
    )
    bends = (APEXES[0], replace(APEXES[1], below_joint_mm=165.0))
    planned = plan_bone(task(make_leg, bends=bends, choice=choice))
    short = next(f for f in planned.findings if f.id == "middle-fragment-short")
    assert short.severity is Severity.STOP
    assert "Only 45 mm of the tibia lie between the two osteotomies; 60 mm are wanted" in short.words


def test_a_fixed_level_near_a_joint_or_in_infected_bone_is_pointed_out(make_leg) -> None:
    def said(level: float, **changes) -> bool:  # type: ignore[no-untyped-def]
        choice = BoneChoice(
            bone=Bone.TIBIA, osteotomy_below_joint_mm=level, second_osteotomy_below_joint_mm=222.0
        )
        return "chosen-level-outside-limits" in ids(plan_bone(task(make_leg, choice=choice, **changes)))

    infected = Examination(
        bone_quality=(
            ZoneQuality(bone=Bone.TIBIA, zone=Zone.PROXIMAL_SHAFT, quality=BoneQuality.INFECTED_BEFORE),
        )
    )
    assert not said(120.0)
    assert said(65.0)
    assert said(120.0, examination=infected)


def test_a_locking_hole_in_the_middle_fragment_holds_it_else_a_plate(make_leg) -> None:
    choice = BoneChoice(
        bone=Bone.TIBIA, osteotomy_below_joint_mm=222.0, second_osteotomy_below_joint_mm=120.0
    )
    plated = plan_bone(task(make_leg, choice=choice))
    locked = plan_bone(
        task(make_leg, choice=choice, catalogue=Catalogue(title="invented", nails=nails(in_middle=True)))
    )
    assert plated.plan.second.hold is MiddleHold.PLATE
    assert locked.plan.second.hold is MiddleHold.LOCKED
    words = {f.id: f for f in locked.findings}["middle-fragment-hold"]
    assert words.severity is Severity.NOTE
    assert "stays with the entry-side fragment" in words.words
    assert "the thick part passes the second osteotomy all the way" in words.words


def test_a_moving_middle_fragment_is_told_which_part_of_the_nail_bridges_it(make_leg) -> None:
    choice = BoneChoice(
        bone=Bone.TIBIA, osteotomy_below_joint_mm=100.0, second_osteotomy_below_joint_mm=222.0
    )
    planned = plan_bone(task(make_leg, choice=choice))
    hold = next(f for f in planned.findings if f.id == "middle-fragment-hold")
    assert hold.severity is Severity.CAUTION
    assert "stays with the moving fragment" in hold.words
    assert "only the thin part bridges" in hold.words
    number = planned.nail.number("thick part in the middle fragment at full length")
    assert number == pytest.approx(planned.nail.number("overlap at full length"))


def test_two_that_were_asked_for_and_do_not_fit_are_refused_by_name(make_leg) -> None:
    choice = BoneChoice(bone=Bone.TIBIA, osteotomies=2)
    none = plan_bone(task(make_leg, bends=(), choice=choice))
    assert none.plan is None
    stop = next(f for f in none.findings if f.id == "no-two-osteotomies")
    assert stop.severity is Severity.STOP
    assert "no apex beyond tolerance is left to correct" in stop.words
    short = Catalogue(title="short", nails=tuple(n for n in nails() if n.length_mm < 230))
    small = plan_bone(task(make_leg, choice=choice, catalogue=short))
    assert small.plan is None
    words = next(f for f in small.findings if f.id == "no-two-osteotomies").words
    assert "no nail of the catalogue fits" in words


def test_where_two_do_not_fit_unasked_one_is_planned_and_says_what_it_leaves(make_leg) -> None:
    profile = Profile(middle_fragment_min_mm=100, osteotomy_min_above_ankle_mm=160)
    planned = plan_bone(task(make_leg, profile=profile))
    assert planned.plan is not None, [f.words for f in planned.findings]
    assert planned.plan.second is None
    assert {"no-two-osteotomies", "apex-left"} <= ids(planned)
    given_up = next(f for f in planned.findings if f.id == "no-two-osteotomies")
    assert given_up.severity is Severity.CAUTION


def test_a_second_cut_that_corrects_nothing_says_so(make_leg) -> None:
    choice = BoneChoice(
        bone=Bone.TIBIA, osteotomy_below_joint_mm=120.0, second_osteotomy_below_joint_mm=222.0
    )
    planned = plan_bone(task(make_leg, bends=(), choice=choice))
    assert planned.plan is not None
    assert "second-osteotomy-corrects-nothing" in ids(planned)
