"""Flexibility: symmetry, definiteness, and numerical quadrature of the same integral."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.mechanics import flexibility

THICK, THIN = 1 / 7.08e7, 1 / 2.21e7


def both(z, kind, step):
    return flexibility(z, kind, z, kind, step_depth_mm=step, thick_softness=THICK, thin_softness=THIN)


@given(
    st.lists(st.tuples(st.floats(1, 350), st.integers(0, 1)), min_size=1, max_size=8, unique_by=lambda t: t),
    st.floats(50, 300),
)
@settings(max_examples=60, deadline=None)
def test_symmetric_and_positive(rows, step):
    z, kind = np.array([r[0] for r in rows]), np.array([r[1] for r in rows])
    g = both(z, kind, step)
    assert g == pytest.approx(g.T, rel=1e-12, abs=1e-18)
    assert np.linalg.eigvalsh(g / np.sqrt(np.outer(g.diagonal(), g.diagonal()))).min() > -1e-9


@given(st.floats(1, 350), st.floats(1, 350), st.integers(0, 1), st.integers(0, 1), st.floats(50, 300))
@settings(max_examples=60, deadline=None)
def test_equals_quadrature_of_the_unit_load_integral(z1, z2, k1, k2, step):
    s = np.linspace(0, min(z1, z2), 20001)
    s = 0.5 * (s[1:] + s[:-1])
    softness = np.where(s < step, THICK, THIN)
    m1 = np.ones_like(s) if k1 else z1 - s
    m2 = np.ones_like(s) if k2 else z2 - s
    expected = float(np.sum(m1 * m2 * softness) * min(z1, z2) / len(s))
    got = flexibility(
        np.array([z1]),
        np.array([k1]),
        np.array([z2]),
        np.array([k2]),
        step_depth_mm=step,
        thick_softness=THICK,
        thin_softness=THIN,
    )[0, 0]
    assert got == pytest.approx(expected, rel=2e-4)


def test_the_compiled_pair_is_the_same_formula():
    from limbwright.mechanics.contact_kernel import JUMP, flexibility_pair

    rng = np.random.Generator(np.random.PCG64(5))
    z, kind = rng.uniform(1, 350, 40), rng.integers(0, 2, 40)
    g = both(z, kind, 270.0)
    compiled = [
        [flexibility_pair(a, i, b, j, 270.0, THICK, THIN) for b, j in zip(z, kind, strict=True)]
        for a, i in zip(z, kind, strict=True)
    ]
    assert np.array(compiled) == pytest.approx(g, rel=1e-10)
    assert flexibility_pair(10.0, JUMP, 20.0, 0, 270.0, THICK, THIN) == 0.0
