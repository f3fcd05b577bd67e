"""Filter, smoother and indices of the course against a general library, published series and habits."""

import numpy as np
import pytest
from filterpy.kalman import KalmanFilter

from limbwright.course.kalman import Belief, Reading, Transition, filtered, smoothed
from limbwright.course.state_model import Expectation, over_days, reading, start_of_course
from limbwright.limb.anatomy import Bone
from limbwright.practice.profile import Profile


def by_filterpy(start, transitions, readings):
    """The same run by filterpy's KalmanFilter: predict with its F and Q, update with its H and R."""
    kf = KalmanFilter(dim_x=len(start.mean), dim_z=1)
    kf.x, kf.P = start.mean.copy(), start.covariance.copy()
    means, covariances = [], []
    for index, one in enumerate(readings):
        if index:
            kf.predict(F=transitions[index - 1].matrix, Q=transitions[index - 1].noise)
        if one is not None:
            kf.dim_z = len(one.values)
            kf.update(one.values, R=one.noise, H=one.matrix)
        means.append(kf.x.copy())
        covariances.append(kf.P.copy())
    # filterpy's smoother takes as F[k + 1] and Q[k + 1] those of the step from k to k + 1
    back = kf.rts_smoother(
        np.array(means),
        np.array(covariances),
        Fs=[np.eye(len(start.mean)), *(t.matrix for t in transitions)],
        Qs=[np.zeros_like(start.covariance), *(t.noise for t in transitions)],
        inv=lambda m: np.linalg.pinv(m, hermitian=True),
    )
    return np.array(means), np.array(covariances), back[0], back[1]


def test_filter_and_smoother_against_filterpy_on_a_lengthening():
    """filterpy 1.4 (R. Labbe), KalmanFilter.predict, .update and .rts_smoother on the model of one tibia with
    four visits, one of them without a film of new bone and one without any film."""
    expected = Expectation(bone=Bone.TIBIA, age_years=30, target_mm=35)
    start = start_of_course(expected, Profile())
    changes = (0.0,) * 7 + (1.0,) * 4 + (0.75,) * 41
    transitions = tuple(over_days(changes[a:b]) for a, b in ((0, 14), (14, 28), (28, 30), (30, 42)))
    readings = (
        None,
        reading(length=(5.9, 0.9), varus=(-0.6, 1.4), procurvatum=(0.3, 1.4)),
        reading(length=(16.1, 0.9), varus=(-1.9, 1.4), procurvatum=(0.9, 1.4), ratio=(0.77, 0.03)),
        None,
        reading(length=(25.8, 0.5), varus=(-2.7, 1.4), procurvatum=(1.2, 1.4), ratio=(0.79, 0.03)),
    )
    run = filtered(start, transitions, readings)
    back = smoothed(run, transitions)
    means, covariances, smooth_means, smooth_covariances = by_filterpy(start, transitions, readings)
    assert np.array([b.mean for b in run.updated]) == pytest.approx(means, abs=1e-9)
    assert np.array([b.covariance for b in run.updated]) == pytest.approx(covariances, abs=1e-9)
    assert np.array([b.mean for b in back]) == pytest.approx(smooth_means, abs=1e-7)
    assert np.array([b.covariance for b in back]) == pytest.approx(smooth_covariances, abs=1e-7)


def test_filter_against_filterpy_on_random_systems():
    """filterpy 1.4 (R. Labbe) on ten random systems of four states and two readings."""
    rng = np.random.Generator(np.random.PCG64(7))
    for _ in range(10):
        q = rng.normal(size=(4, 4))
        step = Transition(np.eye(4) + 0.3 * rng.normal(size=(4, 4)), q @ q.T)
        read = tuple(
            Reading(rng.normal(size=2), rng.normal(size=(2, 4)), np.diag([0.5, 1.5])) for _ in range(6)
        )
        start = Belief(rng.normal(size=4), np.eye(4))
        run = filtered(start, (step,) * 5, read)
        back = smoothed(run, (step,) * 5)
        means, covariances, smooth_means, smooth_covariances = by_filterpy(start, (step,) * 5, read)
        assert np.array([b.mean for b in run.updated]) == pytest.approx(means, rel=1e-7, abs=1e-8)
        assert np.array([b.covariance for b in run.updated]) == pytest.approx(covariances, rel=1e-7, abs=1e-8)
        assert np.array([b.mean for b in back]) == pytest.approx(smooth_means, rel=1e-6, abs=1e-7)
        assert np.array([b.covariance for b in back]) == pytest.approx(smooth_covariances, rel=1e-6, abs=1e-7)
