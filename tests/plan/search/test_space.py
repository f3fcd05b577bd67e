from dataclasses import replace

import numpy as np
import pytest

from limbwright.limb.anatomy import Bone, Projection
from limbwright.plan.canal import HAIR_MM
from limbwright.plan.correction import correction_for
from limbwright.plan.goal import BoneChoice
from limbwright.plan.hardware_limits import hardware_limits
from limbwright.plan.leg import leg_model
from limbwright.plan.nail_fit import NailDemand, nail_verdict
from limbwright.plan.planner import far_room_mm
from limbwright.plan.planner_rules import nail_rules
from limbwright.plan.route import canals_on, route_at
from limbwright.plan.search.anchor import cells_of
from limbwright.plan.search.limits import aside_mm, verdicts
from limbwright.plan.search.line import LineChange, LineShift, moved_route
from limbwright.plan.search.space import Held, search_space
from limbwright.practice.profile import Profile

WIDE = 0.6  # what interpolation and the coarser sampling may be off [mm]


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
    assert space is not None
    return task, correction, limits, space, verdicts(space, task)


def test_far_more_than_a_million_candidates_are_looked_at(whole) -> None:
    _task, _correction, _limits, space, kept = whole
    assert space.size > 1_000_000
    assert 0 < kept.count < space.size


def exact(task, correction, limits, space, *, level: float, nail: int, cell: tuple[int, int]):  # type: ignore[no-untyped-def]
    """Verdicts of one nail on a line moved alike in both fragments: by the rules, and with some leave."""
    route = route_at(
        task.leg,
        bone=task.bone,
        direction=task.direction,
        below_joint_mm=level,
        correction=correction,
        lengthening_mm=35.0,
    )
    shifts = [
        LineShift(
            proximal_mm=c.offset_mm[k],
            distal_mm=c.offset_mm[k],
            proximal_deg=c.tilt_deg[k],
            distal_deg=c.tilt_deg[k],
        )
        for c, k in zip(space.cells, cell, strict=True)
    ]
    moved = moved_route(route, LineChange(frontal=shifts[0], sagittal=shifts[1]))
    rules, chosen = nail_rules(task.profile), space.nails[nail]
    depth = moved.osteotomy_depth_mm(chosen, task.profile.nail_end_below_surface_mm)
    room = depth + far_room_mm(moved, limits, level, rules.tip_clearance_mm)
    demand = NailDemand(osteotomy_depth_mm=depth, lengthening_mm=35.0, room_mm=room)
    loose = replace(
        rules,
        overlap_mm=rules.overlap_mm - 1,
        cortex_left_mm=rules.cortex_left_mm - 1,
        hole_to_osteotomy_mm=rules.hole_to_osteotomy_mm - 1,
        misfit_mm=rules.misfit_mm + 1,
        reaming_beyond_canal_mm=rules.reaming_beyond_canal_mm + 1,
        tip_clearance_mm=rules.tip_clearance_mm - 1,
    )
    canals = canals_on(task.leg, moved, depth)
    return depth, [nail_verdict(chosen, demand=demand, rules=r, canals=canals).fits for r in (rules, loose)]


@pytest.mark.parametrize("cell", [(0, 0), (5, 3), (20, 14)])
def test_the_filters_say_what_the_planner_says_of_every_nail(whole, cell) -> None:
    """Exact verdicts at levels between the anchors; those within half a millimetre of a limit may differ."""
    task, correction, limits, space, kept = whole
    gain = int(np.flatnonzero(space.gains_mm == 35)[0])
    agreed = 0
    for level in (85.0, 133.0, 203.0):
        i = int(np.flatnonzero(space.levels_mm == level)[0])
        for n in range(len(space.nails)):
            depth, (strict, loose) = exact(task, correction, limits, space, level=level, nail=n, cell=cell)
            lines = all(kept.lines[p][i, n, f, k] for p, k in enumerate(cell) for f in (0, 1)) and all(
                kept.ends[p][i, k, k] for p, k in enumerate(cell)
            )
            found = bool(kept.whole[i, n, gain] and lines)
            shifted = abs(space.expected_shift_mm[i]) > task.profile.max_translation_at_osteotomy_mm
            if strict and not shifted:
                assert found or abs(depth - space.depth_mm[i, n]) > HAIR_MM
            if found:
                assert loose
            agreed += found
    assert agreed


def test_the_least_room_of_a_moved_line_is_that_of_its_canals(whole) -> None:
    task, correction, _limits, space, _kept = whole
    level, nail = 117.0, 3
    i = int(np.flatnonzero(space.levels_mm == level)[0])
    route = route_at(
        task.leg,
        bone=task.bone,
        direction=task.direction,
        below_joint_mm=level,
        correction=correction,
        lengthening_mm=35.0,
    )
    for k in (0, 7, 33):
        cell = space.cells[0]
        shift = LineShift(
            proximal_mm=cell.offset_mm[k],
            proximal_deg=cell.tilt_deg[k],
            distal_mm=cell.offset_mm[k],
            distal_deg=cell.tilt_deg[k],
        )
        moved = moved_route(route, LineChange(frontal=shift))
        depth = moved.osteotomy_depth_mm(space.nails[nail], task.profile.nail_end_below_surface_mm)
        for canal in canals_on(task.leg, moved, depth):
            if canal.projection is not Projection.FRONTAL:
                continue
            depths = canal.depths_mm(0.0, space.nails[nail].length_mm)
            least = min(float(g.min()) for g in canal.gaps_mm(depths, 0.0))
            fragment = 0 if canal.fragment.value == "proximal" else 1
            assert space.room_mm[0][i, nail, fragment, k] == pytest.approx(least, abs=WIDE)


def test_levels_that_shift_the_ends_too_far_are_out(whole) -> None:
    _task, _c, _l, space, kept = whole
    far = np.abs(space.expected_shift_mm) > 10
    assert far.any()
    assert not kept.whole[far].any()


def test_a_line_may_not_shift_the_ends_beyond_the_limit_unless_the_best_fit_does(whole) -> None:
    task, _c, _l, space, kept = whole
    for plane in (0, 1):
        aside = np.abs(aside_mm(space, plane))
        limit = np.maximum(task.profile.max_translation_at_osteotomy_mm, np.abs(space.shift_mm[:, plane]))[
            :, None, None
        ]
        assert (aside[kept.ends[plane]] <= np.broadcast_to(limit, aside.shape)[kept.ends[plane]] + 1e-6).all()
        assert kept.ends[plane][:, 0, 0].all()


def test_the_count_is_that_of_all_combinations(whole) -> None:
    _task, _c, _l, _space, kept = whole
    small = replace(
        kept,
        whole=kept.whole[40:44],
        lines=(kept.lines[0][40:44, :, :, :5], kept.lines[1][40:44, :, :, :4]),
        ends=(kept.ends[0][40:44, :5, :5], kept.ends[1][40:44, :4, :4]),
    )
    total = 0
    for i, n, _g in zip(*np.nonzero(small.whole), strict=True):
        for p in range(5):
            for d in range(5):
                for q in range(4):
                    for e in range(4):
                        total += bool(
                            small.lines[0][i, n, 0, p]
                            and small.lines[0][i, n, 1, d]
                            and small.lines[1][i, n, 0, q]
                            and small.lines[1][i, n, 1, e]
                            and small.ends[0][i, p, d]
                            and small.ends[1][i, q, e]
                        )
    assert small.count == total > 0


def test_cells_start_with_the_best_fit_and_hold_every_offset_and_tilt() -> None:
    cells = cells_of(Projection.FRONTAL, moves=True)
    assert (cells.offset_mm[0], cells.tilt_deg[0]) == (0.0, 0.0)
    assert len(cells.offset_mm) == 35
    assert set(cells.offset_mm) == {-1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5}
    assert cells.aside_mm(100.0)[np.flatnonzero((cells.offset_mm == 0) & (cells.tilt_deg == 1))[0]] == (
        pytest.approx(1.7455, abs=1e-3)
    )
    assert len(cells_of(Projection.SAGITTAL, moves=False).offset_mm) == 1


def test_what_is_fixed_is_one_value_long(make_task) -> None:
    choice = BoneChoice(
        bone=Bone.TIBIA, osteotomy_below_joint_mm=125.0, nail="T-10.7/305", lengthening_mm=35.0
    )
    task = make_task(choice=choice)
    space = search_space(task, *aimed(task), held=Held(path=True))
    assert space is not None
    assert space.levels_mm.tolist() == [125.0]
    assert [n.name for n in space.nails] == ["T-10.7/305"]
    assert space.gains_mm.tolist() == [35.0]
    assert space.size == 1


def test_without_a_sagittal_film_the_line_moves_in_the_frontal_plane_only(make_task, make_leg) -> None:
    bent = make_leg().deformed(Bone.TIBIA, -130.0, varus=-10.0)
    task = make_task(leg=leg_model(bent.view(Projection.FRONTAL), None))
    space = search_space(task, *aimed(task))
    assert space is not None
    assert [len(c.offset_mm) for c in space.cells] == [35, 1]


def test_no_gain_goes_below_a_millimetre(make_task) -> None:
    task = make_task(lengthening_mm=2.0, profile=Profile(length_tolerance_mm=5))
    space = search_space(task, *aimed(task))
    assert space is not None
    assert space.gains_mm.min() == 1.0
