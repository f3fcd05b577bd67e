import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.error import OutOfRange
from limbwright.plan.motion import (
    STAY,
    Motion,
    motion,
    motion_about,
    rotation_about,
    rotation_between,
    shift,
    turn,
    turned_deg,
    unit,
)

angles = st.floats(-50, 50)


def test_the_signs_are_those_of_the_trade() -> None:
    down, forward = np.array([0, -1.0, 0]), np.array([1.0, 0, 0])
    varus = turn(varus_deg=10, procurvatum_deg=0, external_deg=0) @ down
    assert varus[2] < 0  # the lower end points medially
    apex_anterior = turn(varus_deg=0, procurvatum_deg=10, external_deg=0) @ down
    assert apex_anterior[0] < 0  # the lower end points backward
    external = turn(varus_deg=0, procurvatum_deg=0, external_deg=10) @ forward
    assert external[2] > 0  # the foot points outward


@given(angles, angles, angles)
def test_turn_and_turned_deg_are_inverse(varus: float, procurvatum: float, external: float) -> None:
    back = turned_deg(turn(varus_deg=varus, procurvatum_deg=procurvatum, external_deg=external))
    assert np.array(back) == pytest.approx([varus, procurvatum, external], abs=1e-9)


@given(st.tuples(angles, angles, angles), st.tuples(angles, angles, angles))
def test_the_smallest_rotation_between_two_lines_has_no_twist(
    a: tuple[float, ...], b: tuple[float, ...]
) -> None:
    u = turn(varus_deg=a[0], procurvatum_deg=a[1], external_deg=0) @ [0, -1, 0]
    v = turn(varus_deg=b[0], procurvatum_deg=b[1], external_deg=0) @ [0, -1, 0]
    r = rotation_between(v, u)
    assert r @ v == pytest.approx(u, abs=1e-12)
    axis = np.cross(v, u)
    assert r @ axis == pytest.approx(axis, abs=1e-12)


def test_opposite_lines_have_no_smallest_rotation() -> None:
    assert np.isnan(rotation_between([0.0, 1, 0], [0.0, -1, 0])).all()


def test_motions_compose_and_go_back() -> None:
    first = motion_about(rotation_about([1.0, 0, 0], 20), [1.0, 2, 3])
    assert first.moved([1.0, 2, 3]) == pytest.approx([1, 2, 3])
    both = first.then(shift([0, 0, 5.0]))
    p = np.array([[4.0, 5, 6], [7, 8, 9]])
    assert both.moved(p) == pytest.approx(first.moved(p) + np.array([0, 0, 5]))
    assert both.then(both.inverse()).moved(p) == pytest.approx(p)
    assert both.angle_deg() == pytest.approx(20)
    assert STAY.moved(p) == pytest.approx(p)
    assert first.turned([1.0, 0, 0]) == pytest.approx([1, 0, 0])


def test_kernels_take_batches() -> None:
    axes = unit(np.random.Generator(np.random.PCG64(3)).normal(size=(7, 3)))
    together = rotation_about(axes, np.arange(7.0))
    assert together[4] == pytest.approx(rotation_about(axes[4], 4.0))


def test_a_matrix_that_is_no_rotation_is_refused() -> None:
    with pytest.raises(OutOfRange, match="not a rotation"):
        motion(2 * np.eye(3), [0, 0, 0])
    with pytest.raises(OutOfRange, match="not a rotation"):
        Motion(rotation=((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, -1.0)))
