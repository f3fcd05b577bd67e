import numpy as np
import pytest

from limbwright.course.kalman import (
    Belief,
    Reading,
    Transition,
    filtered,
    in_turn,
    predicted,
    smoothed,
    updated,
)


def test_two_readings_of_one_number_are_their_weighted_mean():
    vague = Belief(np.zeros(1), np.array([[1e12]]))
    once = updated(vague, Reading(np.array([4.0]), np.eye(1), np.array([[1.0]])))
    twice = updated(once, Reading(np.array([10.0]), np.eye(1), np.array([[4.0]])))
    assert twice.mean[0] == pytest.approx((4 * 4 + 10) / 5)
    assert twice.covariance[0, 0] == pytest.approx(0.8)


def test_transitions_in_turn_are_one_transition():
    rng = np.random.Generator(np.random.PCG64(3))
    pairs = [(rng.normal(size=(3, 3)), rng.normal(size=(3, 3))) for _ in range(2)]
    first, second = (Transition(f, q @ q.T) for f, q in pairs)
    start = Belief(rng.normal(size=3), np.eye(3))
    one = predicted(start, in_turn(first, second))
    two = predicted(predicted(start, first), second)
    assert one.mean == pytest.approx(two.mean)
    assert one.covariance == pytest.approx(two.covariance)


def test_a_straight_line_is_found_by_the_smoother_as_by_least_squares():
    """A level and a slope without noise of their own, read with equal errors: ordinary least squares."""
    z = np.array([1.1, 1.9, 3.2, 3.9, 5.1])
    step = Transition(np.array([[1.0, 1.0], [0.0, 1.0]]), np.zeros((2, 2)))
    read = tuple(Reading(np.array([v]), np.array([[1.0, 0.0]]), np.array([[0.25]])) for v in z)
    run = filtered(Belief(np.zeros(2), np.eye(2) * 1e9), (step,) * 4, read)
    back = smoothed(run, (step,) * 4)
    slope, level = np.polyfit(np.arange(5), z, 1)
    assert back[0].mean == pytest.approx([level, slope], abs=1e-4)
    assert run.updated[-1].mean == pytest.approx([level + 4 * slope, slope], abs=1e-4)
    # slope variance sigma^2 / sum (t - mean)^2
    assert run.updated[-1].covariance[1, 1] == pytest.approx(0.25 / 10, rel=1e-4)


def test_a_time_without_reading_only_spreads():
    walk = Transition(np.eye(1), np.eye(1))
    run = filtered(Belief(np.zeros(1), np.eye(1)), (walk, walk), (None, None, None))
    assert [b.covariance[0, 0] for b in run.updated] == [1, 2, 3]
