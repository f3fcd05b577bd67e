"""Which of many are worth comparing: the non-dominated ones, thinned to those that are clearly different."""

import numpy as np
import numpy.typing as npt

from limbwright.plan.motion import Floats

Flags = npt.NDArray[np.bool_]
GOOD = 0.25  # how much a good sum counts against being far from what is kept already


def nondominated(parts: Floats) -> Flags:
    """Which rows of (n, parts), less being better, no other row beats in every part, (n,).

    A row is beaten by one that is nowhere worse and somewhere better; of equal rows all stay.
    """
    # Of equal sums by rounding the smaller row comes first, part by part.
    left = np.lexsort((*parts.T[::-1], parts.sum(axis=1)))
    kept: list[int] = []
    while left.size:
        # The least sum of what is left is beaten by nothing: whatever beats it has a smaller sum.
        first, rest = left[0], left[1:]
        kept.append(int(first))
        row = parts[first]
        beaten = np.all(row <= parts[rest], axis=1) & np.any(row < parts[rest], axis=1)
        left = rest[~beaten]
    flags = np.zeros(len(parts), dtype=bool)
    flags[kept] = True
    return flags


def clearly_different(parts: Floats, most: int) -> list[int]:
    """Rows of (n, parts) far from each other, the least sum first.

    Parameters
    ----------
    parts : (n, parts)
        In units of what counts as clearly different.
    most : int
        Rows wanted; fewer come back when every other one lies within one unit of a kept one in every part.
    """
    total = parts.sum(axis=1)
    kept = [int(np.argmin(total))]
    distance = np.abs(parts - parts[kept[0]]).max(axis=1)
    while len(kept) < min(most, len(parts)):
        # Far from what is kept counts up to four units; beyond that a good one is worth more than a far one.
        worth = np.where(distance >= 1.0, np.minimum(distance, 4.0) - GOOD * total, -np.inf)
        best = int(np.argmax(worth))
        if not np.isfinite(worth[best]):
            break
        kept.append(best)
        distance = np.minimum(distance, np.abs(parts - parts[best]).max(axis=1))
    return kept
