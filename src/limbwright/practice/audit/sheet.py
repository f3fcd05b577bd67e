"""Results and columns as plain sheets, and a sheet as CSV text.

Numbers on a sheet are signed; the sheet says beside them, or in the column's name, what positive means.
No names: a case is its pseudonymous id, an age is in whole years, an operation has its quarter of the year.
"""

import csv
import io
import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from limbwright.practice.audit.accuracy import Agreement
from limbwright.practice.audit.audit import PracticeAudit
from limbwright.practice.audit.columns import LIMITS, AuditColumns, names
from limbwright.practice.audit.drift import PLANES, DriftDifference, MeanDifference
from limbwright.practice.audit.funnel import FunnelPoint, Period, period_numbers, period_words
from limbwright.practice.audit.group import Group
from limbwright.practice.audit.healing_curve import Curve
from limbwright.practice.audit.logistic import LogisticFit
from limbwright.practice.audit.offer import Offer
from limbwright.practice.audit.proportion import Proportion
from limbwright.practice.audit.sample import Interval, TooFew
from limbwright.practice.audit.spread import Spread
from limbwright.quantity import Value

Cell = str | float | int | bool | None
Cells = tuple[Cell, ...]
GROUP = ("bone", "entry", "age", "level")
# A spreadsheet takes a text that begins so for a formula.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
POSITIVE_MEANS = {
    "gained_mm": "lengthening",
    "frontal_error_deg": "varus",
    "sagittal_error_deg": "procurvatum",
    "mad_error_mm": "medial",
    "frontal_drift_deg": "varus",
    "sagittal_drift_deg": "procurvatum",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet(Value):
    """A table with a name, a header and rows of the header's length."""

    name: str
    """Name, fit for a file."""
    header: tuple[str, ...]
    """Names of the columns, with units."""
    rows: tuple[Cells, ...]
    """Rows; None = no number, and the column `refused` says why."""


def csv_text(sheet: Sheet, *, first_line: str) -> str:
    """A sheet as CSV: one line of words, which a reader of tables skips, then header and rows.

    Parameters
    ----------
    sheet : Sheet
        The table.
    first_line : str
        What must go with it: the caution. Line breaks in it become blanks.
    """
    out = io.StringIO()
    out.write("# " + " ".join(first_line.split()) + "\n")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(sheet.header)
    writer.writerows([_written(cell) for cell in row] for row in sheet.rows)
    return out.getvalue()


def _written(cell: Cell) -> str:
    match cell:
        case None:
            return ""
        case bool():
            return "yes" if cell else "no"
        case float() if math.isnan(cell):
            return ""
        case float():
            return f"{cell:.6g}"
        case str() if cell.startswith(FORMULA_STARTS):
            return "'" + cell
        case _:
            return str(cell)


def columns_sheet(columns: AuditColumns) -> Sheet:
    """The columns themselves, one row for each treated bone."""
    quarters = period_numbers(columns.operated_on, Period.QUARTER)
    dated = ~np.isnat(columns.operated_on)

    def cells(name: str) -> Iterable[Cell]:
        match name:
            case "operated_on":
                known = zip(quarters.tolist(), dated.tolist(), strict=True)
                return [period_words(q, Period.QUARTER) if on else None for q, on in known]
            case "age_years":
                return [None if math.isnan(age) else math.floor(age) for age in columns.age_years.tolist()]
            case _:
                values: list[Cell] = getattr(columns, name).tolist()
                return values

    return Sheet(
        name="treated_bones",
        header=tuple(_heading(name) for name in names()),
        rows=tuple(zip(*(cells(name) for name in names()), strict=True)),
    )


def _heading(name: str) -> str:
    if name == "operated_on":
        return "operated_in"
    if name == "age_years":
        return "age_whole_years"
    positive = POSITIVE_MEANS.get(name)
    return f"{name}_{positive}_positive" if positive and name in LIMITS else name


def result_sheets(results: PracticeAudit, offers: tuple[Offer, ...]) -> tuple[Sheet, ...]:
    """Every result of an audit as a sheet."""
    makers: tuple[Callable[[PracticeAudit], Sheet], ...] = (
        _healing_index,
        _healing_curve,
        _accuracy,
        _drift,
        _calf_release,
        _calf_release_curve,
        _complications,
        _periods,
    )
    return (*(make(results) for make in makers), _offers(offers))


def _of(group: Group) -> Cells:
    return group.bone or "all", group.entry, group.age, group.level


def _ends(interval: Interval) -> Cells:
    return interval.low, interval.high


def _refused(answer: object) -> str:
    return answer.words if isinstance(answer, TooFew) else ""


def _nothing(count: int) -> Cells:
    return (None,) * count


def _healing_index(results: PracticeAudit) -> Sheet:
    numbers = (
        *("median", "median_low", "median_high", "lower_quartile", "upper_quartile"),
        *("mean", "mean_low", "mean_high", "sd", "sd_low", "sd_high"),
    )

    def row(s: Spread) -> Cells:
        return (
            *(s.median, *_ends(s.median_interval), s.lower_quartile, s.upper_quartile),
            *(s.mean, *_ends(s.mean_interval), s.sd, *_ends(s.sd_interval)),
        )

    found = dict.fromkeys((*results.healing_index, *results.adult_healing_index))
    return Sheet(
        name="healing_index",
        header=(*GROUP, "n", "not_healed", *(f"{name}_days_per_cm" for name in numbers), "refused", "method"),
        rows=tuple(
            (
                *_of(one.group),
                one.n,
                one.not_healed,
                *(row(one.days_per_cm) if isinstance(one.days_per_cm, Spread) else _nothing(len(numbers))),
                _refused(one.days_per_cm),
                one.method,
            )
            for one in found
        ),
    )


def _healing_curve(results: PracticeAudit) -> Sheet:
    def rows() -> Iterator[Cells]:
        for one in results.healing_curves:
            start = (one.group.bone, one.n, one.healed)
            if not isinstance(one.curve, Curve):
                yield (*start, *_nothing(5), _refused(one.curve), one.method)
                continue
            c = one.curve
            for point in zip(c.days, c.at_risk, c.healed_share, c.low_share, c.high_share, strict=True):
                yield (*start, *point, "", one.method)

    numbers = ("day", "at_risk", "healed_share", "healed_share_low", "healed_share_high")
    return Sheet(
        name="healing_curve",
        header=("bone", "n", "healed", *numbers, "refused", "method"),
        rows=tuple(rows()),
    )


def _accuracy(results: PracticeAudit) -> Sheet:
    numbers = (
        *("bias", "bias_low", "bias_high", "precision_sd", "precision_sd_low", "precision_sd_high"),
        *("lower_limit", "lower_limit_low", "lower_limit_high"),
        *("upper_limit", "upper_limit_low", "upper_limit_high"),
        *("within_tolerance", "within_share", "within_share_low", "within_share_high"),
    )

    def row(a: Agreement) -> Cells:
        within = a.within_tolerance
        return (
            *(a.bias, *_ends(a.bias_interval), a.precision_sd, *_ends(a.precision_interval)),
            *(a.lower_limit, *_ends(a.lower_limit_interval)),
            *(a.upper_limit, *_ends(a.upper_limit_interval)),
            *(within.count, within.share, *_ends(within.interval)),
        )

    return Sheet(
        name="accuracy",
        header=("outcome", "unit", "positive_means", "bone", "n", "tolerance", *numbers, "refused", "method"),
        rows=tuple(
            (
                one.outcome.value,
                one.outcome.unit,
                one.outcome.senses[0].value,
                one.group.bone or "all",
                one.n,
                one.tolerance,
                *(row(one.agreement) if isinstance(one.agreement, Agreement) else _nothing(len(numbers))),
                _refused(one.agreement),
                one.method,
            )
            for one in results.accuracy
        ),
    )


def _drift(results: PracticeAudit) -> Sheet:
    mean = ("with_deg", "without_deg", "difference_deg", "difference_low_deg", "difference_high_deg")
    beyond = (
        *("beyond_limit_with", "beyond_limit_share_with", "beyond_limit_without"),
        *("beyond_limit_share_without", "share_difference", "share_difference_low", "share_difference_high"),
    )
    numbers = (*(f"signed_{name}" for name in mean), *(f"size_{name}" for name in mean), *beyond)

    def means(m: MeanDifference) -> Cells:
        return m.with_screws, m.without_screws, m.difference, *_ends(m.interval)

    def row(d: DriftDifference) -> Cells:
        held, free = d.beyond_limit_with, d.beyond_limit_without
        shares = (held.count, held.share, free.count, free.share, d.beyond_limit_difference)
        return (*means(d.signed_deg), *means(d.size_deg), *shares, *_ends(d.beyond_limit_interval))

    return Sheet(
        name="drift_and_blocking_screws",
        header=(
            *("bone", "plane", "positive_means", "limit_deg", "n_with", "n_without"),
            *(*numbers, "refused", "method"),
        ),
        rows=tuple(
            (
                *(one.group.bone, one.plane, PLANES[one.plane][0].value, one.limit_deg),
                *(one.n_with, one.n_without),
                *(row(one.drift) if isinstance(one.drift, DriftDifference) else _nothing(len(numbers))),
                *(_refused(one.drift), one.method),
            )
            for one in results.drift
        ),
    )


def _calf_release(results: PracticeAudit) -> Sheet:
    calf = results.calf_release
    numbers = (
        *("intercept", "intercept_se", "slope_per_mm", "slope_se_per_mm", "slope_low_per_mm"),
        *("slope_high_per_mm", "odds_ratio_per_10_mm", "odds_ratio_low", "odds_ratio_high"),
        *("even_chance_at_mm", "even_chance_low_mm", "even_chance_high_mm", "log_likelihood"),
    )
    cells = _nothing(len(numbers))
    refused = "" if isinstance(calf.fit, LogisticFit) else calf.fit.words
    if isinstance(calf.fit, LogisticFit):
        fit = calf.fit
        ratio, ends = fit.odds_ratio(10)
        even = (None, None) if fit.even_interval is None else _ends(fit.even_interval)
        cells = (
            *(fit.intercept, fit.intercept_se, fit.slope, fit.slope_se, *_ends(fit.slope_interval)),
            *(ratio, *_ends(ends), fit.even_at, *even, fit.log_likelihood),
        )
    return Sheet(
        name="calf_release",
        header=("n", "released", *numbers, "refused", "method"),
        rows=((calf.n, calf.released, *cells, refused, calf.method),),
    )


def _calf_release_curve(results: PracticeAudit) -> Sheet:
    fit = results.calf_release.fit
    points = (
        zip(fit.curve.x, fit.curve.chance, fit.curve.low, fit.curve.high, strict=True)
        if isinstance(fit, LogisticFit)
        else ()
    )
    return Sheet(
        name="calf_release_curve",
        header=("gained_mm", "chance", "chance_low", "chance_high"),
        rows=tuple(points),
    )


def _complications(results: PracticeAudit) -> Sheet:
    def rate(answer: Proportion | TooFew) -> Cells:
        if isinstance(answer, TooFew):
            return _nothing(4)
        return answer.count, answer.share, *_ends(answer.interval)

    return Sheet(
        name="complications",
        header=(
            *("event", "bone", "n", "events", "bones_with", "share", "share_low", "share_high"),
            *("refused", "method"),
        ),
        rows=tuple(
            (
                *(one.event.value, one.group.bone or "all", one.n, one.events, *rate(one.rate)),
                *(_refused(one.rate), one.method),
            )
            for one in results.complications
        ),
    )


def _periods(results: PracticeAudit) -> Sheet:
    numbers = ("bones_with", "share", "low_share", "high_share", "far_low_share", "far_high_share", "place")

    def row(p: FunnelPoint) -> Cells:
        limits = (p.low_share, p.high_share, p.far_low_share, p.far_high_share)
        return (p.count, p.share, *limits, p.place.value)

    def rows() -> Iterator[Cells]:
        for one in results.funnels:
            pooled = one.pooled.share if isinstance(one.pooled, Proportion) else None
            for period in one.periods:
                point = period.point
                cells = row(point) if isinstance(point, FunnelPoint) else _nothing(len(numbers))
                yield (one.event, period.period, period.n, pooled, *cells, _refused(point), one.method)

    return Sheet(
        name="periods",
        header=("event", "period", "n", "pooled_share", *numbers, "refused", "method"),
        rows=tuple(rows()),
    )


def _offers(offers: tuple[Offer, ...]) -> Sheet:
    return Sheet(
        name="offers",
        header=("setting", "unit", "present", "own", "own_low", "own_high", "n", "present_plausible", "why"),
        rows=tuple(
            (o.setting, o.unit, o.present, o.own, *_ends(o.interval), o.n, o.present_is_plausible, o.why)
            for o in offers
        ),
    )
