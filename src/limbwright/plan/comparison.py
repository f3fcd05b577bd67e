"""Strategies laid side by side: in what order they are judged, and which one comes out first.

They are compared criterion by criterion; the first one in which they differ decides. What lies within the
surgeon's tolerance counts as equal, so a criterion only speaks where it matters.
"""

from dataclasses import dataclass

from limbwright.plan.situation import LegSituation
from limbwright.plan.strategy import Strategy
from limbwright.practice.profile import Profile
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion(Value):
    """One figure of a strategy, as far as it counts against it."""

    name: str
    """What is judged."""
    against: float
    """How much counts against the strategy: excess over the tolerance, or the figure itself; 0 = nothing."""
    value: float
    """The figure itself."""
    unit: str
    """Its unit."""
    tolerance: float | None
    """What lies within it counts as nothing; None where every difference counts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison(Value):
    """Which strategy comes first, which second, and what decided."""

    first: int | None
    """Place in the list of the one recommended; None when the rules exclude them all."""
    second: int | None
    """Place of the runner-up; None when only one is left."""
    reason: str
    """Why the first was recommended, in plain words with numbers."""
    runner_up_reason: str
    """What the runner-up loses by."""


def deformity_left_deg(strategy: Strategy, profile: Profile) -> tuple[float, float]:
    """Largest angle that a strategy leaves, and how far angles left exceed the tolerances in all. [deg]"""
    largest = excess = 0.0
    for left in strategy.remaining:
        for angle, tolerance in (
            (left.frontal.magnitude, profile.angle_tolerance_deg),
            (left.sagittal.magnitude, profile.sagittal_tolerance_deg),
            (left.rotation.magnitude if left.rotation else 0.0, profile.rotation_tolerance_deg),
        ):
            largest = max(largest, angle)
            excess += max(0.0, angle - tolerance)
    return largest, excess


def criteria(
    strategy: Strategy, *, profile: Profile, alignment_counts: bool = True, knee_height_counts: bool = True
) -> tuple[Criterion, ...]:
    """What counts against a strategy, in the order in which it is judged.

    Parameters
    ----------
    strategy : Strategy
        The strategy.
    profile : Profile
        The surgeon's tolerances.
    alignment_counts : bool
        False when the deformity is to be left as it is.
    knee_height_counts : bool
        False when the knee does not bend, so that its height does not matter.
    """
    largest, excess = deformity_left_deg(strategy, profile)
    knee_mm = strategy.knee_height.magnitude
    return (
        Criterion(
            name="reasons against it",
            against=float(len(strategy.excluded) > 0),
            value=float(len(strategy.excluded)),
            unit="",
            tolerance=None,
        ),
        Criterion(
            name="distance from the wanted length",
            against=float(round(max(0.0, strategy.off_goal_mm - profile.length_tolerance_mm))),
            value=strategy.off_goal_mm,
            unit="mm",
            tolerance=profile.length_tolerance_mm,
        ),
        Criterion(
            name="deformity left",
            against=float(round(excess)) if alignment_counts else 0.0,
            value=largest,
            unit="deg",
            tolerance=profile.angle_tolerance_deg,
        ),
        Criterion(
            name="difference of knee height",
            against=float(round(max(0.0, knee_mm - profile.knee_height_tolerance_mm)))
            if knee_height_counts
            else 0.0,
            value=knee_mm,
            unit="mm",
            tolerance=profile.knee_height_tolerance_mm,
        ),
        Criterion(
            name="soft-tissue burden above one bone at its limit",
            against=round(max(0.0, strategy.burden_index - 1.0), 2),
            value=strategy.burden_index,
            unit="",
            tolerance=1.0,
        ),
        Criterion(
            name="nails",
            against=float(strategy.nails),
            value=float(strategy.nails),
            unit="",
            tolerance=None,
        ),
        Criterion(
            name="operations",
            against=float(strategy.operations),
            value=float(strategy.operations),
            unit="",
            tolerance=None,
        ),
        Criterion(
            name="soft-tissue burden",
            against=round(strategy.burden_index, 2),
            value=strategy.burden_index,
            unit="",
            tolerance=None,
        ),
        Criterion(
            name="expected days until healed",
            against=float(round(strategy.healed_typical_day)),
            value=strategy.healed_typical_day,
            unit="days",
            tolerance=None,
        ),
    )


def compare(
    strategies: tuple[Strategy, ...],
    *,
    situation: LegSituation,
    profile: Profile,
    alignment_counts: bool = True,
    knee_height_counts: bool = True,
) -> Comparison:
    """Lay strategies side by side and say which comes first and why.

    Equal strategies keep the order of the list.
    """
    judged = [
        criteria(s, profile=profile, alignment_counts=alignment_counts, knee_height_counts=knee_height_counts)
        for s in strategies
    ]
    order = sorted(range(len(strategies)), key=lambda i: tuple(c.against for c in judged[i]))
    allowed = [i for i in order if not strategies[i].excluded]
    if not allowed:
        return Comparison(
            first=None,
            second=None,
            reason="The rules exclude every strategy; see the reasons beside each.",
            runner_up_reason="",
        )
    first = allowed[0]
    if len(allowed) == 1:
        return Comparison(
            first=first,
            second=None,
            reason=f"{_opening(strategies[first], situation)} It is the only one the rules do not exclude.",
            runner_up_reason="",
        )
    second = allowed[1]
    won, lost = _decided(judged[first], judged[second], name=strategies[second].name)
    return Comparison(
        first=first,
        second=second,
        reason=f"{_opening(strategies[first], situation)} {won}",
        runner_up_reason=lost,
    )


def _decided(first: tuple[Criterion, ...], second: tuple[Criterion, ...], *, name: str) -> tuple[str, str]:
    """What decided between two strategies: why the first won, and what the second lost by."""
    differing = ((a, b) for a, b in zip(first, second, strict=True) if a.against != b.against)
    decided = next(differing, None)
    if decided is None:
        words = f"'{name}' is equal in every criterion."
        return words, words
    a, b = decided
    within = "" if a.tolerance is None else f" (tolerance {a.tolerance:g}{_spaced(a.unit)})"
    return (
        f"Decided by {a.name}: {_figure(a)} against {_figure(b)} of '{name}'{within}.",
        f"'{name}' comes second by {a.name}: {_figure(b)} instead of {_figure(a)}{within}.",
    )


def _opening(strategy: Strategy, situation: LegSituation) -> str:
    where = (
        f"The femur is {_short(situation.femur.short_mm)}, the tibia "
        f"{_short(situation.tibia.short_mm + situation.foot_short_mm)} with the foot"
        if situation.foot_short_mm
        else f"The femur is {_short(situation.femur.short_mm)}, the tibia {_short(situation.tibia.short_mm)}"
    )
    return f"{where}: '{strategy.name}' ends {strategy.off_goal_mm:.0f} mm from the wanted length."


def _short(mm: float) -> str:
    if round(mm) == 0:
        return "as long as the other"
    return f"{abs(mm):.0f} mm {'short' if mm > 0 else 'long'}"


def _spaced(unit: str) -> str:
    return {"": "", "deg": " degrees"}.get(unit, f" {unit}")


def _figure(criterion: Criterion) -> str:
    digits = 2 if criterion.unit == "" and criterion.name not in {"nails", "operations"} else 0
    digits = 1 if criterion.unit == "deg" else digits
    return f"{criterion.value:.{digits}f}{_spaced(criterion.unit)}"
