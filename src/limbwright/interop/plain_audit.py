"""The practice audit as plain JSON objects: every number with its n and its method, directions as words."""

from typing import Any

from limbwright.interop.plain import directed_plain, finding_plain
from limbwright.practice.audit.accuracy import Accuracy, Agreement
from limbwright.practice.audit.audit import PracticeAudit
from limbwright.practice.audit.calf_release import CalfRelease
from limbwright.practice.audit.complication import ComplicationRate
from limbwright.practice.audit.drift import PLANES, DriftComparison, DriftDifference, MeanDifference
from limbwright.practice.audit.funnel import Funnel, FunnelPeriod, FunnelPoint
from limbwright.practice.audit.group import Group
from limbwright.practice.audit.healing_curve import Curve, HealingCurve
from limbwright.practice.audit.healing_index import HealingIndex
from limbwright.practice.audit.logistic import LogisticFit, Separated
from limbwright.practice.audit.offer import Offer
from limbwright.practice.audit.proportion import Proportion
from limbwright.practice.audit.sample import Interval, TooFew
from limbwright.practice.audit.spread import Spread
from limbwright.quantity import Sense, directed

Plain = dict[str, Any]
Senses = tuple[Sense, Sense]


def audit_plain(results: PracticeAudit, offers: tuple[Offer, ...]) -> Plain:
    """A whole audit with its offers to the profile."""
    return {
        "treated_bones": results.n,
        "cases": list(results.cases),
        "confidence": results.confidence,
        "healing_index": [_index(one) for one in results.healing_index],
        "adult_healing_index": [_index(one) for one in results.adult_healing_index],
        "healing_curves": [_curve(one) for one in results.healing_curves],
        "accuracy": [_accuracy(one) for one in results.accuracy],
        "drift_and_blocking_screws": [_drift(one) for one in results.drift],
        "calf_release": _calf_release(results.calf_release),
        "complications": [_rate(one) for one in results.complications],
        "periods": [_funnel(one) for one in results.funnels],
        "offers": [offer_plain(one) for one in offers],
        "findings": [finding_plain(one) for one in results.findings],
    }


def cases_shortened(plain: Any, most: int) -> Any:
    """The same with no more than `most` cases in each list of cases; `…_in_all` says how many there are.

    A page shows the first ones as links; the CSV and the whole answer have every case.
    """
    if isinstance(plain, list):
        return [cases_shortened(item, most) for item in plain]
    if not isinstance(plain, dict):
        return plain
    short: Plain = {}
    for key, value in plain.items():
        if key.startswith("cases") and isinstance(value, list):
            short |= {key: value[:most], f"{key}_in_all": len(value)}
        else:
            short[key] = cases_shortened(value, most)
    return short


def offer_plain(offer: Offer) -> Plain:
    """One offer to the practice profile."""
    return {
        "setting": offer.setting,
        "unit": offer.unit,
        "present": offer.present,
        "own": offer.own,
        "interval": _ends(offer.interval),
        "n": offer.n,
        "cases": list(offer.cases),
        "present_is_plausible": offer.present_is_plausible,
        "why": offer.why,
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 6)


def _ends(interval: Interval | None) -> Plain | None:
    return None if interval is None else {"low": _rounded(interval.low), "high": _rounded(interval.high)}


def _signed(value: float, unit: str, senses: Senses) -> Plain:
    # Statistics keep more digits than a reading: only an exact nothing has no direction.
    return directed_plain(directed(value, unit=unit, senses=senses, zero_below=5e-5))


def _signed_ends(interval: Interval, unit: str, senses: Senses) -> Plain:
    ends = {"low": interval.low, "high": interval.high}
    return {name: None if end is None else _signed(end, unit, senses) for name, end in ends.items()}


def _refusal(answer: TooFew | Separated) -> Plain:
    if isinstance(answer, TooFew):
        return {"refused": answer.words, "n": answer.n, "needed": answer.needed}
    return {"refused": answer.words}


def _group(group: Group) -> Plain:
    parts = {"bone": group.bone, "entry": group.entry, "age": group.age, "level": group.level}
    return {"words": group.words, **{name: part for name, part in parts.items() if part}}


def _share(share: Proportion | TooFew) -> Plain:
    if isinstance(share, TooFew):
        return _refusal(share)
    return {
        "count": share.count,
        "n": share.n,
        "share": _rounded(share.share),
        "interval": _ends(share.interval),
    }


def _index(one: HealingIndex) -> Plain:
    answer = one.days_per_cm
    numbers = (
        {
            "median": _rounded(answer.median),
            "median_interval": _ends(answer.median_interval),
            "lower_quartile": _rounded(answer.lower_quartile),
            "upper_quartile": _rounded(answer.upper_quartile),
            "mean": _rounded(answer.mean),
            "mean_interval": _ends(answer.mean_interval),
            "sd": _rounded(answer.sd),
            "sd_interval": _ends(answer.sd_interval),
        }
        if isinstance(answer, Spread)
        else _refusal(answer)
    )
    return {
        "group": _group(one.group),
        "n": one.n,
        "not_healed": one.not_healed,
        "days_per_cm": numbers,
        "cases": list(one.cases),
        "method": one.method,
    }


def _curve(one: HealingCurve) -> Plain:
    answer = one.curve
    curve = (
        {
            "days": list(answer.days),
            "at_risk": list(answer.at_risk),
            "healed_share": [_rounded(share) for share in answer.healed_share],
            "low_share": [_rounded(share) for share in answer.low_share],
            "high_share": [_rounded(share) for share in answer.high_share],
            "followed_to_days": answer.followed_to_days,
            "median_days": answer.median_days,
            "median_interval": _ends(answer.median_interval),
        }
        if isinstance(answer, Curve)
        else _refusal(answer)
    )
    return {
        "group": _group(one.group),
        "n": one.n,
        "healed": one.healed,
        "curve": curve,
        "cases": list(one.cases),
        "method": one.method,
    }


def _accuracy(one: Accuracy) -> Plain:
    unit, senses, answer = one.outcome.unit, one.outcome.senses, one.agreement
    agreement = (
        {
            "bias": _signed(answer.bias, unit, senses),
            "bias_interval": _signed_ends(answer.bias_interval, unit, senses),
            f"precision_sd_{unit}": _rounded(answer.precision_sd),
            f"precision_sd_interval_{unit}": _ends(answer.precision_interval),
            "lower_limit": _signed(answer.lower_limit, unit, senses),
            "lower_limit_interval": _signed_ends(answer.lower_limit_interval, unit, senses),
            "upper_limit": _signed(answer.upper_limit, unit, senses),
            "upper_limit_interval": _signed_ends(answer.upper_limit_interval, unit, senses),
            "within_tolerance": _share(answer.within_tolerance),
        }
        if isinstance(answer, Agreement)
        else _refusal(answer)
    )
    return {
        "outcome": one.outcome.value,
        "group": _group(one.group),
        f"tolerance_{unit}": one.tolerance,
        "n": one.n,
        "agreement": agreement,
        "cases": list(one.cases),
        "method": one.method,
    }


def _drift(one: DriftComparison) -> Plain:
    answer = one.drift
    return {
        "group": _group(one.group),
        "plane": one.plane,
        "limit_deg": one.limit_deg,
        "n_with": one.n_with,
        "n_without": one.n_without,
        "drift": _drift_difference(answer, PLANES[one.plane])
        if isinstance(answer, DriftDifference)
        else _refusal(answer),
        "cases_with": list(one.cases_with),
        "cases_without": list(one.cases_without),
        "method": one.method,
    }


def _drift_difference(answer: DriftDifference, senses: Senses) -> Plain:
    signed, size = answer.signed_deg, answer.size_deg
    return {
        "mean_with": _signed(signed.with_screws, "deg", senses),
        "mean_without": _signed(signed.without_screws, "deg", senses),
        "with_minus_without": _signed(signed.difference, "deg", senses),
        "with_minus_without_interval": _signed_ends(signed.interval, "deg", senses),
        "size_deg": _size(size),
        "beyond_limit_with": _share(answer.beyond_limit_with),
        "beyond_limit_without": _share(answer.beyond_limit_without),
        "beyond_limit_share_with_minus_without": _rounded(answer.beyond_limit_difference),
        "beyond_limit_share_interval": _ends(answer.beyond_limit_interval),
    }


def _size(size: MeanDifference) -> Plain:
    return {
        "with": _rounded(size.with_screws),
        "without": _rounded(size.without_screws),
        "with_minus_without": _rounded(size.difference),
        "interval": _ends(size.interval),
    }


def _calf_release(one: CalfRelease) -> Plain:
    return {
        "n": one.n,
        "released": one.released,
        "fit": _fit(one.fit) if isinstance(one.fit, LogisticFit) else _refusal(one.fit),
        "cases": list(one.cases),
        "cases_released": list(one.cases_released),
        "method": one.method,
    }


def _fit(fit: LogisticFit) -> Plain:
    ratio, ends = fit.odds_ratio(10)
    curve = fit.curve
    return {
        "intercept": _rounded(fit.intercept),
        "intercept_se": _rounded(fit.intercept_se),
        "slope_per_mm": _rounded(fit.slope),
        "slope_se_per_mm": _rounded(fit.slope_se),
        "slope_interval_per_mm": _ends(fit.slope_interval),
        "log_likelihood": _rounded(fit.log_likelihood),
        "odds_ratio_per_10_mm": _rounded(ratio),
        "odds_ratio_interval": _ends(ends),
        "even_chance_at_mm": _rounded(fit.even_at),
        "even_chance_interval_mm": _ends(fit.even_interval),
        "curve": {
            "gained_mm": [_rounded(x) for x in curve.x],
            "chance": [_rounded(p) for p in curve.chance],
            "low": [_rounded(p) for p in curve.low],
            "high": [_rounded(p) for p in curve.high],
        },
    }


def _rate(one: ComplicationRate) -> Plain:
    return {
        "event": one.event.value,
        "group": _group(one.group),
        "n": one.n,
        "events": one.events,
        "rate": _share(one.rate),
        "cases": list(one.cases),
        "cases_with": list(one.cases_with),
        "method": one.method,
    }


def _funnel(one: Funnel) -> Plain:
    return {
        "event": one.event,
        "n": one.n,
        "pooled": _share(one.pooled),
        "periods": [_period(period) for period in one.periods],
        "confidence": one.confidence,
        "method": one.method,
    }


def _period(period: FunnelPeriod) -> Plain:
    point = period.point
    found = (
        {
            "count": point.count,
            "share": _rounded(point.share),
            "limits": {"low": _rounded(point.low_share), "high": _rounded(point.high_share)},
            "far_limits": {"low": _rounded(point.far_low_share), "high": _rounded(point.far_high_share)},
            "place": point.place.value,
        }
        if isinstance(point, FunnelPoint)
        else _refusal(point)
    )
    return {
        "period": period.period,
        "n": period.n,
        "point": found,
        "cases": list(period.cases),
        "cases_with": list(period.cases_with),
    }
