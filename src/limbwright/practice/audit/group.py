"""Treated bones sorted into groups by bone, entry, age and level of the osteotomy."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np

from limbwright.practice.audit.columns import BONES, ENTRIES, LEVELS, AuditColumns, Rows
from limbwright.quantity import Value


class By(StrEnum):
    """What bones are told apart by."""

    BONE = "bone"
    ENTRY = "entry"
    AGE = "age"
    LEVEL = "level"


@dataclass(frozen=True, slots=True, kw_only=True)
class Group(Value):
    """Which treated bones; an empty text means all of them in that respect."""

    bone: str = ""
    """`femur` or `tibia`."""
    entry: str = ""
    """`antegrade` or `retrograde`."""
    age: str = ""
    """Ages in words, such as `16 to under 30 years`."""
    level: str = ""
    """Zone of the osteotomy."""

    @property
    def words(self) -> str:
        """The group in words, `all bones` when nothing is told apart."""
        parts = (self.bone, self.entry, self.age, self.level)
        return ", ".join(part for part in parts if part) or "all bones"


def groups(
    columns: AuditColumns, rows: Rows, by: tuple[By, ...], *, age_cuts_years: tuple[float, ...]
) -> Iterator[tuple[Group, Rows]]:
    """The groups that occur, each with its rows; a bone for which a respect was not recorded is in none.

    Parameters
    ----------
    columns : AuditColumns
        All treated bones.
    rows : (m,) integers
        Rows to sort.
    by : tuple of By
        Respects in the order in which groups are listed.
    age_cuts_years : tuple of float
        Ages at which one age group ends and the next begins, rising. [years]
    """
    code = np.zeros(len(rows), dtype=np.intp)
    known = np.ones(len(rows), dtype=np.bool_)
    labels: list[tuple[str, ...]] = []
    for respect in by:
        own, names = _codes(columns, rows, respect, age_cuts_years)
        known &= own >= 0
        code = code * len(names) + own
        labels.append(names)
    kept, code = rows[known], code[known]
    order = np.argsort(code, kind="stable")
    found, starts = np.unique(code[order], return_index=True)
    for one, members in zip(found.tolist(), np.split(kept[order], starts[1:]), strict=False):
        words = {}
        rest = one
        for respect, names in zip(reversed(by), reversed(labels), strict=True):
            rest, index = divmod(rest, len(names))
            words[respect.value] = names[index]
        yield Group(**words), members


def age_labels(age_cuts_years: tuple[float, ...]) -> tuple[str, ...]:
    """Age groups in words, `under 16 years`, `16 to under 30 years`, `30 years and over`."""
    if not age_cuts_years:
        return ("all ages",)
    between = pairwise(age_cuts_years)
    return (
        f"under {age_cuts_years[0]:g} years",
        *(f"{low:g} to under {high:g} years" for low, high in between),
        f"{age_cuts_years[-1]:g} years and over",
    )


def _codes(
    columns: AuditColumns, rows: Rows, respect: By, age_cuts_years: tuple[float, ...]
) -> tuple[Rows, tuple[str, ...]]:
    """Place of each row among the names of a respect; -1 when it was not recorded."""
    if respect is By.AGE:
        ages = columns.age_years[rows]
        place = np.searchsorted(np.asarray(age_cuts_years), ages, side="right")
        return np.where(np.isnan(ages), -1, place), age_labels(age_cuts_years)
    words = getattr(columns, respect.value)[rows]
    names = {By.BONE: BONES, By.ENTRY: ENTRIES, By.LEVEL: LEVELS}[respect]
    own = np.full(len(rows), -1, dtype=np.intp)
    for index, name in enumerate(names):
        own[words == name] = index
    return own, names
