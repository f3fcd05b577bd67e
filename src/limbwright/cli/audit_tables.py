"""The practice audit as tables on the terminal; where there are too few cases, words stand instead."""

from collections.abc import Iterator

from limbwright.cli import show
from limbwright.practice.audit.accuracy import Accuracy, Agreement
from limbwright.practice.audit.audit import PracticeAudit
from limbwright.practice.audit.drift import PLANES, DriftComparison, DriftDifference
from limbwright.practice.audit.funnel import Funnel, FunnelPoint
from limbwright.practice.audit.healing_curve import Curve, HealingCurve
from limbwright.practice.audit.healing_index import HealingIndex
from limbwright.practice.audit.logistic import LogisticFit
from limbwright.practice.audit.offer import Offer
from limbwright.practice.audit.proportion import Proportion
from limbwright.practice.audit.sample import Interval, TooFew
from limbwright.practice.audit.spread import Spread
from limbwright.quantity import Sense, directed

CURVE_DAYS = (90, 180, 270, 365)
Senses = tuple[Sense, Sense]
Row = tuple[str, ...]


def print_audit(results: PracticeAudit, offers: tuple[Offer, ...]) -> None:
    """Print every result of an audit and its offers to the profile."""
    percent = f"{100 * results.confidence:g} %"
    show.table(
        f"Healing index in days/cm, {percent} intervals",
        ("", "n", "median", "interval", "quartiles", "mean ± SD", "not healed"),
        [_index(one) for one in results.healing_index if not (one.group.age and one.group.level)],
        right=(1, 6),
    )
    show.table(
        f"Time to healing in days, {percent} band",
        ("", "n", "healed", "half by", "interval", *(f"by day {day}" for day in CURVE_DAYS)),
        [_curve(one) for one in results.healing_curves],
        right=(1, 2, 3),
    )
    show.table(
        f"End against plan, {percent} intervals",
        ("", "", "n", "bias", "interval", "precision", "limits of agreement", "within tolerance"),
        [_accuracy(one) for one in results.accuracy],
        right=(2,),
    )
    show.table(
        f"Drift with and without blocking screws, {percent} intervals",
        ("", "", "n with/without", "mean with", "mean without", "smaller by", "interval", "beyond limit"),
        [_drift(one) for one in results.drift],
    )
    show.table("Calf release against length gained", ("", ""), list(_calf(results)))
    show.table(
        f"Problems, obstacles, complications, exact {percent} intervals",
        ("", "", "n", "bones with", "share", "interval"),
        [(one.event.value, one.group.words, str(one.n), *_share(one.rate)) for one in results.complications],
        right=(2, 3, 4),
    )
    for funnel in results.funnels:
        show.table(
            f"By period: {funnel.event}, exact {percent} limits",
            ("", "n", "bones with", "share", "limits", ""),
            list(_periods(funnel)),
            right=(1, 2, 3),
        )
    if offers:
        show.table(
            "Offered to the practice profile; nothing is changed",
            ("setting", "present", "own", "interval", "n", "why"),
            [_offer(one) for one in offers],
            right=(1, 2, 4),
        )


def _span(interval: Interval | None, digits: int = 1) -> str:
    if interval is None:
        return ""
    low, high = ("open" if end is None else f"{end:.{digits}f}" for end in (interval.low, interval.high))
    return f"{low} to {high}"


def _percent_span(interval: Interval) -> str:
    low, high = ("open" if end is None else f"{100 * end:.1f}" for end in (interval.low, interval.high))
    return f"{low} to {high} %"


def _said(value: float | None, unit: str, senses: Senses) -> str:
    if value is None:
        return "open"
    shown = directed(value, unit=unit, senses=senses)
    word = "" if shown.direction is Sense.NONE else f" {shown.direction}"
    return f"{shown.magnitude:.1f} {unit}{word}"


def _said_span(interval: Interval, unit: str, senses: Senses) -> str:
    return f"{_said(interval.low, unit, senses)} to {_said(interval.high, unit, senses)}"


def _index(one: HealingIndex) -> Row:
    start, answer = (one.group.words, str(one.n)), one.days_per_cm
    if not isinstance(answer, Spread):
        return (*start, _needed(answer), "", "", "", str(one.not_healed))
    return (
        *start,
        f"{answer.median:.1f}",
        _span(answer.median_interval),
        f"{answer.lower_quartile:.1f} to {answer.upper_quartile:.1f}",
        f"{answer.mean:.1f} ± {answer.sd:.1f}",
        str(one.not_healed),
    )


def _needed(answer: TooFew) -> str:
    return f"{answer.n} of {answer.needed} needed"


def _curve(one: HealingCurve) -> Row:
    start, answer = (one.group.words, str(one.n), str(one.healed)), one.curve
    if not isinstance(answer, Curve):
        return (*start, _needed(answer), "", *("" for _ in CURVE_DAYS))
    half = "not reached" if answer.median_days is None else f"{answer.median_days:g}"
    return (*start, half, _span(answer.median_interval, 0), *(_by(answer, day) for day in CURVE_DAYS))


def _by(curve: Curve, day: int) -> str:
    """Share healed by a day with its band; nothing when no bone was followed so long."""
    if day > curve.followed_to_days and curve.healed_share[-1] < 1:
        return ""
    past = sum(at <= day for at in curve.days)
    if not past:
        return "0 %"
    low, share, high = (100 * s[past - 1] for s in (curve.low_share, curve.healed_share, curve.high_share))
    return f"{share:.0f} % ({low:.0f} to {high:.0f})"


def _accuracy(one: Accuracy) -> Row:
    start, answer = (one.outcome.value, one.group.words, str(one.n)), one.agreement
    if not isinstance(answer, Agreement):
        return (*start, _needed(answer), "", "", "", "")
    unit, senses = one.outcome.unit, one.outcome.senses
    within = answer.within_tolerance
    return (
        *start,
        _said(answer.bias, unit, senses),
        _said_span(answer.bias_interval, unit, senses),
        f"{answer.precision_sd:.1f} {unit}",
        _said_span(Interval(low=answer.lower_limit, high=answer.upper_limit), unit, senses),
        f"{100 * within.share:.0f} % (± {one.tolerance:g} {unit})",
    )


def _drift(one: DriftComparison) -> Row:
    start = (one.group.words, one.plane, f"{one.n_with}/{one.n_without}")
    answer, senses = one.drift, PLANES[one.plane]
    if not isinstance(answer, DriftDifference):
        return (*start, _needed(answer), "", "", "", "")
    held, free, size = answer.beyond_limit_with, answer.beyond_limit_without, answer.size_deg
    low, high = (None if end is None else -end for end in (size.interval.high, size.interval.low))
    return (
        *start,
        _said(answer.signed_deg.with_screws, "deg", senses),
        _said(answer.signed_deg.without_screws, "deg", senses),
        f"{-size.difference:.1f} deg",
        _span(Interval(low=low, high=high)),
        f"{held.count}/{held.n} against {free.count}/{free.n}",
    )


def _calf(results: PracticeAudit) -> Iterator[Row]:
    calf = results.calf_release
    yield "tibiae, released", f"{calf.n}, {calf.released}"
    if not isinstance(calf.fit, LogisticFit):
        yield "no curve", calf.fit.words
        return
    ratio, ends = calf.fit.odds_ratio(10)
    yield "odds ratio for each 10 mm", f"{ratio:.2f} ({_span(ends, 2)})"
    even = calf.fit.even_at
    yield (
        "half are released at",
        "outside the lengths seen" if even is None else f"{even:.1f} mm ({_span(calf.fit.even_interval)})",
    )


def _share(rate: Proportion | TooFew) -> Row:
    if isinstance(rate, TooFew):
        return "", _needed(rate), ""
    return str(rate.count), f"{100 * rate.share:.1f} %", _percent_span(rate.interval)


def _periods(funnel: Funnel) -> Iterator[Row]:
    for period in funnel.periods:
        point = period.point
        if not isinstance(point, FunnelPoint):
            yield period.period, str(period.n), "", "", _needed(point), ""
            continue
        limits = _percent_span(Interval(low=point.low_share, high=point.high_share))
        share = f"{100 * point.share:.1f} %"
        yield period.period, str(period.n), str(point.count), share, limits, point.place.value
    yield "all", str(funnel.n), *_share(funnel.pooled), ""


def _offer(offer: Offer) -> Row:
    return (
        offer.setting,
        f"{offer.present:g}",
        f"{offer.own:g} {offer.unit}",
        _span(offer.interval),
        str(offer.n),
        offer.why,
    )
