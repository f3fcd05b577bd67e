import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from limbwright.plan.search.front import clearly_different, nondominated

ROWS = arrays(float, st.tuples(st.integers(1, 30), st.just(3)), elements=st.integers(0, 5).map(float))


@given(ROWS)
def test_the_front_is_what_nothing_beats(parts) -> None:
    flags = nondominated(parts)
    for i, row in enumerate(parts):
        beaten = any(np.all(other <= row) and np.any(other < row) for j, other in enumerate(parts) if j != i)
        assert flags[i] == (not beaten)


@given(ROWS, st.integers(1, 6))
def test_what_is_kept_is_clearly_different_and_starts_with_the_least_sum(parts, most) -> None:
    kept = clearly_different(parts, most)
    assert len(kept) == len(set(kept)) <= most
    assert parts[kept[0]].sum() == parts.sum(axis=1).min()
    for i, one in enumerate(kept):
        for other in kept[:i]:
            assert np.abs(parts[one] - parts[other]).max() >= 1.0


@given(ROWS)
def test_only_what_lies_near_a_kept_row_is_left_out(parts) -> None:
    kept = clearly_different(parts, len(parts))
    for i in set(range(len(parts))) - set(kept):
        assert min(np.abs(parts[i] - parts[k]).max() for k in kept) < 1.0
