from dataclasses import replace

import numpy as np
import pytest

from limbwright.error import Missing
from limbwright.limb.anatomy import Bone, Fragment, Projection
from limbwright.limb.landmark import Landmark
from limbwright.plan.canal import canal_along
from limbwright.plan.cut import Cut, split
from limbwright.plan.leg import leg_model
from limbwright.plan.motion import LATERAL, PROXIMAL, motion_about, turn, unit
from limbwright.plan.nail_line import canal_middle, fitted_line, meeting_level_mm

DOWN = np.array([0.0, -1.0, 0.0])


def model(leg, **kwargs):  # type: ignore[no-untyped-def]
    return leg_model(leg.view(Projection.FRONTAL, **kwargs), leg.view(Projection.SAGITTAL, **kwargs))


def parts(leg, level, **kwargs):  # type: ignore[no-untyped-def]
    cut = Cut(bone=Bone.TIBIA, point_mm=(0.0, level, 0.0), normal=(0.0, 1.0, 0.0))
    return split(model(leg, **kwargs), cut)


def test_the_line_follows_a_traced_fragment(make_leg) -> None:
    leg = make_leg().deformed(Bone.TIBIA, -120, varus=-15, procurvatum=10)
    below = parts(leg, -120)[1]
    middle = canal_middle(below, Bone.TIBIA)
    assert middle.traced
    point, direction = fitted_line(middle, where="tibia")
    shaft = leg.points[Landmark.TIBIA_DISTAL_SHAFT_LOWER] - leg.points[Landmark.TIBIA_DISTAL_SHAFT_UPPER]
    assert np.degrees(np.arccos(direction @ unit(shaft))) < 0.3
    canal = canal_along(
        below,
        bone=Bone.TIBIA,
        fragment=Fragment.DISTAL,
        projection=Projection.FRONTAL,
        line_point_mm=point,
        direction=direction,
        depth_at_point_mm=0.0,
    )
    off = (np.array(canal.inner.negative_mm) + np.array(canal.inner.positive_mm)) / 2
    assert np.max(np.abs(off)) < 0.6


def test_the_narrow_part_decides(make_leg) -> None:
    leg = make_leg()
    # The wide proximal end of the canal is pushed 6 mm aside; the isthmus stays.
    leg.walls = [
        (*w[:4], w[4] + np.where(w[4][:, 1:2] > -80, [[0, 0, 6.0]], 0.0) if w[1] is Bone.TIBIA else w[4])
        for w in leg.walls
    ]
    point, direction = fitted_line(canal_middle(model(leg), Bone.TIBIA), where="tibia")
    at_isthmus = point + (-200 - point[PROXIMAL]) / direction[PROXIMAL] * direction
    assert abs(at_isthmus[LATERAL]) < 0.5


def test_without_walls_the_shaft_points_give_the_line(make_leg) -> None:
    leg = make_leg().deformed(Bone.TIBIA, -135, varus=-15)
    middle = canal_middle(parts(leg, -135, walls=False)[1], Bone.TIBIA)
    assert not middle.traced
    direction = fitted_line(middle, where="tibia")[1]
    assert np.degrees(np.arctan2(direction[LATERAL], -direction[1])) == pytest.approx(15, abs=0.01)


def test_a_fragment_without_canal_and_points_lends_nothing_but_does_no_harm(make_leg) -> None:
    above, below = (canal_middle(part, Bone.TIBIA) for part in parts(make_leg(), -75, walls=False))
    assert all(len(x) == 0 for x in above.points_mm.values())
    together = above.joined(
        below.moved(motion_about(turn(varus_deg=0, procurvatum_deg=0, external_deg=0), DOWN))
    )
    assert fitted_line(together, where="tibia")[1] == pytest.approx(DOWN)
    assert above.moved(motion_about(np.eye(3), DOWN)).points_mm.keys() == above.points_mm.keys()
    with pytest.raises(Missing, match=r"there are 0 level\(s\) of the canal"):
        fitted_line(above, where="tibia")
    assert meeting_level_mm(above, below, frontal=True) is None


def test_one_shaft_point_is_helped_by_the_joint_centre(make_leg) -> None:
    whole = model(make_leg(), walls=False)
    keep = {Landmark.ANKLE_CENTRE, Landmark.TIBIA_DISTAL_SHAFT_LOWER}
    few = replace(
        whole,
        frontal={k: v for k, v in whole.frontal.items() if k in keep},
        sagittal={k: v for k, v in whole.sagittal.items() if k in keep},
    )
    assert fitted_line(canal_middle(few, Bone.TIBIA), where="tibia")[1] == pytest.approx(DOWN)


def test_only_the_reach_of_the_nail_counts(make_leg) -> None:
    middle = canal_middle(model(make_leg()), Bone.TIBIA).within(-200.0, -100.0)
    for points in middle.points_mm.values():
        assert points[:, PROXIMAL].max() <= -100
        assert points[:, PROXIMAL].min() >= -200
    assert {len(w) for w in middle.weight.values()} == {len(x) for x in middle.points_mm.values()}


def test_the_middle_at_a_level_is_where_the_bone_is(make_leg) -> None:
    leg = make_leg().deformed(Bone.TIBIA, -120, varus=-10)
    middle = canal_middle(model(leg), Bone.TIBIA)
    assert middle.at_level(-100.0) == pytest.approx([0, -100, 0], abs=0.1)
    expected = 100 * np.tan(np.radians(10))
    assert middle.at_level(-220.0) == pytest.approx([0, -220, expected], abs=0.6)
    ends = middle.at_level(50.0)
    assert ends[PROXIMAL] == 50.0


@pytest.mark.parametrize(("turned", "frontal"), [({"varus": -10}, True), ({"procurvatum": 9}, False)])
def test_two_fragments_lines_meet_at_the_apex(make_leg, turned, frontal) -> None:
    leg = make_leg().deformed(Bone.TIBIA, -150, **turned)
    above, below = (canal_middle(part, Bone.TIBIA) for part in parts(leg, -150))
    assert meeting_level_mm(above, below, frontal=frontal) == pytest.approx(-150, abs=4)
    straight = (canal_middle(part, Bone.TIBIA) for part in parts(make_leg(), -150))
    assert meeting_level_mm(*straight, frontal=frontal) is None


def test_without_a_sagittal_film_only_the_frontal_canal_is_known(make_leg) -> None:
    alone = leg_model(make_leg().view(Projection.FRONTAL), None)
    assert set(canal_middle(alone, Bone.TIBIA).points_mm) == {Projection.FRONTAL}
