"""Paths by dynamic programming against exhaustive search; places between columns against the formula."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.film.tracing.path import between_columns, smooth_paths
from limbwright.film.tracing.wall import smoothed


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_no_other_path_is_better(seed):
    rng = np.random.Generator(np.random.PCG64(seed))
    gain = rng.random((2, 5, 4)).astype(np.float32)
    paths = smooth_paths(gain, reach=1, stiffness=0.2)

    def total(kind, path):
        steps = np.diff(path)
        return sum(gain[kind, r, c] for r, c in enumerate(path)) - 0.2 * float((steps**2).sum())

    for kind in range(2):
        best = max(
            total(kind, p) for p in itertools.product(range(4), repeat=5) if np.abs(np.diff(p)).max() <= 1
        )
        assert total(kind, paths[kind]) == pytest.approx(best, abs=1e-5)


@settings(deadline=None)
@given(st.floats(3.0, 6.0))
def test_the_top_of_a_parabola_is_found_between_columns(top):
    gain = (10.0 - (np.arange(10) - top) ** 2).astype(np.float32)[None]
    column, height = between_columns(gain, np.array([round(top)]))
    assert column[0] == pytest.approx(top, abs=1e-3)
    assert height[0] == pytest.approx(10.0, abs=1e-3)


def test_smoothing_keeps_a_parabola_and_drops_an_outlier():
    depth = np.arange(80.0)
    curve = 2.0 + 0.05 * depth - 0.002 * depth**2
    value = curve.copy()
    value[40] += 5.0
    smooth, sd = smoothed(depth, value, np.ones(80, bool), half_mm=8.0)
    assert np.abs(smooth - curve).max() < 0.02
    assert np.isfinite(sd).all()


def test_a_steepest_point_lies_0765_blur_widths_inside():
    """The constant of the blur correction, by brute force: a blurred square root is steepest there."""
    from scipy.ndimage import gaussian_filter1d

    step, sigma = 0.002, 0.3
    x = np.arange(-3.0, 3.0, step)
    edge = np.sqrt(np.clip(x, 0.0, None))
    slope = gaussian_filter1d(edge, sigma / step, order=1)
    steepest = x[500:-500][slope[500:-500].argmax()]
    assert steepest / sigma == pytest.approx(0.765, abs=0.01)
