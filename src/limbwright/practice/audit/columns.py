"""The columns the audit computes on: one row for each treated bone, filled in by `case` or by an edge.

Signs are those inside the package: varus +, procurvatum +, MAD medial +, lengthening +. NaN, NaT and the
empty text mean "not recorded"; nothing is guessed in their place.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, fields
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbwright.error import Contradiction, OutOfRange
from limbwright.quantity import Value

BONES = ("femur", "tibia")
ENTRIES = ("antegrade", "retrograde")
LEVELS = ("proximal metaphysis", "proximal shaft", "middle shaft", "distal shaft", "distal metaphysis")
"""Zones of a long bone from proximal to distal, as the examination names them."""
# name: lowest, highest, unit; anything beyond is a slip of the pen, not a patient
LIMITS = {
    "age_years": (0.0, 120.0, "years"),
    "followed_days": (0.0, 20_000.0, "days"),
    "planned_mm": (0.0, 250.0, "mm"),
    "gained_mm": (-250.0, 250.0, "mm"),
    "frontal_error_deg": (-90.0, 90.0, "deg"),
    "sagittal_error_deg": (-90.0, 90.0, "deg"),
    "mad_error_mm": (-300.0, 300.0, "mm"),
    "frontal_drift_deg": (-90.0, 90.0, "deg"),
    "sagittal_drift_deg": (-90.0, 90.0, "deg"),
    "blocking_screws": (0.0, 20.0, "screws"),
    "calf_release": (0.0, 1.0, "(0 = no, 1 = yes)"),
    "problems": (0.0, 100.0, "events"),
    "obstacles": (0.0, 100.0, "events"),
    "minor_complications": (0.0, 100.0, "events"),
    "major_complications": (0.0, 100.0, "events"),
}
WHOLE = (
    "blocking_screws",
    "calf_release",
    "problems",
    "obstacles",
    "minor_complications",
    "major_complications",
)

Floats = NDArray[np.float64]
Texts = NDArray[np.str_]
Truths = NDArray[np.bool_]
Rows = NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class TreatedBone(Value):
    """One row: one treated bone of one case. None and the empty text mean that it was not recorded."""

    case_id: str
    """Pseudonymous id of the case."""
    bone: str
    """`femur` or `tibia`."""
    entry: str = ""
    """`antegrade` or `retrograde`."""
    level: str = ""
    """Zone of the osteotomy in words, from `proximal metaphysis` to `distal metaphysis`."""
    age_years: float | None = None
    """Age at the operation [years]."""
    operated_on: date | None = None
    """Day of the operation."""
    followed_days: float | None = None
    """Days from the operation to consolidation, or to the last visit when not (yet) consolidated [days]."""
    healed: bool = False
    """Whether consolidation was seen; False = not seen by the last visit (censored)."""
    planned_mm: float | None = None
    """Length to gain, as planned or prescribed [mm]."""
    gained_mm: float | None = None
    """Length gained in the end, lengthening + [mm]."""
    frontal_error_deg: float | None = None
    """Frontal alignment at the end minus planned, varus + [deg]."""
    sagittal_error_deg: float | None = None
    """Sagittal alignment at the end minus planned, procurvatum + [deg]."""
    mad_error_mm: float | None = None
    """Mechanical axis deviation at the end minus planned, medial + [mm]."""
    frontal_drift_deg: float | None = None
    """Frontal angulation from the operation to full length, varus + [deg]."""
    sagittal_drift_deg: float | None = None
    """Sagittal angulation from the operation to full length, procurvatum + [deg]."""
    blocking_screws: int | None = None
    """Blocking screws in this bone."""
    calf_release: bool | None = None
    """Whether the calf was released, at the operation or later; tibia only."""
    problems: int | None = None
    """Difficulties resolved without an operation."""
    obstacles: int | None = None
    """Difficulties resolved by an operation before the end of treatment."""
    minor_complications: int | None = None
    """Minor complications: not resolved at the end, the goal is not touched."""
    major_complications: int | None = None
    """Major complications: not resolved at the end, they touch the goal or stay."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AuditColumns(Value):
    """All treated bones of a practice, one array of the same length for each field of `TreatedBone`."""

    case_id: Texts
    """Pseudonymous id of the case, (n,)."""
    bone: Texts
    """`femur` or `tibia`, (n,)."""
    entry: Texts
    """`antegrade`, `retrograde` or empty, (n,)."""
    level: Texts
    """Zone of the osteotomy in words, or empty, (n,)."""
    operated_on: NDArray[np.datetime64]
    """Day of the operation, (n,) datetime64[D]; NaT when not recorded."""
    healed: Truths
    """Whether consolidation was seen, (n,); False = censored at `followed_days`."""
    age_years: Floats
    """Age at the operation, (n,) [years]."""
    followed_days: Floats
    """Days from the operation to consolidation or to the last visit, (n,) [days]."""
    planned_mm: Floats
    """Length to gain, (n,) [mm]."""
    gained_mm: Floats
    """Length gained in the end, (n,) [mm]."""
    frontal_error_deg: Floats
    """Frontal alignment at the end minus planned, varus +, (n,) [deg]."""
    sagittal_error_deg: Floats
    """Sagittal alignment at the end minus planned, procurvatum +, (n,) [deg]."""
    mad_error_mm: Floats
    """Mechanical axis deviation at the end minus planned, medial +, (n,) [mm]."""
    frontal_drift_deg: Floats
    """Frontal angulation from the operation to full length, varus +, (n,) [deg]."""
    sagittal_drift_deg: Floats
    """Sagittal angulation from the operation to full length, procurvatum +, (n,) [deg]."""
    blocking_screws: Floats
    """Blocking screws, (n,) whole numbers or NaN."""
    calf_release: Floats
    """0 = not released, 1 = released, (n,), or NaN; tibia only."""
    problems: Floats
    """Difficulties resolved without an operation, (n,)."""
    obstacles: Floats
    """Difficulties resolved by an operation, (n,)."""
    minor_complications: Floats
    """Minor complications, (n,)."""
    major_complications: Floats
    """Major complications, (n,)."""
    _ids: NDArray[np.object_] = field(init=False, repr=False)
    """The case ids as text objects that every result shares, (n,)."""

    def __post_init__(self) -> None:
        for name in names():
            if name in LIMITS:
                kept = np.array(getattr(self, name), dtype=np.float64)
            elif name == "operated_on":
                kept = np.array(getattr(self, name), dtype="datetime64[D]")
            elif name == "healed":
                kept = np.array(getattr(self, name), dtype=np.bool_)
            else:
                kept = np.array(getattr(self, name), dtype=np.str_)
            kept.flags.writeable = False
            object.__setattr__(self, name, kept)
        object.__setattr__(self, "_ids", self.case_id.astype(object))
        self._require_one_length()
        self._require_words("bone", BONES)
        self._require_words("entry", (*ENTRIES, ""))
        self._require_words("level", (*LEVELS, ""))
        for name in LIMITS:
            self._require_numbers(name)
        self._require(
            ~(self.healed & np.isnan(self.followed_days)),
            "followed_days",
            found="consolidated, but not after how many days",
            expected="the days from the operation to consolidation",
        )
        self._require(
            np.isnan(self.calf_release) | (self.bone == "tibia"),
            "calf_release",
            found="a calf release entered for a femur",
            expected="none",
        )

    def __len__(self) -> int:
        return len(self.case_id)

    def cases(self, rows: Rows | Truths) -> tuple[str, ...]:
        """Ids of the cases of some rows, each once, in the order of the rows."""
        return tuple(dict.fromkeys(self._ids[rows].tolist()))

    def _require_one_length(self) -> None:
        shapes = {name: getattr(self, name).shape for name in names()}
        expected = self.case_id.shape
        for name, shape in shapes.items():
            if shape != expected or len(shape) != 1:
                raise Contradiction(
                    f"column {name} has shape {shape}, the case ids have {expected}.",
                    where=f"audit column {name}",
                    next_step="Give one value for each treated bone, NaN where it was not recorded.",
                )

    def _require_words(self, name: str, words: tuple[str, ...]) -> None:
        column = getattr(self, name)
        bad = ~np.isin(column, words)
        if bad.any():
            self._refuse(
                bad, name, found=repr(str(column[bad][0])), expected=" or ".join(w for w in words if w)
            )

    def _require_numbers(self, name: str) -> None:
        column = getattr(self, name)
        low, high, unit = LIMITS[name]
        # Comparisons with NaN are false, so "not recorded" passes; an infinite number does not.
        bad = (column < low) | (column > high)
        if name in WHOLE:
            bad |= np.floor(column) < column
        if bad.any():
            kind = "a whole number, " if name in WHOLE else ""
            found = f"{column[bad][0]:g} {unit}"
            self._refuse(bad, name, found=found, expected=f"{kind}{low:g} to {high:g} {unit}")

    def _require(self, good: Truths, name: str, *, found: str, expected: str) -> None:
        if not good.all():
            self._refuse(~good, name, found=found, expected=expected)

    def _refuse(self, bad: Truths, name: str, *, found: str, expected: str) -> None:
        row = int(np.flatnonzero(bad)[0])
        raise OutOfRange(
            f"{found}, expected {expected}; {int(bad.sum())} of {len(self)} rows are alike.",
            where=f"audit column {name}, case {str(self.case_id[row])!r}",
            next_step="Correct the case, or leave the value out.",
        )


def names() -> tuple[str, ...]:
    """Names of all columns, those of the fields of `TreatedBone`, in their order."""
    return tuple(one.name for one in fields(TreatedBone))


def columns_of(bones: Iterable[TreatedBone]) -> AuditColumns:
    """Rows as columns, in the order of the rows; what is None becomes NaN or NaT."""
    rows = tuple(bones)

    def texts(name: str) -> Texts:
        return np.array([getattr(row, name) for row in rows], dtype=np.str_)

    def numbers(name: str) -> Floats:
        values: Sequence[float | None] = [getattr(row, name) for row in rows]
        return np.array([np.nan if value is None else value for value in values], dtype=np.float64)

    days = [np.datetime64("NaT") if row.operated_on is None else row.operated_on for row in rows]
    columns: dict[str, Any] = {name: texts(name) for name in ("case_id", "bone", "entry", "level")}
    columns |= {name: numbers(name) for name in LIMITS}
    return AuditColumns(
        operated_on=np.array(days, dtype="datetime64[D]"),
        healed=np.array([row.healed for row in rows], dtype=np.bool_),
        **columns,
    )
