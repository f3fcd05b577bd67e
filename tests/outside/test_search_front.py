"""The non-dominated set against plain loops, and against a general library of computational geometry.

Definition: Pareto, Manuel d'économie politique, 1906 (value from memory): a choice is kept when no other one
is at least as good in everything and better in something.
"""

import math

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from limbwright.plan.search.front import nondominated


def by_loops(rows: list[list[float]]) -> list[bool]:
    kept = []
    for i, mine in enumerate(rows):
        beaten = False
        for j, other in enumerate(rows):
            if i == j:
                continue
            nowhere_worse, somewhere_better = True, False
            for a, b in zip(other, mine, strict=True):
                if a > b:
                    nowhere_worse = False
                if a < b:
                    somewhere_better = True
            if nowhere_worse and somewhere_better:
                beaten = True
        kept.append(not beaten)
    return kept


@pytest.mark.parametrize("parts", [2, 4, 8])
def test_the_same_set_as_plain_loops(parts: int) -> None:
    rng = np.random.Generator(np.random.PCG64(parts))
    # Rounded, so that equal rows and equal parts come up.
    rows = np.round(rng.random((120, parts)), 1)
    assert nondominated(rows).tolist() == by_loops(rows.tolist())


def test_sums_that_round_alike_do_not_keep_a_beaten_row() -> None:
    rows = np.array([[1e16, 1.0 + 1e-12], [1e16, 1.0], [0.0, 2.0]])
    assert nondominated(rows).tolist() == [False, True, True]


@pytest.mark.parametrize("parts", [2, 3])
def test_every_corner_of_the_lower_hull_is_kept(parts: int) -> None:
    """scipy's hull (Barber, Dobkin and Huhdanpaa, The quickhull algorithm for convex hulls, ACM Trans Math
    Softw 22(4), 1996, from memory): a corner of a facet that faces down in every part is the least of some
    positive weighting, so nothing beats it.
    """
    rng = np.random.Generator(np.random.PCG64(7))
    rows = rng.random((400, parts))
    hull = ConvexHull(rows)
    down = np.all(hull.equations[:, :-1] < 0, axis=1)
    corners = np.unique(hull.simplices[down])
    assert len(corners) >= 3
    assert nondominated(rows)[corners].all()


def test_the_share_kept_of_random_rows_is_the_expected_one() -> None:
    """Of n rows of two independent parts H(n) = 1 + 1/2 + ... + 1/n are kept on average (records of a random
    sequence; Bentley, Kung, Schkolnick and Thompson, On the average number of maxima in a set of vectors,
    J ACM 25(4), 1978, from memory).
    """
    rng = np.random.Generator(np.random.PCG64(11))
    counts = [int(nondominated(rng.random((50, 2))).sum()) for _ in range(400)]
    expected = sum(1 / k for k in range(1, 51))
    variance = sum(1 / k - 1 / k**2 for k in range(1, 51))
    assert abs(float(np.mean(counts)) - expected) < 4 * math.sqrt(variance / 400)
