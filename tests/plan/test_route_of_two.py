"""Two osteotomies of one bone: straightened to its targets, mirrored, one level when the other is idle."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.error import Missing, OutOfRange, Refused
from limbwright.implant.nail import Direction, Nail
from limbwright.limb.anatomy import Bone, Fragment, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.reading import Measure
from limbwright.plan.correction import Correction
from limbwright.plan.decision import BonePlan, MiddleHold, Osteotomy, SecondOsteotomy
from limbwright.plan.drift import Drift
from limbwright.plan.end_alignment import Aim, bone_progress, measure_value, moved_leg
from limbwright.plan.goal import Approach
from limbwright.plan.leg import LegModel, leg_model
from limbwright.plan.path import distal_direction, point_at_depth, vector
from limbwright.plan.reduction import cuts_of, lengthening_of, reduction_of, reductions_of
from limbwright.plan.route import Route, canals_on, route_at
from limbwright.plan.route_of_two import route_of_two

NOTHING = Correction(
    frontal=Aim(),
    sagittal=Aim(),
    external_deg=0.0,
    size_deg=0.0,
    apex_below_joint_mm=None,
    needed=False,
    reason="",
)
WAYS = [
    (bone, direction, upper)
    for bone, direction in (
        (Bone.TIBIA, Direction.ANTEGRADE),
        (Bone.FEMUR, Direction.ANTEGRADE),
        (Bone.FEMUR, Direction.RETROGRADE),
    )
    for upper in (True, False)
]
# Between the pairs of shaft points: heights above the knee, and levels below the proximal joint.
BENDS = {Bone.TIBIA: (-147.0, -217.0), Bone.FEMUR: (270.0, 175.0)}
LEVELS = {Bone.TIBIA: (147.0, 217.0), Bone.FEMUR: (160.0, 255.0)}
AIMS = {
    Bone.TIBIA: ((Measure.MPTA, 87.0), (Measure.LDTA, 89.0)),
    Bone.FEMUR: ((Measure.MLPFA, 90.0), (Measure.MLDFA, 88.0)),
}


def twice_bent(make_leg, bone, first, second, side=Side.RIGHT, *, sagittal=True):  # type: ignore[no-untyped-def]
    """A bone bent at two levels; the lower bend is made first, so that the upper one carries it."""
    leg = make_leg()
    for level, (varus, procurvatum) in zip(BENDS[bone][::-1], (second, first), strict=True):
        leg.deformed(bone, level, varus=varus, procurvatum=procurvatum)
    return leg_model(
        leg.view(Projection.FRONTAL, side), leg.view(Projection.SAGITTAL, side) if sagittal else None
    )


def undo(turns, bone, *, aims=True) -> tuple[Correction, Correction]:  # type: ignore[no-untyped-def]
    """Corrections of both bends: the joint angle beside each in the frontal plane, a plain turn elsewhere."""
    upper, lower = (
        replace(
            NOTHING,
            frontal=Aim(measure=aim[0], value=aim[1], turn_deg=-varus) if aims else Aim(turn_deg=-varus),
            sagittal=Aim(turn_deg=-procurvatum),
            apex_below_joint_mm=level,
            needed=True,
        )
        for (varus, procurvatum), aim, level in zip(turns, AIMS[bone], LEVELS[bone], strict=True)
    )
    return upper, lower


def nail(bone: Bone, direction: Direction) -> Nail:
    return Nail(
        name="demo",
        bone=bone,
        direction=direction,
        thick_diameter_mm=10.7,
        thin_diameter_mm=8,
        length_mm=335,
        stroke_mm=60,
        exposed_thin_mm=30,
        elastic_modulus_gpa=110,
    )


def planned(route: Route) -> BonePlan:
    """The written plan of a route, as the planner writes it."""
    made = nail(route.bone, route.direction)
    depth = route.osteotomy_depth_mm(made, 3.0)

    def osteotomy(depth_mm: float) -> Osteotomy:
        return Osteotomy(
            bone=route.bone,
            depth_mm=depth_mm,
            below_joint_mm=120,
            above_distal_joint_mm=240,
            off_apex_mm=None,
        )

    return BonePlan(
        bone=route.bone,
        direction=route.direction,
        approach=Approach.SUPRAPATELLAR,
        lengthening_mm=40,
        osteotomy=osteotomy(depth),
        path=route.path_of(made, 3.0),
        rotation_correction_deg=route.rotation_correction_deg,
        nail=made,
        reamer_mm=12.7,
        blocking_screws=(),
        fibula=None,
        pins=(),
        calf_release=None,
        second=None
        if route.second is None
        else SecondOsteotomy(
            osteotomy=osteotomy(depth + route.second.deeper_mm),
            rotation_correction_deg=route.second.rotation_correction_deg,
            hold=MiddleHold.PLATE,
        ),
    )


def full_length(made: LegModel, plan: BonePlan, **kwargs) -> LegModel:  # type: ignore[no-untyped-def]
    return moved_leg(made, bone_progress(reductions_of(plan), plan.lengthening_mm, **kwargs))


def route(  # type: ignore[no-untyped-def]
    made, bone, direction, corrections, upper, *, levels=None
) -> Route:
    return route_of_two(
        made,
        bone=bone,
        direction=direction,
        below_joint_mm=levels or LEVELS[bone],
        corrections=corrections,
        upper_lengthens=upper,
        lengthening_mm=40,
    )


@pytest.mark.parametrize(("bone", "direction", "upper"), WAYS)
def test_both_joint_angles_end_at_their_targets(make_leg, bone, direction, upper) -> None:
    bends = ((-9.0, 5.0), (8.0, -4.0))
    made = twice_bent(make_leg, bone, *bends)
    plan = planned(route(made, bone, direction, undo(bends, bone), upper))
    end = full_length(made, plan)
    for measure, value in AIMS[bone]:
        assert measure_value(end.view(Projection.FRONTAL), measure) == pytest.approx(value, abs=1e-4)
    # One straight line: every point of the three written lines lies on the nail once corrected.
    corrected = moved_leg(made, bone_progress(reductions_of(plan), 0.0))
    reduced = reductions_of(plan)
    u = distal_direction(plan.path.proximal)
    start = vector(plan.path.proximal.upper)
    middle, distal = reduced[0].motion, reduced[1].motion.then(reduced[0].motion)
    for motion, path in ((middle, plan.path.middle), (distal, plan.path.distal)):
        for point in (path.upper, path.lower):
            assert np.cross(motion.moved(vector(point)) - start, u) == pytest.approx([0, 0, 0], abs=1e-6)
    # Lengthening slides the far joint along the nail, and nothing else.
    centre = Landmark.ANKLE_CENTRE if bone is Bone.TIBIA else Landmark.FEMUR_KNEE_CENTRE
    assert end.place_mm(centre) - corrected.place_mm(centre) == pytest.approx(40 * u, abs=1e-6)


@settings(max_examples=12, deadline=None)
@given(bends=st.tuples(*[st.tuples(st.floats(-9, 9), st.floats(-6, 6))] * 2))
def test_two_cuts_at_the_apexes_make_the_bone_what_it_was(make_leg, bends) -> None:
    """Plain turns that undo both bends bring every joint angle and the length back, the gain aside."""
    made = twice_bent(make_leg, Bone.TIBIA, *bends)
    plan = planned(
        route(made, Bone.TIBIA, Direction.ANTEGRADE, undo(bends, Bone.TIBIA, aims=False), upper=True)
    )
    straight = leg_model(make_leg().view(Projection.FRONTAL), make_leg().view(Projection.SAGITTAL))
    end = full_length(made, plan)
    # A landmark that one film shows has its depth from the axis on the other: the sagittal plane is rougher.
    for projection, measures, off_deg in (
        (Projection.FRONTAL, (Measure.MPTA, Measure.LDTA), 0.1),
        (Projection.SAGITTAL, (Measure.PPTA, Measure.ADTA), 0.6),
    ):
        for measure in measures:
            wanted = measure_value(straight.view(projection), measure)
            assert measure_value(end.view(projection), measure) == pytest.approx(wanted, abs=off_deg)
    length = measure_value(end.view(Projection.FRONTAL), Measure.TIBIA_LENGTH)
    assert length == pytest.approx(400, abs=0.3)


@pytest.mark.parametrize("idle", [0, 1])
def test_a_level_that_corrects_nothing_leaves_the_plan_of_one_level(make_leg, idle) -> None:
    bends = [(0.0, 0.0), (0.0, 0.0)]
    bends[1 - idle] = (-9.0, 5.0)
    made = twice_bent(make_leg, Bone.TIBIA, *bends)
    corrections = list(undo(bends, Bone.TIBIA))
    corrections[idle] = NOTHING
    two = planned(
        route(made, Bone.TIBIA, Direction.ANTEGRADE, (corrections[0], corrections[1]), upper=idle == 1)
    )
    one = planned(
        route_at(
            made,
            bone=Bone.TIBIA,
            direction=Direction.ANTEGRADE,
            below_joint_mm=LEVELS[Bone.TIBIA][1 - idle],
            correction=corrections[1 - idle],
            lengthening_mm=40,
            beyond_cut_mm=1000,
        )
    )
    ends = [full_length(made, plan).place_mm(Landmark.ANKLE_CENTRE) for plan in (one, two)]
    assert ends[0] == pytest.approx(ends[1], abs=0.05)  # the canal is sampled at other levels, no more
    idle_turn = reductions_of(two)[idle].motion
    assert idle_turn.angle_deg() < 1e-6
    assert np.linalg.norm(idle_turn.translation_mm) < 1e-6


def test_the_same_leg_on_the_other_side_takes_the_same_way(make_leg) -> None:
    bends = ((-9.0, 5.0), (8.0, -4.0))
    routes = [
        route(
            twice_bent(make_leg, Bone.FEMUR, *bends, side=side),
            Bone.FEMUR,
            Direction.RETROGRADE,
            undo(bends, Bone.FEMUR),
            upper=True,
        )
        for side in Side
    ]
    assert routes[0] == routes[1]


@pytest.mark.parametrize(("bone", "direction", "upper"), WAYS)
def test_the_cuts_of_a_plan_are_those_of_its_route(make_leg, bone, direction, upper) -> None:
    bends = ((-9.0, 5.0), (8.0, -4.0))
    made = twice_bent(make_leg, bone, *bends)
    drawn = route(made, bone, direction, undo(bends, bone), upper)
    plan = planned(drawn)
    for written, found in zip(cuts_of(plan), drawn.cuts(), strict=True):
        assert written.normal == pytest.approx(found.normal, abs=1e-9)
        assert float(written.height_mm(np.array(found.point_mm))) == pytest.approx(0, abs=1e-6)
    assert lengthening_of(plan).cut.height_mm(np.array(drawn.cut.point_mm)) == pytest.approx(0, abs=1e-6)
    assert (plan.middle_side is Fragment.DISTAL) is upper
    assert plan.middle_length_mm == pytest.approx(abs(drawn.second.deeper_mm))
    near, far = sorted((plan.osteotomy.depth_mm, plan.second.osteotomy.depth_mm))
    # The nail's end is sunk 3 mm below the surface it enters through.
    from_surface = point_at_depth(plan.path, direction, 0.0) - np.array(drawn.surface_mm)
    assert np.linalg.norm(from_surface) == pytest.approx(3.0, abs=1e-6)
    assert far - near == pytest.approx(plan.middle_length_mm)


def test_canals_run_on_along_the_nail_through_all_three_fragments(make_leg) -> None:
    bends = ((-9.0, 5.0), (8.0, -4.0))
    made = twice_bent(make_leg, Bone.TIBIA, *bends)
    drawn = route(made, Bone.TIBIA, Direction.ANTEGRADE, undo(bends, Bone.TIBIA), upper=False)
    canals = canals_on(made, drawn, 215.0)
    assert {(c.fragment, c.projection) for c in canals} == {(f, p) for f in Fragment for p in Projection}
    by_fragment = {c.fragment: c.inner.depth_mm for c in canals if c.projection is Projection.FRONTAL}
    assert by_fragment[Fragment.PROXIMAL][-1] == pytest.approx(by_fragment[Fragment.MIDDLE][0], abs=2.5)
    assert by_fragment[Fragment.MIDDLE][-1] == pytest.approx(215, abs=2.5)
    assert by_fragment[Fragment.DISTAL][0] == pytest.approx(215, abs=2.5)


@pytest.mark.parametrize("upper", [True, False])
def test_drift_turns_the_corrected_bone_at_the_lengthened_cut_alone(make_leg, upper) -> None:
    bends = ((-9.0, 9.0), (8.0, -4.0))
    made = twice_bent(make_leg, Bone.TIBIA, *bends)
    plan = planned(route(made, Bone.TIBIA, Direction.ANTEGRADE, undo(bends, Bone.TIBIA), upper))
    still, drifted = full_length(made, plan), full_length(made, plan, drift=Drift(varus_deg=-4.0))
    for measure in (Measure.MPTA, Measure.LDTA, Measure.TIBIA_LENGTH):
        before, after = (measure_value(leg.view(Projection.FRONTAL), measure) for leg in (still, drifted))
        assert before is not None
        assert after is not None
    # The plafond turns by the whole drift in the frontal plane and not at all in the sagittal one.
    a, b = (
        np.subtract(leg.place_mm(Landmark.LATERAL_PLAFOND), leg.place_mm(Landmark.MEDIAL_PLAFOND))
        for leg in (still, drifted)
    )
    turned = np.degrees(np.arctan2(b[1], b[2]) - np.arctan2(a[1], a[2]))
    assert abs(turned) == pytest.approx(4.0, abs=1e-6)
    assert a[0] == pytest.approx(b[0], abs=1e-9)


def test_what_is_not_said_is_refused_by_name(make_leg) -> None:
    made = twice_bent(make_leg, Bone.TIBIA, (-9.0, 0.0), (8.0, 0.0))
    corrections = undo(((-9.0, 0.0), (8.0, 0.0)), Bone.TIBIA)
    plan = planned(route(made, Bone.TIBIA, Direction.ANTEGRADE, corrections, upper=True))
    with pytest.raises(Refused, match="two osteotomies; this was worked out for one"):
        reduction_of(plan)
    with pytest.raises(Missing, match="line in the middle fragment is not given"):
        cuts_of(replace(plan, path=replace(plan.path, middle=None)))
    same = replace(plan.second, osteotomy=replace(plan.second.osteotomy, depth_mm=plan.osteotomy.depth_mm))
    with pytest.raises(OutOfRange, match=r"two osteotomies lie 0\.0 mm apart"):
        cuts_of(replace(plan, second=same))
    for levels in ((240.0, 120.0), (147.0, 380.0)):
        with pytest.raises(OutOfRange, match="expected two rising levels"):
            route(made, Bone.TIBIA, Direction.ANTEGRADE, corrections, upper=True, levels=levels)
    with pytest.raises(Missing, match="the bone has no middle fragment"):
        replace(plan.path, middle=None).of(Fragment.MIDDLE)
