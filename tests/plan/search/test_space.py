from dataclasses import replace

import numpy as np
import pytest

from limbwright.limb.anatomy import Bone
from limbwright.plan.canal import HAIR_MM
from limbwright.plan.correction import correction_for
from limbwright.plan.goal import BoneChoice
from limbwright.plan.hardware_limits import hardware_limits
from limbwright.plan.nail_fit import NailDemand, nail_verdict
from limbwright.plan.planner import far_room_mm
from limbwright.plan.planner_rules import nail_rules
from limbwright.plan.route import canals_on, route_at
from limbwright.plan.search.space import feasible, play_deg, reamed_mm, search_space
from limbwright.practice.profile import Profile


def aimed(task):  # type: ignore[no-untyped-def]
    correction = correction_for(
        task.leg,
        task.situation,
        targets=task.targets,
        tolerance_deg=2.5,
        sagittal_tolerance_deg=4,
        rotation_tolerance_deg=10,
        correct_alignment=True,
    )
    limits = hardware_limits(bone=task.bone, length_mm=360, hardware=(), profile=task.profile)
    return correction, limits


@pytest.fixture(scope="module")
def whole(make_task):  # type: ignore[no-untyped-def]
    task = make_task()
    correction, limits = aimed(task)
    space = search_space(task, correction, limits)
    return task, correction, limits, space, feasible(space, task)


def test_a_million_candidates_are_looked_at(whole) -> None:
    _task, _correction, _limits, space, keep = whole
    assert space.size == keep.size > 1_000_000
    assert 0 < keep.sum() < keep.size


def test_the_filters_say_what_the_planner_says_of_every_nail(whole) -> None:
    """Exact verdicts at levels between the anchors; those within half a millimetre of a limit may differ."""
    task, correction, limits, space, keep = whole
    rules, sunk = nail_rules(task.profile), task.profile.nail_end_below_surface_mm
    centre = (3, 2)
    gain = int(np.flatnonzero(space.gains_mm == 35)[0])
    for level in (85.0, 117.0, 133.0, 160.0, 203.0):
        i = int(np.flatnonzero(space.levels_mm == level)[0])
        route = route_at(
            task.leg,
            bone=task.bone,
            direction=task.direction,
            below_joint_mm=level,
            correction=correction,
            lengthening_mm=35.0,
        )
        for n, nail in enumerate(space.nails):
            depth = route.osteotomy_depth_mm(nail, sunk)
            room = depth + far_room_mm(route, limits, level, rules.tip_clearance_mm)
            demand = NailDemand(osteotomy_depth_mm=depth, lengthening_mm=35.0, room_mm=room)
            verdicts = [
                nail_verdict(nail, demand=demand, rules=r, canals=canals_on(task.leg, route, depth)).fits
                for r in (
                    rules,
                    replace(
                        rules,
                        overlap_mm=rules.overlap_mm - 1,
                        cortex_left_mm=rules.cortex_left_mm - 1,
                        hole_to_osteotomy_mm=rules.hole_to_osteotomy_mm - 1,
                        misfit_mm=rules.misfit_mm + 1,
                        reaming_beyond_canal_mm=rules.reaming_beyond_canal_mm + 1,
                        tip_clearance_mm=rules.tip_clearance_mm - 1,
                    ),
                )
            ]
            shifted = abs(space.shift_mm[i]) > task.profile.max_translation_at_osteotomy_mm
            found = bool(keep[i, n, gain, *centre])
            if verdicts[0] and not shifted:
                assert found or abs(depth - space.depth_mm[i, n]) > HAIR_MM
            if found:
                assert verdicts[1]


def test_levels_that_shift_the_ends_too_far_are_out(whole) -> None:
    _task, _c, _l, space, keep = whole
    far = np.abs(space.shift_mm) > 10
    assert far.any()
    assert not keep[far].any()


def test_an_offset_takes_from_one_side_and_gives_to_the_other(whole) -> None:
    _task, _c, _l, space, _keep = whole
    toward = play_deg(space, 0, space.lateral_mm)
    # A tibia drifts into valgus, in its distal third into varus: nearer to the concave wall leaves less play.
    upper = space.levels_mm < 240
    assert np.all(np.diff(toward[upper], axis=2) <= 1e-12)
    assert np.all(np.diff(toward[~upper], axis=2) >= -1e-12)
    reamed = reamed_mm(space, 0, space.lateral_mm)
    # The larger of two sides that change against each other.
    assert np.all(np.diff(reamed, n=2, axis=2) >= -1e-9)
    assert (reamed >= 0).all()


def test_what_is_fixed_is_one_value_long(make_task) -> None:
    task = make_task(
        choice=BoneChoice(
            bone=Bone.TIBIA, osteotomy_below_joint_mm=125.0, nail="T-10.7/305", lengthening_mm=35.0
        )
    )
    space = search_space(task, *aimed(task))
    assert space.levels_mm.tolist() == [125.0]
    assert [n.name for n in space.nails] == ["T-10.7/305"]
    assert space.gains_mm.tolist() == [35.0]
    assert space.size == 35


def test_no_gain_goes_below_a_millimetre(make_task) -> None:
    task = make_task(lengthening_mm=2.0, profile=Profile(length_tolerance_mm=5))
    assert search_space(task, *aimed(task)).gains_mm.min() == 1.0
