"""Calf release against the length gained in the tibia: from which length a release becomes likely."""

from dataclasses import dataclass

import numpy as np

from limbwright.practice.audit.columns import AuditColumns
from limbwright.practice.audit.logistic import NO_FIT, LogisticFit, Separated, logistic_fit
from limbwright.practice.audit.sample import TooFew
from limbwright.quantity import Value

METHOD = (
    "Logistic regression of calf release (at the operation or later) on the length gained in the tibia, by "
    "maximum likelihood; intervals by profile likelihood, band of the curve by Wald on the log-odds. Bones "
    "of one patient count as independent."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class CalfRelease(Value):
    """How likely a calf release is at which length."""

    n: int
    """Tibiae with a known length for which it was recorded whether the calf was released."""
    released: int
    """Tibiae whose calf was released."""
    cases: tuple[str, ...]
    """Their cases, released or not."""
    cases_released: tuple[str, ...]
    """Cases with a release."""
    fit: LogisticFit | Separated | TooFew
    """The fit, per mm of length gained; or why there is none."""
    method: str
    """How it was computed."""


def calf_release(columns: AuditColumns, *, min_events: int, confidence: float) -> CalfRelease:
    """Calf release against length gained over all tibiae.

    Parameters
    ----------
    columns : AuditColumns
        All treated bones.
    min_events : int
        Least number of tibiae with a release, and likewise without one.
    confidence : float
        Confidence of the intervals.
    """
    known = ~np.isnan(columns.calf_release) & ~np.isnan(columns.gained_mm)
    rows = np.flatnonzero(known & (columns.bone == "tibia"))
    released = columns.calf_release[rows] == 1
    with_release, without = int(np.count_nonzero(released)), int(np.count_nonzero(~released))
    fit: LogisticFit | Separated | TooFew
    if min(with_release, without) < min_events:
        kind = "with" if with_release <= without else "without"
        fit = TooFew(n=min(with_release, without), needed=min_events, of=f"tibiae {kind} calf release")
    else:
        fit = logistic_fit(columns.gained_mm[rows], released, confidence=confidence)
    return CalfRelease(
        n=len(rows),
        released=with_release,
        cases=columns.cases(rows),
        cases_released=columns.cases(rows[released]),
        fit=fit,
        method=f"{METHOD} {NO_FIT}",
    )
