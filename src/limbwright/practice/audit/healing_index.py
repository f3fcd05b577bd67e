"""Healing index of a practice: days from the operation to consolidation for each centimetre gained."""

from dataclasses import dataclass

import numpy as np

from limbwright.practice.audit.columns import AuditColumns, Floats, Truths
from limbwright.practice.audit.group import By, Group, groups
from limbwright.practice.audit.sample import TooFew
from limbwright.practice.audit.spread import METHOD, Spread, least_for_median, spread
from limbwright.quantity import Value

MM_PER_CM = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HealingIndex(Value):
    """Healing index of one group of treated bones."""

    group: Group
    """Which bones."""
    n: int
    """Bones that healed and gained enough to have an index."""
    not_healed: int
    """Bones of the group that were not seen to heal; they have no index, which makes the index look short."""
    cases: tuple[str, ...]
    """Cases of the bones that have an index."""
    days_per_cm: Spread | TooFew
    """Median, quartiles, mean and standard deviation [days/cm]."""
    method: str
    """How it was computed."""


def healing_indices(columns: AuditColumns, *, min_gained_mm: float) -> Floats:
    """Healing index of each bone; NaN when not healed, not recorded, or gained less than `min_gained_mm`.

    Returns
    -------
    (n,) float64
        Days from the operation to consolidation over centimetres gained. [days/cm]
    """
    counts = columns.healed & (columns.gained_mm >= min_gained_mm)
    index = np.full(len(columns), np.nan)
    index[counts] = columns.followed_days[counts] / (columns.gained_mm[counts] / MM_PER_CM)
    return index


def healing_index(
    columns: AuditColumns,
    *,
    by: tuple[By, ...],
    age_cuts_years: tuple[float, ...],
    min_gained_mm: float,
    min_n: int,
    confidence: float,
    among: Truths | None = None,
) -> tuple[HealingIndex, ...]:
    """Healing index of each group of treated bones.

    Parameters
    ----------
    columns : AuditColumns
        All treated bones.
    by : tuple of By
        What groups are told apart by.
    age_cuts_years : tuple of float
        Ages at which age groups meet. [years]
    min_gained_mm : float
        Least length gained for which an index means something. [mm]
    min_n : int
        Least number of bones with an index for which numbers are given.
    confidence : float
        Confidence of the intervals.
    among : (n,) bool, optional
        Bones to look at; all unless given.

    Notes
    -----
    Counted from the operation, latency included; series that count from the end of lengthening give smaller
    numbers. Only bones seen to heal have an index: while others are still followed it looks too short, and
    the healing curve tells more.
    """
    index = healing_indices(columns, min_gained_mm=min_gained_mm)
    enough = max(min_n, least_for_median(confidence))
    rows = np.flatnonzero(np.ones(len(columns), dtype=np.bool_) if among is None else among)
    found = []
    for group, members in groups(columns, rows, by, age_cuts_years=age_cuts_years):
        with_index = members[~np.isnan(index[members])]
        n = len(with_index)
        found.append(
            HealingIndex(
                group=group,
                n=n,
                not_healed=int(np.count_nonzero(~columns.healed[members])),
                cases=columns.cases(with_index),
                days_per_cm=spread(index[with_index], confidence=confidence)
                if n >= enough
                else TooFew(n=n, needed=enough, of=f"{group.words}, healed"),
                method=f"Days from the operation to consolidation over cm gained, bones that gained "
                f"{min_gained_mm:g} mm or more. {METHOD}",
            )
        )
    return tuple(found)
