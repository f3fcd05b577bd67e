"""The prescription day by day: steps, length gained, film days.

Lengths are added up as decimal fractions, so that 140 steps of 0.25 mm are 35 mm and nothing else.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_FLOOR, Decimal
from enum import StrEnum

from limbwright.course.amendment import Amendment
from limbwright.course.prescription import Phase, PhaseKind, Prescription
from limbwright.error import Missing, Refused
from limbwright.limb.anatomy import Bone
from limbwright.quantity import Value

LONGEST_SCHEDULE_DAYS = 2000


class DayKind(StrEnum):
    """What a day of the schedule is for."""

    OPERATION = "operation"
    LATENCY = "latency"
    LENGTHENING = "lengthening"
    HOLD = "hold"
    REVERSE = "reverse"
    AFTER = "consolidation"


_Move = tuple[DayKind, str, int, Decimal]
_AFTER: _Move = (DayKind.AFTER, DayKind.AFTER.value, 0, Decimal(0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Day(Value):
    """One day of one bone's schedule."""

    number: int
    """Days since the operation; the operation is day 0."""
    on: date
    """Calendar day."""
    kind: DayKind
    """What the day is for."""
    phase: str
    """Name of the prescription's phase; the kind's word outside the phases."""
    steps: int
    """Steps to make on this day."""
    step_mm: float
    """Size of each step, never negative; 0 when there are none [mm]."""
    change_mm: float
    """Change of length on this day, lengthening + [mm]."""
    gained_mm: float
    """Length gained by the end of this day, if every step is made [mm]."""
    film: bool
    """Whether a film is due."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BothBones(Value):
    """One calendar day of two bones that are lengthened at once or one after the other."""

    on: date
    """Calendar day."""
    days: tuple[Day | None, ...]
    """The day of each bone, in the order asked for; None outside that bone's schedule."""
    gained_mm: float
    """Length gained by all bones together [mm]."""


def schedule(
    prescription: Prescription, operated_on: date, amendments: tuple[Amendment, ...] = ()
) -> tuple[Day, ...]:
    """Every day from the operation to the film that confirms the length.

    Parameters
    ----------
    prescription : Prescription
        What was prescribed for one bone at the operation.
    operated_on : date
        Day of the operation, day 0.
    amendments : tuple of Amendment
        Changes since, in the order of their first days; each replaces everything after it.

    Returns
    -------
    tuple of Day
        Without gaps. The last day of lengthening carries fewer steps when the rest needs no more. No step is
        made that would pass the target, so the sum lies within one step below it. On the first day of an
        amendment the length gained starts from what that amendment counts as gained.

    Raises
    ------
    Refused
        If it would run longer than `LONGEST_SCHEDULE_DAYS`.

    Notes
    -----
    Days 1 to `latency_days` are latency; the first step is made on the day after. Films are due every
    `film_interval_days` from the operation on, or from an amendment that changes the interval; the last one
    is the first that falls on or after the last step. A phase that lengthens ends early when the target is
    reached, one that shortens when nothing is left to give back.
    """
    moves = [*_moves(prescription)]
    counted: dict[int, Decimal] = {}
    for amendment in amendments:
        moves += [_AFTER] * (amendment.from_day - len(moves))
        del moves[amendment.from_day :]
        start = _exact(amendment.gained_mm)
        counted = {day: mm for day, mm in counted.items() if day < amendment.from_day}
        counted[amendment.from_day] = start
        moves += _phase_moves(
            amendment.phases,
            bone=prescription.bone,
            target=_exact(amendment.target_mm),
            gained=start,
            count=len(moves) - 1,
        )
    last_step = max((number for number, move in enumerate(moves) if move[2]), default=0)
    intervals = _film_intervals(prescription, amendments)
    last_film = last_step
    while last_step and not _film_due(last_film, intervals):
        last_film += 1
    end = max(len(moves) - 1, last_film, *counted)
    days = []
    gained = Decimal(0)
    for number in range(end + 1):
        kind, phase, steps, step = moves[number] if number < len(moves) else _AFTER
        change = steps * step * (-1 if kind is DayKind.REVERSE else 1)
        gained = counted.get(number, gained) + change
        days.append(
            Day(
                number=number,
                on=operated_on + timedelta(days=number),
                kind=kind,
                phase=phase,
                steps=steps,
                step_mm=float(step) if steps else 0.0,
                change_mm=float(change),
                gained_mm=float(gained),
                film=0 < number <= last_film and _film_due(number, intervals),
            )
        )
    return tuple(days)


def _film_intervals(
    prescription: Prescription, amendments: tuple[Amendment, ...]
) -> tuple[tuple[int, int], ...]:
    """Day from which films are counted and the interval, in order."""
    changed = [(a.from_day - 1, a.film_interval_days) for a in amendments if a.film_interval_days is not None]
    return ((0, prescription.film_interval_days), *changed)


def _film_due(number: int, intervals: tuple[tuple[int, int], ...]) -> bool:
    anchor, interval = next(
        ((day, every) for day, every in reversed(intervals) if number > day), intervals[0]
    )
    return number > 0 and (number - anchor) % interval == 0


def first_step_day(days: tuple[Day, ...]) -> Day:
    """The first day with a step.

    Raises
    ------
    Missing
        If no day has one.
    """
    for day in days:
        if day.steps:
            return day
    raise Missing(
        f"no step among {len(days)} days.",
        where="schedule",
        next_step="Prescribe a target of at least one step.",
    )


def last_distraction_day(days: tuple[Day, ...]) -> Day:
    """The last day on which the bone is lengthened.

    Raises
    ------
    Missing
        If no day lengthens.
    """
    for day in reversed(days):
        if day.change_mm > 0:
            return day
    raise Missing(
        f"no day of lengthening among {len(days)} days.",
        where="schedule",
        next_step="Prescribe a target of at least one step.",
    )


def film_days(days: tuple[Day, ...]) -> tuple[Day, ...]:
    """The days on which a film is due."""
    return tuple(day for day in days if day.film)


def side_by_side(
    schedules: tuple[tuple[Bone, tuple[Day, ...]], ...],
) -> tuple[BothBones, ...]:
    """Schedules of several bones on one calendar, from the first operation to the last film.

    Parameters
    ----------
    schedules : tuple of (Bone, tuple of Day)
        Each bone's own schedule; staged bones have their own operation dates.

    Notes
    -----
    Before its operation a bone has gained nothing; after its schedule it keeps what it gained.
    """
    if not schedules:
        return ()
    by_date = [{day.on: day for day in days} for _, days in schedules]
    first = min(days[0].on for _, days in schedules)
    last = max(days[-1].on for _, days in schedules)
    gained = [0.0] * len(schedules)
    table = []
    for offset in range((last - first).days + 1):
        on = first + timedelta(days=offset)
        today = tuple(days.get(on) for days in by_date)
        gained = [day.gained_mm if day else kept for day, kept in zip(today, gained, strict=True)]
        table.append(BothBones(on=on, days=today, gained_mm=float(sum(map(_exact, gained)))))
    return tuple(table)


def _moves(prescription: Prescription) -> Iterator[_Move]:
    """Kind, phase, steps and step size of every day from the operation on."""
    yield DayKind.OPERATION, DayKind.OPERATION.value, 0, Decimal(0)
    for _ in range(prescription.latency_days):
        yield DayKind.LATENCY, DayKind.LATENCY.value, 0, Decimal(0)
    yield from _phase_moves(
        prescription.phases,
        bone=prescription.bone,
        target=_exact(prescription.target_mm),
        gained=Decimal(0),
        count=prescription.latency_days,
    )


def _phase_moves(
    phases: tuple[Phase, ...], *, bone: Bone, target: Decimal, gained: Decimal, count: int
) -> Iterator[_Move]:
    """The days of these phases, `gained` being there before them and `count` days having passed."""
    for phase in phases:
        step = _exact(phase.step_mm)
        done = 0
        while phase.days is None or done < phase.days:
            steps = _steps(phase, step, gained=gained, target=target)
            if phase.kind.sign and not steps:
                break
            done += 1
            count += 1
            if count > LONGEST_SCHEDULE_DAYS:
                raise Refused(
                    f"the schedule would run longer than {LONGEST_SCHEDULE_DAYS} days.",
                    where=f"prescription, {bone}, {phase.words}",
                    next_step="Prescribe larger steps, more steps a day, or less length.",
                )
            gained += phase.kind.sign * steps * step
            yield _day_kind(phase.kind), phase.words, steps, step


def _day_kind(kind: PhaseKind) -> DayKind:
    """What a day of a phase is for."""
    waiting = {PhaseKind.LATENCY: DayKind.LATENCY, PhaseKind.CONSOLIDATION: DayKind.AFTER}
    by_sign = {1: DayKind.LENGTHENING, 0: DayKind.HOLD, -1: DayKind.REVERSE}
    return waiting.get(kind, by_sign[kind.sign])


def _steps(phase: Phase, step: Decimal, *, gained: Decimal, target: Decimal) -> int:
    """Steps of one day: the rhythm, or what is left to gain or to give back."""
    if phase.kind.sign == 0:
        return 0
    left = target - gained if phase.kind.sign > 0 else gained
    return min(phase.steps_per_day, max(0, int((left / step).to_integral_value(ROUND_FLOOR))))


def _exact(length_mm: float) -> Decimal:
    """The decimal fraction as it was written, 0.33 for 0.33."""
    return Decimal(str(length_mm))
