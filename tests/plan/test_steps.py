import math
from dataclasses import replace

import pytest

from limbwright.error import Missing
from limbwright.implant.nail import Direction, Hole, HoleDirection, Nail, NailEnd
from limbwright.limb.anatomy import Bone, Fragment
from limbwright.limb.view import Border
from limbwright.plan.decision import (
    BlockingScrew,
    BonePlan,
    FibularFixation,
    FragmentPath,
    NailPath,
    Osteotomy,
    Pin,
    PinRole,
    Place,
    ScrewDirection,
)
from limbwright.plan.goal import Approach, Staging
from limbwright.plan.steps import Step, StepName, checklist, operation_steps

NAIL = Nail(
    name="invented 245",
    bone=Bone.TIBIA,
    direction=Direction.ANTEGRADE,
    thick_diameter_mm=10.7,
    thin_diameter_mm=8.0,
    length_mm=245,
    stroke_mm=50,
    exposed_thin_mm=30,
    elastic_modulus_gpa=114,
    holes=(
        Hole(end=NailEnd.THICK, distance_mm=20, direction=HoleDirection.MEDIOLATERAL, screw_diameter_mm=4.5),
        Hole(end=NailEnd.THIN, distance_mm=15, direction=HoleDirection.ANTEROPOSTERIOR, screw_diameter_mm=4),
    ),
)


def pin(role: PinRole, fragment: Fragment, level: float, side: str) -> Pin:
    return Pin(
        role=role,
        bone=Bone.TIBIA,
        fragment=fragment,
        below_joint_mm=level,
        nail_side=side,
        clearance_mm=12,
        diameter_mm=5,
    )


PINS = (
    pin(PinRole.HOLD_PROXIMAL, Fragment.PROXIMAL, 25, "posterior to the nail"),
    pin(PinRole.HOLD_DISTAL, Fragment.DISTAL, 310, "beyond the nail tip"),
    pin(PinRole.ROTATION_MARKER_PROXIMAL, Fragment.PROXIMAL, 33, "posterior to the nail"),
    pin(PinRole.ROTATION_MARKER_DISTAL, Fragment.DISTAL, 318, "beyond the nail tip"),
)
SCREW = BlockingScrew(
    fragment=Fragment.PROXIMAL,
    side=Border.LATERAL,
    direction=ScrewDirection.ANTEROPOSTERIOR,
    depth_mm=90,
    from_osteotomy_mm=20,
    offset_mm=8.4,
    diameter_mm=5,
    drill_mm=4.2,
)
FIBULA = FibularFixation(
    osteotomy_above_ankle_mm=118,
    proximal_screw_below_plateau_mm=20,
    distal_screw_above_plafond_mm=35,
    screw_diameter_mm=4.5,
    cortices=4,
)


def path(*, valgus_deg: float = 0.0, procurvatum_deg: float = 0.0, shift_mm: float = 0.0) -> NailPath:
    """Straight down in the proximal fragment; leaning in the distal one as its deformity does."""

    def place(anterior: float, proximal: float, lateral: float) -> Place:
        return Place(anterior_mm=anterior, proximal_mm=proximal, lateral_mm=lateral)

    down = 135.0
    return NailPath(
        entry=place(0, -10, 0),
        proximal=FragmentPath(fragment=Fragment.PROXIMAL, upper=place(0, -10, 0), lower=place(0, -120, 0)),
        distal=FragmentPath(
            fragment=Fragment.DISTAL,
            upper=place(0, -120, shift_mm),
            lower=place(
                -down * math.tan(math.radians(procurvatum_deg)),
                -120 - down,
                shift_mm + down * math.tan(math.radians(valgus_deg)),
            ),
        ),
    )


def plan(nail_path: NailPath | None = None, *, rotation: float = 0.0) -> BonePlan:
    return BonePlan(
        bone=Bone.TIBIA,
        direction=Direction.ANTEGRADE,
        approach=Approach.SUPRAPATELLAR,
        lengthening_mm=40,
        osteotomy=Osteotomy(
            bone=Bone.TIBIA, depth_mm=110, below_joint_mm=120, above_distal_joint_mm=230, off_apex_mm=0
        ),
        path=nail_path or path(valgus_deg=8),
        rotation_correction_deg=rotation,
        nail=NAIL,
        reamer_mm=12.7,
        blocking_screws=(SCREW,),
        fibula=FIBULA,
        pins=PINS,
        calf_release=None,
    )


def names(found: tuple[Step, ...]) -> list[StepName]:
    return [step.name for step in found]


def words(found: tuple[Step, ...], name: StepName) -> str:
    return " ".join(step.words for step in found if step.name is name)


def steps(*plans: BonePlan, staging: Staging | None = None) -> tuple[Step, ...]:
    return operation_steps(plans, staging=staging)


S = StepName


def test_the_order_with_a_correction() -> None:
    assert names(steps(plan())) == [
        S.POSITION,
        S.BLOCKING_SCREW,
        S.PIN,
        S.PIN,
        S.ROTATION_MARKER,
        S.ROTATION_MARKER,
        S.FIBULAR_OSTEOTOMY,
        S.DRILL_HOLES,
        S.ENTRY,
        S.REAM_DRIVING_FRAGMENT,
        S.OSTEOTOMY,
        S.CORRECT,
        S.HOLD,
        S.GUIDE_WIRE,
        S.REAM_CORRECTED,
        S.NAIL,
        S.LOCKING,
        S.FIBULAR_SCREW,
        S.FIBULAR_SCREW,
        S.REMOVE_PINS,
        S.FINAL_FILMS,
    ]


def test_without_a_correction_the_canal_is_reamed_before_the_cut() -> None:
    found = names(steps(plan(path())))
    assert S.CORRECT not in found
    assert found.index(S.REAM) < found.index(S.OSTEOTOMY) < found.index(S.HOLD) < found.index(S.NAIL)


def test_only_what_applies_is_listed() -> None:
    bare = replace(plan(path()), blocking_screws=(), pins=(), fibula=None)
    assert names(steps(bare)) == [
        S.POSITION,
        S.DRILL_HOLES,
        S.ENTRY,
        S.REAM,
        S.OSTEOTOMY,
        S.NAIL,
        S.LOCKING,
        S.FINAL_FILMS,
    ]


def test_a_calf_release_is_a_step_only_when_decided_for_the_operation() -> None:
    assert S.CALF_RELEASE in names(steps(replace(plan(), calf_release=True)))
    assert S.CALF_RELEASE not in names(steps(replace(plan(), calf_release=False)))
    assert S.CALF_RELEASE not in names(steps(plan()))


def test_steps_carry_the_numbers_of_the_plan() -> None:
    found = steps(plan())
    assert "drill 4.2 mm anteroposterior" in words(found, S.BLOCKING_SCREW)
    assert "lateral to the nail, axis 8.4 mm" in words(found, S.BLOCKING_SCREW)
    assert "100 mm below the plateau, 250 mm above the plafond" in words(found, S.BLOCKING_SCREW)
    assert "118 mm above the tip of the lateral malleolus" in words(found, S.FIBULAR_OSTEOTOMY)
    assert "120 mm below the plateau" in words(found, S.OSTEOTOMY)
    assert "up to 12.7 mm; above 11.8 mm the reamer touches blocking screw 1:" in words(
        found, S.REAM_DRIVING_FRAGMENT
    )
    assert "tip 95 mm above the plafond" in words(found, S.NAIL)
    assert "105 mm of the thick part pass the osteotomy, 65 mm are left" in words(found, S.NAIL)
    assert "distal 4 mm anteroposterior (240 mm below the plateau" in words(found, S.LOCKING)
    assert "20 mm below the plateau: solid, 4.5 mm, through 4 cortices" in words(found, S.FIBULAR_SCREW)
    assert "all 4 pins" in words(found, S.REMOVE_PINS)
    assert "10 to 30 degrees" in words(found, S.POSITION)


@pytest.mark.parametrize(
    ("nail_path", "expected"),
    [
        (path(valgus_deg=8), "take out 8.0 degrees of valgus"),
        (path(valgus_deg=-8), "take out 8.0 degrees of varus"),
        (path(procurvatum_deg=6), "take out 6.0 degrees of procurvatum"),
        (path(procurvatum_deg=-6), "take out 6.0 degrees of recurvatum"),
        (path(shift_mm=4), "shift by 4.0 mm"),
    ],
)
def test_the_correction_is_named_by_what_it_takes_out(nail_path: NailPath, expected: str) -> None:
    assert expected in words(steps(plan(nail_path)), S.CORRECT)


def test_rotation_does_not_change_the_angles_named() -> None:
    plain = words(steps(plan(path(valgus_deg=8, procurvatum_deg=5))), S.CORRECT)
    turned = words(steps(plan(path(valgus_deg=8, procurvatum_deg=5), rotation=20)), S.CORRECT)
    assert "8.0 degrees of valgus" in plain
    assert plain.rstrip(".") in turned


def test_a_reamer_that_passes_the_blocking_screws_is_not_warned_of() -> None:
    narrow = words(steps(replace(plan(), reamer_mm=11.7)), S.REAM_DRIVING_FRAGMENT)
    assert "blocking" not in narrow
    below = replace(SCREW, fragment=Fragment.DISTAL)
    three = steps(replace(plan(), blocking_screws=(SCREW, below, replace(below, offset_mm=8))))
    assert "blocking screw 1: back it out" in words(three, S.REAM_DRIVING_FRAGMENT)
    assert "above 11.0 mm the reamer touches blocking screws 2 and 3: back them" in words(
        three, S.REAM_CORRECTED
    )


def test_rotation_sets_the_angle_between_the_markers() -> None:
    found = steps(plan(path(), rotation=-15))
    assert "turn the distal fragment internal by 15 degrees" in words(found, S.CORRECT)
    markers = words(found, S.ROTATION_MARKER)
    assert markers.count("to the other marker") == 1
    assert "15 degrees external to the other marker" in markers
    kept = words(steps(plan()), S.ROTATION_MARKER)
    assert "parallel to the other marker: rotation is kept" in kept


def test_a_retrograde_femur_reams_the_distal_fragment_first() -> None:
    femur = replace(
        plan(path(valgus_deg=8)),
        bone=Bone.FEMUR,
        direction=Direction.RETROGRADE,
        approach=Approach.RETROGRADE,
        nail=replace(NAIL, bone=Bone.FEMUR, direction=Direction.RETROGRADE),
        osteotomy=Osteotomy(
            bone=Bone.FEMUR, depth_mm=100, below_joint_mm=310, above_distal_joint_mm=120, off_apex_mm=0
        ),
        path=replace(path(valgus_deg=8), entry=Place(anterior_mm=0, proximal_mm=-255, lateral_mm=18.97)),
        blocking_screws=(),
        pins=(),
        fibula=None,
    )
    found = steps(femur)
    assert "Ream the distal fragment up to the osteotomy" in words(found, S.REAM_DRIVING_FRAGMENT)
    assert "Ream the proximal fragment" in words(found, S.REAM_CORRECTED)
    assert "below the tip of the greater trochanter" in words(found, S.NAIL)
    assert "by hand or with clamps" in words(found, S.HOLD)


def test_two_bones_are_one_operation_or_two() -> None:
    together = steps(plan(), plan(), staging=Staging.SIMULTANEOUS)
    staged = steps(plan(), plan(), staging=Staging.STAGED)
    assert {s.operation for s in together} == {1}
    assert [s.operation for s in staged] == sorted(s.operation for s in staged)
    assert {s.operation for s in staged} == {1, 2}


def test_the_checklist_is_numbered_and_names_bone_and_operation_where_needed() -> None:
    one = checklist(steps(plan()))
    assert one[0].startswith("1. Position")
    assert [int(line.split(".")[0]) for line in one] == list(range(1, len(one) + 1))
    femur = replace(plan(path()), bone=Bone.FEMUR, fibula=None, approach=Approach.TROCHANTERIC)
    lines = checklist(steps(plan(), femur, staging=Staging.STAGED))
    assert lines[0].startswith("1. operation 1, tibia: ")
    assert lines[-1].startswith(f"{len(lines)}. operation 2, femur: ")


def test_a_nail_without_listed_holes_says_so() -> None:
    bare = replace(plan(), nail=replace(NAIL, holes=()))
    assert "follow its own guide" in words(steps(bare), S.LOCKING)


def test_courses_of_the_fibular_screws_are_added() -> None:
    found = operation_steps((plan(),), staging=None, fibular_courses=("from behind", "held, not squeezed"))
    texts = [s.words for s in found if s.name is S.FIBULAR_SCREW]
    assert texts[0].endswith("oblique; from behind.")
    assert texts[1].endswith("oblique; held, not squeezed.")


def test_no_bone_has_no_steps() -> None:
    with pytest.raises(Missing, match="the plan has no bone"):
        steps()
