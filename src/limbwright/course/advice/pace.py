"""The rules taken together: what speaks for which pace, whether the next film comes sooner, a lesser goal."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from limbwright.course.advice.ankle import ankle
from limbwright.course.advice.comfort import pain, wound
from limbwright.course.advice.drift import drift
from limbwright.course.advice.fibula import fibula
from limbwright.course.advice.hardware import hardware, overlap
from limbwright.course.advice.knee import knee
from limbwright.course.advice.length import length
from limbwright.course.advice.nerve import nerve
from limbwright.course.advice.new_bone import new_bone
from limbwright.course.advice.overdue import overdue
from limbwright.course.advice.removal import removal
from limbwright.course.advice.said import Pace, Said, numbers
from limbwright.course.advice.weight import weight
from limbwright.course.schedule import last_distraction_day
from limbwright.course.standing import Standing
from limbwright.finding import Finding, Severity, ordered
from limbwright.plan.rule import rule_source
from limbwright.published import COMMON_PRACTICE
from limbwright.quantity import Value

RULES: tuple[Callable[[Standing], Iterator[Said]], ...] = (
    nerve,
    ankle,
    knee,
    length,
    overdue,
    drift,
    new_bone,
    fibula,
    hardware,
    overlap,
    pain,
    wound,
    weight,
    removal,
)
"""All rules of steering a bone, in the order in which equals are listed."""
TROUBLED = (Pace.REVERSE, Pace.HOLD, Pace.SLOW)


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice(Value):
    """What the rules say about one bone on one day."""

    pace: Pace
    """The pace the gravest reason speaks for; `keep` where none speaks for a change."""
    film_sooner: bool
    """Whether a reason speaks for a sooner film."""
    lesser_goal: bool
    """Whether reasons to slow or hold have stayed long enough to weigh a lesser goal."""
    findings: tuple[Finding, ...]
    """Everything the rules found, worst first."""


def advice(s: Standing, *, troubled_visits: int = 0, more: tuple[Said, ...] = ()) -> Advice:
    """All rules on one bone.

    Parameters
    ----------
    s : Standing
        The bone on that day.
    troubled_visits : int
        Visits in a row before this one at which the pace was to slow, hold or reverse.
    more : tuple of Said
        What other rules say about this bone, such as growth.
    """
    said = [*(one for rule in RULES for one in rule(s)), *more]
    paces = {one.pace for one in said if one.pace is not None}
    pace = next((p for p in Pace if p in paces), Pace.KEEP)
    sooner = s.lengthening and any(one.sooner for one in said)
    lesser = s.lengthening and pace in TROUBLED and troubled_visits + 1 >= s.profile.lesser_goal_visits
    because = tuple(one.finding.id for one in said if one.pace is pace)
    found = [one.finding for one in said]
    found += _summary(s, pace, because, paces)
    if sooner:
        found.append(_sooner(s))
    if lesser:
        found.append(_lesser(s, troubled_visits + 1))
    return Advice(pace=pace, film_sooner=sooner, lesser_goal=lesser, findings=ordered(tuple(found)))


def _summary(s: Standing, pace: Pace, because: tuple[str, ...], paces: set[Pace]) -> Iterator[Finding]:
    reasons = f" Reasons: {', '.join(because)}."
    against = (
        " Early bridging speaks for the opposite: weigh both."
        if pace in TROUBLED and Pace.QUICKEN in paces
        else ""
    )
    rate = numbers(("rate prescribed", s.rate_mm_per_day, "mm/d"))
    p = s.profile
    if pace is Pace.REVERSE:
        yield Finding(
            id="advice-reverse",
            severity=Severity.STOP,
            words=f"The rules speak for a stop of the {s.bone}, and for weighing to shorten it "
            f"again.{reasons}",
            next_step=f"Shortening is usually done at {p.reverse_rate_mm_per_day:g} mm a day, by the "
            "surgeon's "
            "order.",
            numbers=(*rate, *numbers(("reverse rate", p.reverse_rate_mm_per_day, "mm/d"))),
            rule="The gravest reason decides the pace.",
            source=rule_source(p, "reverse_rate_mm_per_day"),
        )
    elif pace is Pace.HOLD:
        yield Finding(
            id="advice-hold",
            severity=Severity.STOP,
            words=f"The rules speak for a rest of the {s.bone}.{reasons}{against}",
            next_step="Decide with the surgeon before the next dose; a rest moves the target by its days.",
            numbers=rate,
            rule="The gravest reason decides the pace.",
            source=COMMON_PRACTICE,
        )
    elif pace is Pace.SLOW:
        yield Finding(
            id="advice-slow",
            severity=Severity.CAUTION,
            words=f"The rules speak for a slower rate of the {s.bone}, now {s.rate_mm_per_day:g} mm a "
            f"day.{reasons}{against}",
            next_step=f"Consider {p.slowed_rate_mm_per_day:g} mm a day; see what it does to the target day.",
            numbers=(*rate, *numbers(("slowed rate", p.slowed_rate_mm_per_day, "mm/d"))),
            rule="The gravest reason decides the pace.",
            source=rule_source(p, "slowed_rate_mm_per_day"),
        )
    elif pace is Pace.QUICKEN:
        yield Finding(
            id="advice-quicken",
            severity=Severity.CAUTION,
            words=f"The rules speak for a quicker rate of the {s.bone}, now {s.rate_mm_per_day:g} mm a "
            f"day.{reasons}",
            next_step=f"Consider up to {p.quickened_rate_mm_per_day:g} mm a day; never beyond "
            f"{p.max_rate_mm_per_day:g}.",
            numbers=(*rate, *numbers(("quickened rate", p.quickened_rate_mm_per_day, "mm/d"))),
            rule="Early bridging without a reason against it speaks for a quicker rate.",
            source=rule_source(p, "quickened_rate_mm_per_day", "max_rate_mm_per_day"),
        )
    elif s.lengthening:
        last = last_distraction_day(s.days)
        yield Finding(
            id="advice-keep",
            severity=Severity.NOTE,
            words=f"Nothing speaks for another rate of the {s.bone}; as prescribed the last dose is on day "
            f"{last.number} ({last.on}).",
            next_step="Go on as prescribed.",
            numbers=(*rate, *numbers(("last day of lengthening", last.number, "d"))),
            rule="Without a reason to change, the prescription stays.",
            source=COMMON_PRACTICE,
        )


def _sooner(s: Standing) -> Finding:
    every = s.profile.film_interval_shortened_days
    return Finding(
        id="advice-film-sooner",
        severity=Severity.CAUTION,
        words=f"Something is to be watched: the next film of the {s.bone} may come on day {s.today + every} "
        f"({s.day_on(s.today + every)}), {every} days from now.",
        next_step="Give the appointment, or say why not.",
        numbers=numbers(("days to the next film", every, "d")),
        rule="While something is watched, films are film_interval_shortened_days apart.",
        source=rule_source(s.profile, "film_interval_shortened_days"),
    )


def _lesser(s: Standing, visits: int) -> Finding:
    gained, target = s.now.length.value, s.treatment.target_mm
    return Finding(
        id="advice-lesser-goal",
        severity=Severity.CAUTION,
        words=f"Reasons to slow or to hold have stayed for {visits} visits. {gained:.0f} of {target:g} mm "
        "are "
        f"gained; ending here leaves {target - gained:.0f} mm.",
        next_step="Weigh ending with what is gained (and a lift, or a later stage) against going on.",
        numbers=numbers(
            ("visits in a row", visits, ""), ("gained", gained, "mm"), ("prescribed", target, "mm")
        ),
        rule="After lesser_goal_visits visits in a row with reason to slow or hold, a lesser goal is "
        "weighed.",
        source=rule_source(s.profile, "lesser_goal_visits"),
    )
