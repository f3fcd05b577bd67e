from dataclasses import replace

import pytest

from limbwright.implant.catalogue import Catalogue
from limbwright.implant.nail import Direction, Hole, HoleDirection, Nail, NailEnd
from limbwright.limb.anatomy import Bone, Fragment, Projection, Side
from limbwright.limb.reading import Measure
from limbwright.limb.view import Border, Surface
from limbwright.plan.circumstances import (
    BoneQuality,
    Examination,
    HardwareKind,
    StandingHardware,
    Zone,
    ZoneQuality,
)
from limbwright.plan.decision import Plan
from limbwright.plan.goal import Approach, BoneChoice
from limbwright.plan.leg import leg_model
from limbwright.plan.outlook import outlook
from limbwright.plan.planner import BoneTask, plan_bone
from limbwright.plan.situation import Angulation, BoneSituation
from limbwright.plan.stage import StageName
from limbwright.practice.profile import Profile

TARGETS = {Measure.MPTA: 87.0, Measure.LDTA: 89.0, Measure.MLDFA: 88.0}


def nails(bone: Bone, direction: Direction) -> tuple[Nail, ...]:
    """Invented nails in 30 mm steps."""
    holes = tuple(
        Hole(end=end, distance_mm=mm, direction=way, screw_diameter_mm=5)
        for end, mm, way in (
            (NailEnd.THICK, 20, HoleDirection.MEDIOLATERAL),
            (NailEnd.THICK, 35, HoleDirection.ANTEROPOSTERIOR),
            (NailEnd.THIN, 20, HoleDirection.ANTEROPOSTERIOR),
            (NailEnd.THIN, 8, HoleDirection.MEDIOLATERAL),
        )
    )
    return tuple(
        Nail(
            name=f"{bone}-{direction}-{diameter:g}/{length}",
            bone=bone,
            direction=direction,
            thick_diameter_mm=diameter,
            thin_diameter_mm=diameter - 2.7,
            length_mm=length,
            stroke_mm=50,
            exposed_thin_mm=30,
            holes=holes,
            elastic_modulus_gpa=110,
        )
        for diameter in (8.5, 10.7)
        for length in (245, 275, 305, 335)
    )


CATALOGUE = Catalogue(
    title="invented",
    nails=nails(Bone.TIBIA, Direction.ANTEGRADE)
    + nails(Bone.FEMUR, Direction.ANTEGRADE)
    + nails(Bone.FEMUR, Direction.RETROGRADE),
)


def task(leg, *, bone=Bone.TIBIA, side=Side.RIGHT, sagittal=True, walls=True, **changes):  # type: ignore[no-untyped-def]
    made = leg_model(
        leg.view(Projection.FRONTAL, side, walls=walls),
        leg.view(Projection.SAGITTAL, side, walls=walls) if sagittal else None,
    )
    standard = BoneTask(
        leg=made,
        direction=Direction.ANTEGRADE,
        lengthening_mm=35,
        situation=BoneSituation(bone=bone, length_mm=360, short_mm=35),
        targets=TARGETS,
        catalogue=CATALOGUE,
    )
    return replace(standard, **changes)


BENT = BoneSituation(
    bone=Bone.TIBIA,
    length_mm=356,
    short_mm=35,
    angulations=(Angulation(below_joint_mm=120, frontal_deg=-12, sagittal_deg=8),),
)


def bent(make_leg):  # type: ignore[no-untyped-def]
    return make_leg().deformed(Bone.TIBIA, -120, varus=-12, procurvatum=8)


def ids(planned) -> set[str]:  # type: ignore[no-untyped-def]
    return {f.id for f in planned.findings}


def test_a_bent_short_tibia_gets_a_plan_that_ends_on_target(make_leg) -> None:
    asked = task(bent(make_leg), situation=BENT)
    planned = plan_bone(asked)
    assert planned.plan is not None
    assert planned.plan.osteotomy.off_apex_mm == pytest.approx(0, abs=3)
    assert planned.plan.approach is Approach.SUPRAPATELLAR
    assert planned.nail.fits
    assert len(planned.runners_up) == 1
    assert planned.plan.nail.length_mm < planned.runners_up[0].nail.length_mm
    assert {r.split(":")[0].split(" ")[0] for r in planned.reasons} == {
        "Aims",
        "One",
        "Osteotomy",
        "Nail",
    }
    assert planned.off_apex[4].translation_mm == 0
    end = outlook(
        asked.leg,
        None,
        Plan(side=Side.RIGHT, bones=(planned.plan,), staging=None, steps=(), findings=()),
        Profile(),
        age_years=30,
    ).stage(StageName.FULL_LENGTH)
    assert end.value(Measure.MPTA) == pytest.approx(87.0, abs=1e-3)
    assert end.value(Measure.TIBIA_LENGTH) == pytest.approx(395, abs=1.0)


def test_the_same_leg_on_the_other_side_gets_the_same_plan(make_leg) -> None:
    right = plan_bone(task(bent(make_leg), situation=BENT))
    left = plan_bone(task(bent(make_leg), situation=BENT, side=Side.LEFT))
    assert left.plan == right.plan
    assert left.findings == right.findings


def test_it_is_deterministic(make_leg) -> None:
    asked = task(bent(make_leg), situation=BENT)
    assert plan_bone(asked) == plan_bone(asked)


def test_blocking_screws_stand_lateral_and_posterior_in_a_tibia(make_leg) -> None:
    planned = plan_bone(task(bent(make_leg), situation=BENT))
    assert {s.side for s in planned.plan.blocking_screws} <= {Border.LATERAL, Border.POSTERIOR}
    assert planned.plan.blocking_screws


def test_a_retrograde_femur_is_planned_from_the_knee(make_leg) -> None:
    leg = make_leg().deformed(Bone.FEMUR, 100, varus=10)
    situation = BoneSituation(
        bone=Bone.FEMUR,
        length_mm=429,
        short_mm=45,
        angulations=(Angulation(below_joint_mm=330, frontal_deg=10),),
    )
    planned = plan_bone(task(leg, situation=situation, direction=Direction.RETROGRADE))
    assert planned.plan.approach is Approach.RETROGRADE
    # Sunk 3 mm, counted from the knee.
    assert planned.plan.osteotomy.depth_mm == pytest.approx(
        planned.plan.osteotomy.above_distal_joint_mm - 3, abs=3
    )
    assert {s.fragment for s in planned.plan.blocking_screws} <= set(Fragment)


def test_without_walls_the_plan_says_what_it_does_not_know(make_leg) -> None:
    planned = plan_bone(task(bent(make_leg), situation=BENT, walls=False))
    assert planned.plan is not None
    assert planned.plan.blocking_screws == ()
    assert planned.off_apex == ()
    assert [f.id for f in planned.findings].count("canal-not-traced") == 2
    drift = next(f for f in planned.findings if f.id == "drift-expected")
    assert "the canal is not traced" in drift.words
    assert "canal-not-traced" not in ids(plan_bone(task(bent(make_leg), situation=BENT)))


def test_one_traced_plane_is_used_and_the_other_named(make_leg) -> None:
    leg = bent(make_leg)
    leg.walls = [w for w in leg.walls if w[0] is Projection.FRONTAL or w[2] is Surface.OUTER]
    planned = plan_bone(task(leg, situation=BENT))
    assert [f.id for f in planned.findings].count("canal-not-traced") == 1
    assert {s.side for s in planned.plan.blocking_screws} <= {Border.LATERAL}


def test_no_nail_that_fits_stops_the_plan_with_the_reasons(make_leg) -> None:
    planned = plan_bone(task(make_leg(), lengthening_mm=60))
    assert planned.plan is None
    assert ids(planned) == {"no-nail-fits"}
    assert "stroke too small (8)" in planned.findings[0].words
    empty = plan_bone(task(make_leg(), catalogue=Catalogue(title="empty")))
    assert "it has none for this bone" in empty.findings[0].words


def test_the_surgeons_level_and_nail_are_kept_and_judged(make_leg) -> None:
    name = "tibia-antegrade-8.5/305"
    choice = BoneChoice(
        bone=Bone.TIBIA, osteotomy_below_joint_mm=140, nail=name, approach=Approach.INFRAPATELLAR
    )
    planned = plan_bone(task(make_leg(), choice=choice))
    assert planned.plan.osteotomy.below_joint_mm == pytest.approx(140)
    assert planned.plan.nail.name == name
    assert planned.plan.approach is Approach.INFRAPATELLAR
    assert "chosen-level-outside-limits" not in ids(planned)
    assert "chosen-nail-unfit" not in ids(planned)
    low = replace(choice, osteotomy_below_joint_mm=320)
    wrong = plan_bone(task(make_leg(), choice=low))
    assert {"chosen-level-outside-limits", "chosen-nail-unfit"} <= ids(wrong)
    assert wrong.plan is not None


def test_a_bone_that_may_be_cut_nowhere_stops_the_plan(make_leg) -> None:
    infected = Examination(
        bone_quality=tuple(
            ZoneQuality(bone=Bone.TIBIA, zone=zone, quality=BoneQuality.INFECTED_BEFORE) for zone in Zone
        )
    )
    planned = plan_bone(task(make_leg(), examination=infected))
    assert planned.plan is None
    assert ids(planned) == {"no-osteotomy-level"}


def stem(from_mm: float, to_mm: float) -> Examination:
    return Examination(
        hardware=(
            StandingHardware(
                kind=HardwareKind.JOINT_REPLACEMENT_STEM,
                bone=Bone.TIBIA,
                from_mm=from_mm,
                to_mm=to_mm,
                in_canal=True,
            ),
        )
    )


def test_hardware_closes_the_entry_or_shortens_the_room(make_leg) -> None:
    closed = plan_bone(task(make_leg(), examination=stem(0, 60)))
    assert closed.plan is None
    assert "nail-entry-blocked" in ids(closed)
    free = plan_bone(task(make_leg()))
    short = plan_bone(task(make_leg(), examination=stem(300, 350)))
    assert free.nail.number("greatest length") == pytest.approx(343, abs=3)
    assert short.nail.number("greatest length") == pytest.approx(283, abs=3)
    femur = BoneSituation(bone=Bone.FEMUR, length_mm=430, short_mm=35)
    hip = replace(stem(0, 120).hardware[0], bone=Bone.FEMUR)
    retrograde = plan_bone(
        task(
            make_leg(),
            situation=femur,
            direction=Direction.RETROGRADE,
            examination=Examination(hardware=(hip,)),
        )
    )
    assert retrograde.nail.number("greatest length") == pytest.approx(430 - 120 - 15 - 3, abs=4)


def test_play_beyond_the_limit_is_a_caution(make_leg) -> None:
    note = plan_bone(task(make_leg(), profile=Profile(blocking_screws_max=4)))
    caution = plan_bone(task(make_leg(), profile=Profile(blocking_screws_max=0)))
    severities = {
        name: next(f.severity for f in planned.findings if f.id == "drift-expected")
        for name, planned in (("with", note), ("without", caution))
    }
    assert severities == {"with": "note", "without": "caution"}


def test_a_left_alone_bone_keeps_its_alignment(make_leg) -> None:
    planned = plan_bone(task(bent(make_leg), situation=BENT, correct_alignment=False, lengthening_mm=30))
    assert "Only length is wanted" in planned.reasons[0]


def test_a_tibia_on_films_of_its_own_can_be_planned(make_leg) -> None:
    asked = task(bent(make_leg), situation=BENT)
    keep = {k for k in asked.leg.frontal if not k.startswith(("fem", "great", "medial_fem", "lateral_fem"))}
    alone = replace(
        asked.leg,
        frontal={k: v for k, v in asked.leg.frontal.items() if k in keep},
        sagittal={k: v for k, v in asked.leg.sagittal.items() if not k.startswith(("fem", "distal_fem"))},
        walls=tuple(w for w in asked.leg.walls if w.bone is Bone.TIBIA),
    )
    assert plan_bone(replace(asked, leg=alone)).plan == plan_bone(asked).plan


def test_a_target_that_contradicts_the_angulation_is_pointed_out(make_leg) -> None:
    agreeing = plan_bone(task(bent(make_leg), situation=BENT))
    assert "turn-disagrees-with-angulation" not in ids(agreeing)
    contradicting = plan_bone(task(bent(make_leg), situation=BENT, targets={Measure.MPTA: 94.0}))
    assert "turn-disagrees-with-angulation" in ids(contradicting)
