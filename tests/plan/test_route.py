from dataclasses import replace

import numpy as np
import pytest

from limbwright.implant.nail import Direction, Nail
from limbwright.limb.anatomy import SIDES_OF_A_CUT, Bone, Fragment, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.reading import Measure
from limbwright.plan.correction import Correction
from limbwright.plan.decision import NailPath
from limbwright.plan.end_alignment import Aim, Progress, measure_value, moved_leg
from limbwright.plan.leg import leg_model
from limbwright.plan.osteotomy import bone_line
from limbwright.plan.path import cut_at_depth, distal_direction, driving_line, point_at_depth, vector
from limbwright.plan.reduction import reduction
from limbwright.plan.route import canals_on, route_at
from limbwright.plan.stage import cut_faces

NONE = Correction(
    frontal=Aim(),
    sagittal=Aim(),
    external_deg=0.0,
    size_deg=0.0,
    apex_below_joint_mm=None,
    needed=False,
    reason="",
)


def model(leg, *, side=Side.RIGHT, walls=True, sagittal=True):  # type: ignore[no-untyped-def]
    return leg_model(
        leg.view(Projection.FRONTAL, side, walls=walls),
        leg.view(Projection.SAGITTAL, side, walls=walls) if sagittal else None,
    )


def aims(measure: Measure, value: float, frontal: float, sagittal: float = 0.0) -> Correction:
    return replace(
        NONE,
        frontal=Aim(measure=measure, value=value, turn_deg=frontal),
        sagittal=Aim(turn_deg=sagittal),
        needed=True,
    )


def nail(direction: Direction, **changes) -> Nail:  # type: ignore[no-untyped-def]
    return replace(
        Nail(
            name="demo",
            bone=Bone.TIBIA if direction is Direction.ANTEGRADE else Bone.FEMUR,
            direction=direction,
            thick_diameter_mm=10.7,
            thin_diameter_mm=8,
            length_mm=275,
            stroke_mm=50,
            exposed_thin_mm=30,
            elastic_modulus_gpa=110,
        ),
        **changes,
    )


CASES = {
    "tibia": (Bone.TIBIA, Direction.ANTEGRADE, -120.0, 120.0, aims(Measure.MPTA, 87.0, 12.0, -8.0)),
    "femur": (Bone.FEMUR, Direction.RETROGRADE, 100.0, 335.0, aims(Measure.MLDFA, 88.0, 12.0, -8.0)),
}


def bent_route(make_leg, name, side=Side.RIGHT, **kwargs):  # type: ignore[no-untyped-def]
    bone, direction, apex, level, correction = CASES[name]
    leg = make_leg().deformed(bone, apex, varus=-12, procurvatum=8)
    made = model(leg, side=side, **kwargs)
    found = route_at(
        made,
        bone=bone,
        direction=direction,
        below_joint_mm=level,
        correction=correction,
        lengthening_mm=40,
    )
    return made, found


@pytest.mark.parametrize("name", CASES)
def test_a_nails_path_reduces_to_the_wanted_end(make_leg, name) -> None:
    made, route = bent_route(make_leg, name)
    n = nail(route.direction)
    depth = route.osteotomy_depth_mm(n, 3.0)
    path = route.path_of(n, 3.0)
    cut = cut_at_depth(route.bone, path, route.direction, depth)
    reduced = reduction(path=path, cut=cut, rotation_correction_deg=route.rotation_correction_deg)
    full = moved_leg(made, [Progress(reduction=reduced, gained_mm=40)]).view(Projection.FRONTAL)
    measure = CASES[name][4].frontal
    assert measure_value(full, measure.measure) == pytest.approx(measure.value, abs=1e-4)
    # The path is straight for the nail: entry, osteotomy and tip lie on one line once reduced.
    u = distal_direction(path.proximal)
    for point in (path.distal.upper, path.distal.lower):
        away = np.cross(reduced.motion.moved(vector(point)) - vector(path.proximal.upper), u)
        assert away == pytest.approx([0, 0, 0], abs=1e-6)


@pytest.mark.parametrize("name", CASES)
def test_left_and_right_take_the_same_way(make_leg, name) -> None:
    assert bent_route(make_leg, name)[1] == bent_route(make_leg, name, side=Side.LEFT)[1]


@pytest.mark.parametrize("level", [110.0, 120.0, 135.0])
def test_the_ends_shift_by_the_distance_from_the_apex_and_no_more(make_leg, level) -> None:
    leg = make_leg().deformed(Bone.TIBIA, -120, varus=-12)
    made = model(leg)
    apex = bone_line(made, Bone.TIBIA).below_joint_mm([0.0, -120.0, 0.0])
    correction = replace(aims(Measure.MPTA, 87.0, 12.0), apex_below_joint_mm=apex)
    route = route_at(
        made,
        bone=Bone.TIBIA,
        direction=Direction.ANTEGRADE,
        below_joint_mm=level,
        correction=correction,
        lengthening_mm=40,
    )
    path = NailPath(entry=route.proximal.upper, proximal=route.proximal, distal=route.distal)
    faces = cut_faces(
        made,
        reduction(path=path, cut=route.cut, rotation_correction_deg=route.rotation_correction_deg),
    )
    assert faces.shift_mm == pytest.approx(abs(level - apex) * np.sin(np.radians(12)), abs=0.4)


def test_a_bow_alone_does_not_shift_the_ends(make_leg) -> None:
    leg = make_leg()
    bowed = []
    for projection, bone, surface, border, points in leg.walls:
        bow = 14 * (1 - ((points[:, 1] - 210) / 200) ** 2) if bone is Bone.FEMUR else 0 * points[:, 1]
        bowed.append((projection, bone, surface, border, points + np.column_stack([bow, 0 * bow, 0 * bow])))
    leg.walls = bowed
    made = model(leg.deformed(Bone.FEMUR, 150.0, varus=-9))
    route = route_at(
        made,
        bone=Bone.FEMUR,
        direction=Direction.RETROGRADE,
        below_joint_mm=280,
        correction=replace(aims(Measure.MLDFA, 88.0, 9.0), apex_below_joint_mm=280.0),
        lengthening_mm=30,
    )
    path = NailPath(entry=route.proximal.upper, proximal=route.proximal, distal=route.distal)
    faces = cut_faces(made, reduction(path=path, cut=route.cut))
    assert abs(faces.shift_anterior_mm) < 0.5
    assert abs(faces.varus_deg) > 8


def test_an_apex_that_nobody_gave_is_found_where_the_canals_meet(make_leg) -> None:
    made = model(make_leg().deformed(Bone.TIBIA, -120, varus=-12))

    def distal_at(correction: Correction) -> np.ndarray:
        route = route_at(
            made,
            bone=Bone.TIBIA,
            direction=Direction.ANTEGRADE,
            below_joint_mm=120,
            correction=correction,
            lengthening_mm=40,
        )
        return route.crossings()[1]

    unknown = aims(Measure.MPTA, 87.0, 12.0)
    known = replace(unknown, apex_below_joint_mm=120.0)
    assert distal_at(unknown) == pytest.approx(distal_at(known), abs=1.0)
    # No angulation at all, only rotation to give: the ends are turned where they are cut.
    turned = replace(unknown, frontal=Aim(), external_deg=15.0)
    straight = model(make_leg())
    route = route_at(
        straight,
        bone=Bone.TIBIA,
        direction=Direction.ANTEGRADE,
        below_joint_mm=120,
        correction=turned,
        lengthening_mm=40,
    )
    assert route.rotation_correction_deg == pytest.approx(15, abs=1e-6)


def test_without_walls_and_without_a_sagittal_film_the_geometry_still_works(make_leg) -> None:
    _made, route = bent_route(make_leg, "tibia", walls=False, sagittal=False)
    assert not route.traced
    assert route.surface_to_cut_mm == pytest.approx(120, abs=4)


def test_a_bone_that_is_only_lengthened_has_one_line(make_leg) -> None:
    made = model(make_leg())
    route = route_at(
        made,
        bone=Bone.FEMUR,
        direction=Direction.ANTEGRADE,
        below_joint_mm=100,
        correction=NONE,
        lengthening_mm=40,
    )
    p0, q0 = route.crossings()
    assert p0 == pytest.approx(q0)
    assert distal_direction(route.proximal) == pytest.approx(distal_direction(route.distal))
    assert np.degrees(np.arcsin(-distal_direction(route.proximal)[2])) == pytest.approx(6, abs=0.1)


def test_a_bend_makes_the_way_longer_and_moves_the_entry_forward(make_leg) -> None:
    _made, route = bent_route(make_leg, "tibia")
    straight, bent = nail(Direction.ANTEGRADE), nail(Direction.ANTEGRADE, bend_deg=10, bend_depth_mm=50)
    longer = route.osteotomy_depth_mm(bent, 3) - route.osteotomy_depth_mm(straight, 3)
    assert longer == pytest.approx(50 * (1 - np.cos(np.radians(10))))
    forward = route.path_of(bent, 3).entry.anterior_mm - route.path_of(straight, 3).entry.anterior_mm
    assert forward == pytest.approx(50 * np.sin(np.radians(10)), abs=0.1)
    path = route.path_of(bent, 3)
    assert driving_line(path, Direction.ANTEGRADE)[2] == pytest.approx(50)
    at_cut = point_at_depth(path, Direction.ANTEGRADE, route.osteotomy_depth_mm(bent, 3))
    assert at_cut == pytest.approx(route.crossings()[0], abs=1e-9)
    assert route.room_mm(bent, 3) == pytest.approx(
        route.osteotomy_depth_mm(bent, 3) + route.cut_to_far_end_mm
    )


def test_both_fragments_canals_are_seen_along_the_nail(make_leg) -> None:
    made, route = bent_route(make_leg, "femur")
    canals = canals_on(made, route, 100.0)
    expected = {(f, p) for f in SIDES_OF_A_CUT for p in Projection}
    assert {(c.fragment, c.projection) for c in canals} == expected
    for canal in canals:
        # Retrograde: depth rises toward the hip, so the distal fragment lies before the osteotomy.
        first, last = canal.inner.depth_mm[0], canal.inner.depth_mm[-1]
        assert last <= 103 if canal.fragment is Fragment.DISTAL else first >= 97
        low, high = canal.gaps_mm(canal.depths_mm(60, 200), 0.0)
        assert np.all(low + high > 10)


def test_canals_without_a_sagittal_film_are_frontal_only(make_leg) -> None:
    made, route = bent_route(make_leg, "tibia", sagittal=False)
    assert {c.projection for c in canals_on(made, route, 100.0)} == {Projection.FRONTAL}


def test_the_landmarks_of_the_films_do_not_move(make_leg) -> None:
    made, _route = bent_route(make_leg, "tibia")
    assert made.place_mm(Landmark.TIBIA_KNEE_CENTRE) == pytest.approx([0, 0, 0])
