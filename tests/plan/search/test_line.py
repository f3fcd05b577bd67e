import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.implant.nail import Direction
from limbwright.plan.decision import NailPath, Place
from limbwright.plan.motion import turned_deg
from limbwright.plan.path import distal_direction, vector
from limbwright.plan.planner import plan_bone
from limbwright.plan.reduction import Reduction, reduction
from limbwright.plan.route import canals_on
from limbwright.plan.search.line import STRAIGHT, LineChange, LineShift, canals_of_plan, moved_route
from limbwright.plan.stage import cut_faces

NOWHERE = Place(anterior_mm=0.0, proximal_mm=0.0, lateral_mm=0.0)
DEGREES = st.floats(-1.5, 1.5)
MILLIMETRES = st.floats(-2.0, 2.0)
SHIFTS = st.builds(
    LineShift, proximal_mm=MILLIMETRES, proximal_deg=DEGREES, distal_mm=MILLIMETRES, distal_deg=DEGREES
)


def reduced(route) -> Reduction:  # type: ignore[no-untyped-def]
    path = NailPath(entry=NOWHERE, proximal=route.proximal, distal=route.distal)
    return reduction(path=path, cut=route.cut, rotation_correction_deg=route.rotation_correction_deg)


@pytest.fixture(scope="module")
def task(make_task):  # type: ignore[no-untyped-def]
    return make_task()


@pytest.fixture(scope="module")
def route(task):  # type: ignore[no-untyped-def]
    return plan_bone(task).route


def test_without_a_change_the_lines_are_the_same(route) -> None:
    moved = moved_route(route, STRAIGHT)
    for old, new in ((route.proximal, moved.proximal), (route.distal, moved.distal)):
        assert distal_direction(new) == pytest.approx(distal_direction(old), abs=1e-9)
        across = np.cross(vector(new.upper) - vector(old.upper), distal_direction(old))
        assert across == pytest.approx(np.zeros(3), abs=1e-6)
    assert moved.surface_mm == pytest.approx(route.surface_mm, abs=1e-6)


@settings(deadline=None, max_examples=40)
@given(SHIFTS, SHIFTS)
def test_lines_moved_differently_turn_and_shift_the_distal_fragment(route, task, frontal, sagittal) -> None:
    before, after = (
        reduced(route),
        reduced(moved_route(route, LineChange(frontal=frontal, sagittal=sagittal))),
    )
    old, new = (turned_deg(r.motion.matrix()) for r in (before, after))
    assert float(new[0] - old[0]) == pytest.approx(frontal.turn_deg, abs=0.06)
    assert float(new[1] - old[1]) == pytest.approx(sagittal.turn_deg, abs=0.06)
    faces = [cut_faces(task.leg, r) for r in (before, after)]
    lateral = faces[1].shift_lateral_mm - faces[0].shift_lateral_mm
    anterior = faces[1].shift_anterior_mm - faces[0].shift_anterior_mm
    assert lateral == pytest.approx(frontal.aside_mm, abs=0.15)
    assert anterior == pytest.approx(sagittal.aside_mm, abs=0.15)


@settings(deadline=None, max_examples=40)
@given(MILLIMETRES, DEGREES)
def test_a_line_moved_alike_in_both_fragments_leaves_the_reduction(route, offset, tilt) -> None:
    alike = LineShift(proximal_mm=offset, distal_mm=offset, proximal_deg=tilt, distal_deg=tilt)
    assert (alike.turn_deg, alike.aside_mm) == (0.0, 0.0)
    old, new = (reduced(r).motion for r in (route, moved_route(route, LineChange(frontal=alike))))
    assert new.angle_deg() == pytest.approx(old.angle_deg(), abs=0.05)


def test_the_entry_stays_on_the_line_of_the_driving_fragment(route) -> None:
    change = LineChange(frontal=LineShift(proximal_mm=1.0, proximal_deg=-1.0))
    moved = moved_route(route, change)
    assert moved.direction is Direction.ANTEGRADE
    off = np.cross(
        np.array(moved.surface_mm) - vector(moved.proximal.upper), distal_direction(moved.proximal)
    )
    assert off == pytest.approx(np.zeros(3), abs=1e-6)
    # Tilted to medial going distally, about the cut: the entry lies lateral by 1 degree of the way to it.
    lateral = moved.surface_mm[2] - route.surface_mm[2]
    expected = 1.0 + np.tan(np.radians(1.0)) * route.surface_to_cut_mm
    assert lateral == pytest.approx(expected, abs=0.05)


def test_canals_along_a_plan_are_those_along_its_route(task) -> None:
    found = plan_bone(task)
    assert found.plan is not None
    assert found.route is not None
    expected = canals_on(task.leg, found.route, found.plan.osteotomy.depth_mm)
    for mine, theirs in zip(canals_of_plan(task.leg, found.plan), expected, strict=True):
        assert (mine.fragment, mine.projection) == (theirs.fragment, theirs.projection)
        depths = theirs.depths_mm(20.0, 250.0)
        assert mine.width_mm(depths) == pytest.approx(theirs.width_mm(depths), abs=0.05)


def test_words_tell_the_turn_first_and_nothing_of_the_best_fit() -> None:
    assert STRAIGHT.words() == "best fit"
    change = LineChange(
        frontal=LineShift(proximal_mm=0.5, distal_mm=0.5, distal_deg=1.0),
        sagittal=LineShift(proximal_mm=-1.0, distal_mm=0.5),
    )
    assert change.words() == (
        "turned 1.0 deg more into varus; frontal: lateral 0.5 mm, tilted to lateral 1.0 deg below the cut; "
        "sagittal: posterior 1.0 mm above, anterior 0.5 mm below the cut"
    )
