from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.error import OutOfRange
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
from limbwright.plan.goal import Approach
from limbwright.plan.theatre import TheatreMark, fragments, level_scale, theatre_marks

HOLES = (
    Hole(end=NailEnd.THICK, distance_mm=20, direction=HoleDirection.MEDIOLATERAL, screw_diameter_mm=4.5),
    Hole(end=NailEnd.THIN, distance_mm=15, direction=HoleDirection.ANTEROPOSTERIOR, screw_diameter_mm=4.0),
)
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
    holes=HOLES,
)


def line(fragment: Fragment, top: float, bottom: float) -> FragmentPath:
    return FragmentPath(
        fragment=fragment,
        upper=Place(anterior_mm=0, proximal_mm=top, lateral_mm=0),
        lower=Place(anterior_mm=0, proximal_mm=bottom, lateral_mm=0),
    )


PATH = NailPath(
    entry=Place(anterior_mm=0, proximal_mm=-10, lateral_mm=0),
    proximal=line(Fragment.PROXIMAL, -10, -120),
    distal=line(Fragment.DISTAL, -120, -255),
)
PLAN = BonePlan(
    bone=Bone.TIBIA,
    direction=Direction.ANTEGRADE,
    approach=Approach.SUPRAPATELLAR,
    lengthening_mm=40,
    osteotomy=Osteotomy(
        bone=Bone.TIBIA, depth_mm=110, below_joint_mm=120, above_distal_joint_mm=230, off_apex_mm=None
    ),
    path=PATH,
    rotation_correction_deg=0.0,
    nail=NAIL,
    reamer_mm=12.7,
    blocking_screws=(
        BlockingScrew(
            fragment=Fragment.PROXIMAL,
            side=Border.LATERAL,
            direction=ScrewDirection.ANTEROPOSTERIOR,
            depth_mm=90,
            from_osteotomy_mm=20,
            offset_mm=8.35,
            diameter_mm=5,
            drill_mm=4.2,
        ),
    ),
    fibula=FibularFixation(
        osteotomy_above_ankle_mm=118,
        proximal_screw_below_plateau_mm=20,
        distal_screw_above_plafond_mm=35,
        screw_diameter_mm=4.5,
        cortices=4,
    ),
    pins=(
        Pin(
            role=PinRole.HOLD_PROXIMAL,
            bone=Bone.TIBIA,
            fragment=Fragment.PROXIMAL,
            below_joint_mm=25,
            nail_side="posterior to the nail",
            clearance_mm=20,
            diameter_mm=5,
        ),
    ),
    calf_release=None,
)
FEMUR = replace(
    PLAN,
    bone=Bone.FEMUR,
    direction=Direction.RETROGRADE,
    approach=Approach.RETROGRADE,
    osteotomy=Osteotomy(
        bone=Bone.FEMUR, depth_mm=110, below_joint_mm=310, above_distal_joint_mm=120, off_apex_mm=None
    ),
    nail=replace(NAIL, bone=Bone.FEMUR, direction=Direction.RETROGRADE),
    blocking_screws=(),
    fibula=None,
    pins=(),
)


def marked(plan: BonePlan = PLAN, **extra: float) -> dict[str, TheatreMark]:
    return {mark.what: mark for mark in theatre_marks(plan, **extra)}


def test_levels_of_a_tibia_by_hand() -> None:
    marks = marked(malleolus_below_plafond_mm=18)
    expected = {
        "nail, entry end": (10, 340),
        "osteotomy of the tibia": (120, 230),
        "end of the thick part": (225, 125),
        "nail, tip": (255, 95),
        "blocking screw 1, proximal fragment, anteroposterior": (100, 250),
        "locking screw, thick end, mediolateral": (30, 320),
        "locking screw, thin end, anteroposterior": (240, 110),
        "proximal tibiofibular screw": (20, 330),
        "distal tibiofibular screw": (315, 35),
        "osteotomy of the fibula": (250, 100),
        "pin or marker: holds the proximal fragment, posterior to the nail": (25, 325),
    }
    assert {what: (m.from_proximal_mm, m.from_distal_mm) for what, m in marks.items()} == {
        what: pytest.approx(levels) for what, levels in expected.items()
    }


def test_marks_run_from_proximal_to_distal_and_name_their_references() -> None:
    marks = theatre_marks(PLAN)
    assert [m.from_proximal_mm for m in marks] == sorted(m.from_proximal_mm for m in marks)
    assert {(m.proximal_reference, m.distal_reference) for m in marks} == {("plateau", "plafond")}


def test_the_distance_that_stays_true_while_lengthening() -> None:
    marks = marked()
    assert marks["nail, tip"].stays_true_from == "plafond"
    assert marks["end of the thick part"].stays_true_from == "plateau"
    assert marks["locking screw, thin end, anteroposterior"].stays_true_from == "plafond"
    assert marks["proximal tibiofibular screw"].stays_true_from == "plateau"


def test_offsets_from_the_nail() -> None:
    screw = marked()["blocking screw 1, proximal fragment, anteroposterior"]
    assert (screw.offset_mm, screw.offset_side, screw.size_mm) == (8.35, "lateral", 5)
    assert marked()["osteotomy of the tibia"].offset_mm is None


def test_a_retrograde_femur_counts_from_the_other_end() -> None:
    marks = marked(FEMUR, trochanter_below_head_mm=-5)
    assert marks["nail, entry end"].from_distal_mm == pytest.approx(10)
    assert marks["nail, tip"].from_distal_mm == pytest.approx(255)
    # 430 mm from head centre to knee; the trochanter's tip lies 5 mm higher.
    assert marks["nail, tip"].from_proximal_mm == pytest.approx(430 - 255 + 5)
    assert marks["nail, tip"].proximal_reference == "tip of the greater trochanter"
    assert marks["nail, tip"].stays_true_from == "tip of the greater trochanter"
    assert marks["end of the thick part"].stays_true_from == "knee line"


@given(depth=st.floats(0, 245), trochanter=st.floats(-20, 20))
def test_both_distances_make_up_the_bone(depth: float, trochanter: float) -> None:
    for plan in (PLAN, FEMUR):
        scale = level_scale(plan, trochanter_below_head_mm=trochanter)
        mark = scale.mark("", scale.below_joint_mm(depth), fragment=Fragment.DISTAL)
        whole = scale.bone_length_mm - scale.reference_below_joint_mm
        assert mark.from_proximal_mm + mark.from_distal_mm == pytest.approx(whole)


def test_fragments_follow_the_driving_end() -> None:
    assert fragments(Direction.ANTEGRADE) == (Fragment.PROXIMAL, Fragment.DISTAL)
    assert fragments(Direction.RETROGRADE) == (Fragment.DISTAL, Fragment.PROXIMAL)


def test_an_impossible_bone_is_refused() -> None:
    broken = replace(PLAN, osteotomy=replace(PLAN.osteotomy, above_distal_joint_mm=900))
    with pytest.raises(OutOfRange, match="tibia length is 1020 mm"):
        theatre_marks(broken)
