from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.error import OutOfRange, Refused
from limbwright.implant.nail import Direction, Nail
from limbwright.limb.anatomy import Bone, Fragment, Projection
from limbwright.plan.cut import Cut
from limbwright.plan.decision import FragmentPath, NailPath, Place
from limbwright.plan.motion import motion, shift, turn, unit
from limbwright.plan.path import (
    bent_entry,
    crossing,
    cut_at_depth,
    depth_of_point,
    distal_direction,
    driving_fragment,
    end_translation_on_axis,
    end_translation_through,
    path_from_end,
    place_of,
    point_at_depth,
    vector,
)
from limbwright.plan.reduction import reduction

UP = (0.0, 1.0, 0.0)
small = st.floats(-20, 20)
gains = st.floats(0, 80)


def line(fragment: Fragment, upper, lower) -> FragmentPath:  # type: ignore[no-untyped-def]
    return FragmentPath(fragment=fragment, upper=place_of(upper), lower=place_of(lower))


def nail_path(entry, upper=(8, 0, 2), lower=(0, -300, 0)) -> NailPath:  # type: ignore[no-untyped-def]
    return NailPath(
        entry=place_of(entry),
        proximal=line(Fragment.PROXIMAL, upper, lower),
        distal=line(Fragment.DISTAL, (0, -150, 3), (0, -300, 9)),
    )


def nail(**changes) -> Nail:  # type: ignore[no-untyped-def]
    straight = Nail(
        name="demo",
        bone=Bone.TIBIA,
        direction=Direction.ANTEGRADE,
        thick_diameter_mm=10.7,
        thin_diameter_mm=8,
        length_mm=275,
        stroke_mm=50,
        exposed_thin_mm=30,
        bend_deg=10,
        bend_depth_mm=50,
        elastic_modulus_gpa=110,
    )
    return replace(straight, **changes)


def test_depth_runs_along_the_nail_from_its_entry_end() -> None:
    straight = nail_path(entry=(8, 0, 2))
    u = unit([-8, -300, -2])
    assert point_at_depth(straight, Direction.ANTEGRADE, 100) == pytest.approx(np.array([8, 0, 2]) + 100 * u)
    assert depth_of_point(
        straight, Direction.ANTEGRADE, point_at_depth(straight, Direction.ANTEGRADE, 77)
    ) == pytest.approx(77)
    bent = nail_path(entry=(20, 48, 2))
    run_in = float(np.hypot(12, 48))
    assert point_at_depth(bent, Direction.ANTEGRADE, run_in / 2) == pytest.approx([14, 24, 2])
    assert point_at_depth(bent, Direction.ANTEGRADE, run_in + 10) == pytest.approx(
        np.array([8, 0, 2]) + 10 * u
    )


def test_a_retrograde_nail_is_measured_from_the_knee() -> None:
    path = nail_path(entry=(0, -300, 9))
    assert driving_fragment(Direction.RETROGRADE) is Fragment.DISTAL
    assert point_at_depth(path, Direction.RETROGRADE, 0) == pytest.approx([0, -300, 9])
    cut = cut_at_depth(Bone.FEMUR, path, Direction.RETROGRADE, 60)
    assert cut.point_mm[1] == pytest.approx(-300 + 60 * 150 / np.hypot(150, 6))
    assert cut.normal[1] > 0


def test_the_cut_stands_across_the_nail() -> None:
    path = nail_path(entry=(8, 0, 2))
    cut = cut_at_depth(Bone.TIBIA, path, Direction.ANTEGRADE, 120)
    assert np.array(cut.normal) == pytest.approx(-distal_direction(path.proximal))


def test_a_cut_within_the_bend_is_refused() -> None:
    with pytest.raises(OutOfRange, match="within the nail's bent end"):
        cut_at_depth(Bone.TIBIA, nail_path(entry=(20, 48, 2)), Direction.ANTEGRADE, 30)


def test_a_bend_leans_the_entry_end_forward_or_outward() -> None:
    along = np.array([0.0, -1, 0])
    front = bent_entry(nail(), [0, 0, 0], along)
    assert front == pytest.approx([50 * np.sin(np.radians(10)), 50 * np.cos(np.radians(10)), 0])
    side = bent_entry(nail(bend_plane=Projection.FRONTAL), [0, 0, 0], along)
    assert side == pytest.approx([0, front[1], front[0]])
    assert bent_entry(nail(bend_deg=0, bend_depth_mm=0), [1, 2, 3], along) == pytest.approx([1, 2, 3])


def test_a_line_along_its_plane_crosses_nowhere() -> None:
    assert np.isnan(crossing([0.0, 0, 0], [1.0, 0, 0], [0.0, 5, 0], [0.0, 1, 0])).all()
    assert crossing([[0.0, 0, 0], [1, 0, 0]], [0.0, -1, 0], [0.0, -5, 0], UP)[1] == pytest.approx([1, -5, 0])


def test_two_points_that_are_one_make_no_line() -> None:
    with pytest.raises(OutOfRange, match=r"lie 0\.00 mm apart"):
        distal_direction(line(Fragment.PROXIMAL, (0, 0, 0), (0, 0, 0)))


def test_place_and_vector_are_inverse() -> None:
    assert place_of(vector(Place(anterior_mm=1, proximal_mm=2, lateral_mm=3))) == Place(
        anterior_mm=1, proximal_mm=2, lateral_mm=3
    )


@settings(max_examples=60)
@given(
    turned=st.tuples(small, small, small), aimed=st.tuples(st.floats(-8, 8), st.floats(-8, 8)), gained=gains
)
def test_walking_back_and_reducing_end_where_planned(turned, aimed, gained) -> None:  # type: ignore[no-untyped-def]
    varus, procurvatum, external = turned
    axis_a, axis_l = aimed
    proximal = line(Fragment.PROXIMAL, (6, 0, 3), (1, -200, -2))
    cut = Cut(
        bone=Bone.TIBIA, point_mm=(3.0, -120.0, 1.0), normal=tuple((-distal_direction(proximal)).tolist())
    )
    rotation = turn(varus_deg=varus, procurvatum_deg=procurvatum, external_deg=external)
    axis = unit([axis_a, -100, axis_l])
    ankle = np.array([4.0, -350, 20])
    t = end_translation_on_axis(
        line_point_mm=vector(proximal.upper),
        line_direction=distal_direction(proximal),
        plane_point_mm=cut.point_mm,
        normal=cut.normal,
        rotation=rotation,
        proximal_centre_mm=[0, 0, 0],
        distal_centre_mm=ankle,
        axis=axis,
        lengthening_mm=gained,
    )
    end = motion(rotation, t)
    wanted = end.moved(ankle)
    assert np.cross(wanted, axis) == pytest.approx([0, 0, 0], abs=1e-9)  # the ankle lies on the wanted axis
    found = path_from_end(proximal=proximal, cut=cut, end=end, lengthening_mm=gained)
    path = NailPath(entry=proximal.upper, proximal=proximal, distal=found.path)
    reduced = reduction(path=path, cut=cut, rotation_correction_deg=found.rotation_correction_deg)
    points = np.array([ankle, [10.0, -200, 5], [-20, -340, 30]])
    assert reduced.lengthened(gained).moved(points) == pytest.approx(end.moved(points), abs=1e-8)
    # After the operation the fragment only slides along the nail: no angle changes on the way.
    assert reduced.motion.then(shift(gained * distal_direction(proximal))).moved(points) == pytest.approx(
        end.moved(points), abs=1e-8
    )


@given(small, small, st.floats(-5, 5), st.floats(0, 80))
def test_the_line_runs_through_the_chosen_point_of_the_distal_canal(
    varus: float, procurvatum: float, aside: float, gained: float
) -> None:
    proximal = line(Fragment.PROXIMAL, (6, 0, 3), (1, -200, -2))
    u = distal_direction(proximal)
    rotation = turn(varus_deg=varus, procurvatum_deg=procurvatum, external_deg=0)
    cut = Cut(bone=Bone.TIBIA, point_mm=(3.0, -120.0, 1.0), normal=tuple((-u).tolist()))
    canal = np.array([aside, -240.0, 15])
    t = end_translation_through(
        line_point_mm=vector(proximal.upper),
        line_direction=u,
        plane_point_mm=cut.point_mm,
        normal=cut.normal,
        rotation=rotation,
        through_mm=canal,
        lengthening_mm=gained,
    )
    found = path_from_end(proximal=proximal, cut=cut, end=motion(rotation, t), lengthening_mm=gained).path
    away = np.cross(canal - vector(found.upper), distal_direction(found))
    assert away == pytest.approx([0, 0, 0], abs=1e-7)


def test_an_end_that_does_not_fit_the_lengthening_is_refused() -> None:
    proximal = line(Fragment.PROXIMAL, (0, 0, 0), (0, -200, 0))
    cut = Cut(bone=Bone.TIBIA, point_mm=(0.0, -120.0, 0.0), normal=UP)
    with pytest.raises(Refused, match=r"25\.0 mm apart on the nail's line, but 30\.0 mm are to be gained"):
        path_from_end(proximal=proximal, cut=cut, end=shift([0, -25, 4]), lengthening_mm=30)
