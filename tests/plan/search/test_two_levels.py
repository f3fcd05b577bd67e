"""A bone that is cut twice: the level that is only corrected stays, the rest is searched."""

import pytest

from limbwright.implant.catalogue import Catalogue
from limbwright.implant.nail import Direction, Hole, HoleDirection, Nail, NailEnd
from limbwright.limb.anatomy import SIDES_OF_A_CUT, Bone, Projection
from limbwright.limb.reading import Measure
from limbwright.plan.leg import leg_model
from limbwright.plan.planner import BoneTask
from limbwright.plan.reduction import lengthening_of, reductions_of
from limbwright.plan.search.line import canals_of_plan
from limbwright.plan.situation import Angulation, BoneSituation
from limbwright.plan.uncertainty.chain import BoneEnd, end_values

TARGETS = {Measure.MPTA: 87.0, Measure.LDTA: 89.0}
APEXES = (
    Angulation(below_joint_mm=120, frontal_deg=-9, sagittal_deg=5),
    Angulation(below_joint_mm=222, frontal_deg=8, sagittal_deg=-4),
)
HOLES = tuple(
    Hole(end=end, distance_mm=mm, direction=way, screw_diameter_mm=5)
    for end, mm, way in (
        (NailEnd.THICK, 15, HoleDirection.MEDIOLATERAL),
        (NailEnd.THICK, 30, HoleDirection.ANTEROPOSTERIOR),
        (NailEnd.THIN, 12, HoleDirection.MEDIOLATERAL),
        (NailEnd.THIN, 25, HoleDirection.ANTEROPOSTERIOR),
    )
)


def nail(length: int, thick_mm: float) -> Nail:
    return Nail(
        name=f"N{thick_mm:g}/{length}",
        bone=Bone.TIBIA,
        direction=Direction.ANTEGRADE,
        thick_diameter_mm=thick_mm,
        thin_diameter_mm=8,
        length_mm=length,
        stroke_mm=60,
        exposed_thin_mm=30,
        elastic_modulus_gpa=110,
        bend_deg=10,
        bend_depth_mm=40,
        holes=HOLES,
    )


@pytest.fixture(scope="module")
def task(make_leg) -> BoneTask:  # type: ignore[no-untyped-def]
    leg = make_leg()
    for apex in APEXES[::-1]:
        leg.deformed(Bone.TIBIA, -apex.below_joint_mm, varus=apex.frontal_deg, procurvatum=apex.sagittal_deg)
    return BoneTask(
        leg=leg_model(leg.view(Projection.FRONTAL), leg.view(Projection.SAGITTAL)),
        direction=Direction.ANTEGRADE,
        lengthening_mm=30,
        situation=BoneSituation(bone=Bone.TIBIA, length_mm=359, short_mm=30, angulations=APEXES),
        targets=TARGETS,
        catalogue=Catalogue(
            title="invented",
            nails=tuple(nail(length, mm) for mm in (9.5, 10.7) for length in range(215, 360, 20)),
        ),
    )


@pytest.fixture(scope="module")
def bone(task, planned):  # type: ignore[no-untyped-def]
    return planned(task)


@pytest.fixture(scope="module")
def found(task, search):  # type: ignore[no-untyped-def]
    return search(task)


def test_the_second_level_stays_and_both_turns_end_on_target(task, bone, found) -> None:
    second = bone.plan.second
    assert second is not None
    assert found.candidates
    for candidate in found.candidates:
        (c,) = candidate.bones
        assert c.plan.second is not None
        assert c.plan.second.osteotomy.below_joint_mm == pytest.approx(
            second.osteotomy.below_joint_mm, abs=1.5
        )
        assert c.line.words() == "best fit"
        assert c.proposed.nail is not None
        assert c.proposed.nail.fits
        assert [r.lengthens for r in reductions_of(c.plan)].count(True) == 1
        ends = end_values(task.leg, [BoneEnd(plan=c.plan)], (Measure.MPTA, Measure.LDTA))
        assert ends == pytest.approx([87.0, 89.0], abs=0.01)


def test_the_lengthened_level_keeps_its_side_and_its_distance(task, bone, found) -> None:
    upper = bone.plan.osteotomy.below_joint_mm < bone.plan.second.osteotomy.below_joint_mm
    for candidate in found.candidates:
        plan = candidate.bones[0].plan
        assert (plan.osteotomy.below_joint_mm < plan.second.osteotomy.below_joint_mm) is upper
        assert plan.middle_length_mm >= task.profile.middle_fragment_min_mm - 1.5


def test_the_plan_in_force_is_weighed_with_both_cuts(bone, found) -> None:
    (reference,) = found.reference.bones
    assert reference.plan == bone.plan
    assert reference.drift is not None
    assert 0 <= reference.parts.contact_lost_percent < 100


def test_canals_of_a_plan_with_two_cuts_are_those_of_its_proposal(task, bone) -> None:
    mine = canals_of_plan(task.leg, bone.plan)
    assert {c.fragment for c in mine} == set(SIDES_OF_A_CUT)
    theirs = {(c.fragment, c.projection): c for c in bone.proposed.canals}
    assert lengthening_of(bone.plan).lengthens
    for canal in mine:
        other = theirs[(canal.fragment, canal.projection)]
        depths = other.depths_mm(30.0, 280.0)
        assert canal.width_mm(depths) == pytest.approx(other.width_mm(depths), abs=0.3)


def test_a_candidate_says_what_two_cuts_mean(found) -> None:
    for candidate in found.candidates:
        ids = {f.id for f in candidate.bones[0].proposed.findings}
        assert {"second-osteotomy-not-forecast", "middle-fragment-hold"} <= ids
