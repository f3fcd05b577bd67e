from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import Examination, HardwareKind, StandingHardware
from limbwright.plan.goal import BoneChoice
from limbwright.plan.planner import plan_bone
from limbwright.plan.reduction import reduction_of
from limbwright.plan.search.candidate import Parts, compared, described, sentence
from limbwright.plan.search.search import nondominated, search_bone

FIRST = Parts(
    drift_deg=2.0,
    drift_without_screws_deg=3.0,
    length_off_mm=0.0,
    overlap_short_mm=5.0,
    level_cost_mm=10.0,
    shift_mm=1.0,
    reamed_mm=1.0,
    screws=1,
)


def test_at_most_six_clearly_different_plans_each_buying_something(searched) -> None:
    assert searched.considered > 1_000_000
    assert searched.feasible > 1_000
    assert 2 <= len(searched.candidates) <= 6
    for candidate in searched.candidates[1:]:
        buys, _costs = compared(candidate.parts, searched.candidates[0].parts)
        assert buys
        assert candidate.words.startswith("Buys ")
    assert searched.candidates[0].words.startswith("Drift ")


def test_none_of_them_is_worse_than_another_in_every_part(searched) -> None:
    parts = np.array([c.parts.array() for c in searched.candidates])
    assert nondominated(parts).all()


def test_the_search_is_the_same_every_time(searched, make_task) -> None:
    assert search_bone(make_task()) == searched


def test_every_candidate_keeps_the_planners_hard_limits_and_the_reduction(searched, make_task) -> None:
    for c in searched.candidates:
        chosen = make_task(
            lengthening_mm=c.plan.lengthening_mm,
            choice=BoneChoice(
                bone=Bone.TIBIA,
                osteotomy_below_joint_mm=c.plan.osteotomy.below_joint_mm,
                nail=c.plan.nail.name,
            ),
        )
        centred = plan_bone(chosen).plan
        assert centred is not None
        assert centred.nail.name == c.plan.nail.name
        # Moved aside, the nail's line still turns the distal fragment by the same angle.
        turns = [reduction_of(p).motion.angle_deg() for p in (centred, c.plan)]
        assert turns[0] == pytest.approx(turns[1], abs=0.05)


def test_the_offset_brings_the_nail_nearer_to_one_wall(searched) -> None:
    moved = next(c for c in searched.candidates if c.lateral_mm or c.anterior_mm)
    entry, line = moved.plan.path.entry, moved.plan.path.proximal.upper
    assert (entry, line) != (None, None)
    assert abs(moved.lateral_mm) <= 1.5
    assert abs(moved.anterior_mm) <= 1.0


def test_fixing_the_nail_leaves_only_its_plans(make_task) -> None:
    found = search_bone(make_task(choice=BoneChoice(bone=Bone.TIBIA, nail="T-8.5/305")))
    assert found.candidates
    assert {c.plan.nail.name for c in found.candidates} == {"T-8.5/305"}


def test_a_closed_entry_or_no_fitting_nail_gives_no_candidate(make_task) -> None:
    stem = StandingHardware(
        kind=HardwareKind.JOINT_REPLACEMENT_STEM, bone=Bone.TIBIA, from_mm=-5, to_mm=80, in_canal=True
    )
    closed = search_bone(make_task(examination=Examination(hardware=(stem,))))
    assert (closed.considered, closed.candidates) == (0, ())
    long = search_bone(make_task(lengthening_mm=90.0))
    assert long.considered > 0
    assert (long.feasible, long.candidates) == (0, ())


@given(arrays(float, st.tuples(st.integers(1, 30), st.just(3)), elements=st.integers(0, 5).map(float)))
def test_the_front_is_what_nothing_beats(parts) -> None:
    flags = nondominated(parts)
    for i, row in enumerate(parts):
        beaten = any(np.all(other <= row) and np.any(other < row) for j, other in enumerate(parts) if j != i)
        assert flags[i] == (not beaten)


def test_words_say_what_is_bought_and_what_it_costs() -> None:
    other = replace(FIRST, drift_deg=1.4, reamed_mm=1.5, screws=3, shift_mm=1.1)
    assert sentence(other, FIRST) == (
        "Buys 0.6 deg less drift; costs 0.5 mm more bone reamed on one side, 2 more blocking screw(s)."
    )
    assert sentence(FIRST, FIRST) == "Much the same as the first."
    assert "with 1 blocking screw (3.0 without any)" in described(FIRST)
