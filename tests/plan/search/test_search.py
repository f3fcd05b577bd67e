from dataclasses import replace

import numpy as np
import pytest

from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import Examination, HardwareKind, StandingHardware
from limbwright.plan.goal import BoneChoice
from limbwright.plan.motion import turned_deg
from limbwright.plan.planner import plan_bone
from limbwright.plan.reduction import reduction_of
from limbwright.plan.search.candidate import SCALES, compared
from limbwright.plan.search.front import nondominated
from limbwright.plan.search.search import PlannedTask, search_leg, worth_comparing


def test_at_most_six_clearly_different_plans_each_buying_something(searched) -> None:
    assert searched.considered > 1_000_000
    assert searched.feasible > 1_000
    assert 2 <= len(searched.candidates) <= 6
    for candidate in searched.candidates:
        assert compared(candidate.parts, searched.reference.parts) == (candidate.buys, candidate.costs)
        assert candidate.buys
        assert candidate.words.startswith("Buys ")
    assert searched.reference.words.startswith("Ends ")


def test_none_of_them_is_worse_than_another_or_the_plan_in_every_part(searched) -> None:
    parts = np.array([c.parts.array() for c in (*searched.candidates, searched.reference)])
    assert nondominated(parts)[:-1].all()
    for i, row in enumerate(parts[:-1]):
        for other in parts[:i]:
            assert (np.abs(row - other) / SCALES).max() >= 1.0


def test_the_search_is_the_same_every_time(searched, make_task, search) -> None:
    assert search(make_task()) == searched


def test_every_candidate_keeps_the_planners_hard_limits(searched, make_task) -> None:
    for candidate in searched.candidates:
        (c,) = candidate.bones
        assert c.proposed.nail is not None
        assert c.proposed.nail.fits
        choice = BoneChoice(bone=Bone.TIBIA, osteotomy_below_joint_mm=c.level_mm, nail=c.plan.nail.name)
        centred = plan_bone(make_task(lengthening_mm=c.plan.lengthening_mm, choice=choice)).plan
        assert centred is not None
        turns = [turned_deg(reduction_of(p).motion.matrix()) for p in (centred, c.plan)]
        assert float(turns[1][0] - turns[0][0]) == pytest.approx(c.line.frontal.turn_deg, abs=0.06)
        assert float(turns[1][1] - turns[0][1]) == pytest.approx(c.line.sagittal.turn_deg, abs=0.06)
        assert c.turn_off.varus_deg == pytest.approx(c.line.frontal.turn_deg, abs=0.06)


def test_the_end_counts_the_drift_and_what_is_turned_against_it(searched) -> None:
    (c,) = next(x.bones for x in searched.candidates if x.bones[0].line.frontal.turn_deg)
    assert c.drift is not None
    left = np.hypot(
        c.turn_off.varus_deg + c.drift.varus_deg, c.turn_off.procurvatum_deg + c.drift.procurvatum_deg
    )
    assert c.parts.end_off_deg == pytest.approx(left)
    # Turned against the drift, less is left than the drift by itself.
    assert left < np.hypot(c.drift.varus_deg, c.drift.procurvatum_deg)


def test_what_is_held_is_kept(make_task, search) -> None:
    found = search(make_task(choice=BoneChoice(bone=Bone.TIBIA, nail="T-8.5/305")), path=True, screws=True)
    assert found.candidates
    for candidate in found.candidates:
        (c,) = candidate.bones
        assert c.plan.nail.name == "T-8.5/305"
        assert c.line.words() == "best fit"
        assert c.proposed.blocking is not None
        assert c.plan.blocking_screws == c.proposed.blocking.screws


def test_a_closed_entry_gives_no_candidate(make_task, planned) -> None:
    stem = StandingHardware(
        kind=HardwareKind.JOINT_REPLACEMENT_STEM, bone=Bone.TIBIA, from_mm=-5, to_mm=80, in_canal=True
    )
    open_ = planned(make_task())
    closed = replace(open_, task=make_task(examination=Examination(hardware=(stem,))))
    found = search_leg(closed.task.leg, [closed], targets=closed.task.targets)
    assert (found.considered, found.candidates) == (0, ())


def test_a_length_no_nail_gives_leaves_nothing(make_task, planned) -> None:
    plan = planned(make_task())
    long = PlannedTask(
        task=make_task(lengthening_mm=90.0, choice=BoneChoice(bone=Bone.TIBIA, lengthening_mm=90.0)),
        plan=plan.plan,
        proposed=plan.proposed,
    )
    found = search_leg(long.task.leg, [long], targets={})
    assert found.considered > 0
    assert (found.feasible, found.candidates) == (0, ())


def test_both_bones_are_searched_together(two_bones, search) -> None:
    found = search(*two_bones)
    assert found.candidates
    assert found.considered > 1_000_000**2
    tolerance = two_bones[0].profile.length_tolerance_mm
    for candidate in found.candidates:
        femur, tibia = candidate.bones
        assert (femur.bone, tibia.bone) == (Bone.FEMUR, Bone.TIBIA)
        total = femur.plan.lengthening_mm + tibia.plan.lengthening_mm
        assert abs(total - 45.0) <= tolerance
        assert candidate.parts.length_off_mm == pytest.approx(abs(total - 45.0))
        assert candidate.parts.screws == femur.parts.screws + tibia.parts.screws
        assert candidate.parts.end_off_deg == max(femur.end_off_deg, tibia.end_off_deg)
    # What one bone gains less the other may gain more, so that the sum stays.
    assert any(c.bones[0].plan.lengthening_mm != 25.0 for c in found.candidates)


def test_one_that_starts_at_the_aim_is_among_those_shown(searched) -> None:
    assert any(c.parts.start_off_deg < 0.25 for c in searched.candidates)
    turned = [
        replace(
            searched.candidates[0],
            parts=replace(searched.reference.parts, end_off_deg=0.1, start_off_deg=2.0, mad_off_mm=5.0 - i),
            bones=(replace(searched.candidates[0].bones[0], level_mm=40.0 + 10 * i),),
        )
        for i in range(3)
    ]
    straight = replace(
        searched.candidates[0],
        parts=replace(
            searched.reference.parts, end_off_deg=1.0, start_off_deg=0.0, level_cost_mm=60.0, reamed_mm=0.0
        ),
        bones=(replace(searched.candidates[0].bones[0], level_mm=200.0),),
    )
    shown = worth_comparing(searched.reference, [*turned, straight], most=2)
    assert straight.parts in [c.parts for c in shown]


def test_candidates_the_plan_beats_are_not_worth_comparing(searched) -> None:
    better = replace(
        searched.reference, parts=replace(searched.reference.parts, end_off_deg=0.0, mad_off_mm=0.0)
    )
    worse = replace(searched.reference, parts=replace(searched.reference.parts, end_off_deg=5.0))
    assert worth_comparing(better, [worse], most=6) == ()
    assert worth_comparing(better, [], most=6) == ()
