"""Length day by day, four ways kept apart: planned at the operation, prescribed now, reported, measured."""

from dataclasses import dataclass
from datetime import date

from limbwright.course.course import Treatment
from limbwright.course.schedule import Day, DayKind, schedule
from limbwright.course.visit import Visit
from limbwright.limb.anatomy import Bone
from limbwright.practice.profile import Profile
from limbwright.quantity import Measured, Value


@dataclass(frozen=True, slots=True, kw_only=True)
class LedgerDay(Value):
    """One day of one bone."""

    number: int
    """Days since the operation."""
    on: date
    """Calendar day."""
    planned_mm: float
    """Length to be gained by the end of this day as prescribed at the operation [mm]."""
    prescribed_mm: float
    """The same with all changes of the prescription [mm]."""
    steps_prescribed: int
    """Steps to make on this day, lengthening + [count]."""
    steps_reported: int
    """Steps made: the diary's, else as prescribed, lengthening + [count]."""
    written_down: bool
    """Whether the diary has this day."""
    change_mm: float
    """Change of length on this day by the steps reported, lengthening + [mm]."""
    reported_mm: float
    """Length gained by the end of this day by the steps reported [mm]."""
    corrected_mm: float
    """Part of the change that comes from a visit's own count of what was reported, against the diary [mm]."""
    measured: Measured | None
    """Length read on a film of this day [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledger(Value):
    """The days of one bone from the operation to a given day."""

    bone: Bone
    """Femur or tibia."""
    days: tuple[LedgerDay, ...]
    """Without gaps, day 0 first."""

    @property
    def last(self) -> LedgerDay:
        """The latest day."""
        return self.days[-1]

    @property
    def missed_steps(self) -> int:
        """Steps prescribed and not made, over all days."""
        return sum(max(0, _less(d)) for d in self.days)

    @property
    def extra_steps(self) -> int:
        """Steps made beyond those prescribed, over all days."""
        return sum(max(0, -_less(d)) for d in self.days)

    @property
    def wrong_direction_days(self) -> tuple[LedgerDay, ...]:
        """Days whose steps went against the prescription's direction."""
        return tuple(d for d in self.days if d.steps_reported * d.steps_prescribed < 0)

    def last_measured(self) -> LedgerDay | None:
        """The latest day with a film; None before the first."""
        return next((d for d in reversed(self.days) if d.measured is not None), None)


def _less(day: LedgerDay) -> int:
    sign = -1 if day.steps_prescribed < 0 else 1
    return sign * (day.steps_prescribed - day.steps_reported)


def ledger(treatment: Treatment, visits: tuple[Visit, ...], *, until: date, profile: Profile) -> Ledger:
    """Length of one bone day by day up to `until`.

    Parameters
    ----------
    treatment : Treatment
        Prescription, its changes and the diary.
    visits : tuple of Visit
        Films read at visits.
    until : date
        Last day of the ledger; not before the operation.
    profile : Profile
        Reading error of a gained length where a visit gives none.

    Notes
    -----
    A day the diary does not have counts as done as prescribed. A step reported on a day without prescribed
    steps has the size of the last step prescribed before it. Where a visit itself says how much was reported
    so far, the sum of the diary is corrected to it on that day.
    """
    bone = treatment.prescription.bone
    planned = schedule(treatment.prescription, treatment.operated_on)
    prescribed = treatment.days()
    diary = {entry.on: entry.steps for entry in treatment.diary}
    films = {visit.seen_on: _measured(visit, bone, profile) for visit in visits}
    counts = {visit.seen_on: _reported_mm(visit, bone) for visit in visits}
    rows: list[LedgerDay] = []
    step_mm = next((d.step_mm for d in prescribed if d.steps), treatment.prescription.phases[0].step_mm)
    steps_mm = 0.0
    for number in range(max(0, treatment.day_number(until)) + 1):
        now = prescribed[min(number, len(prescribed) - 1)]
        steps = _signed_steps(now) if now.number == number else 0
        step_mm = now.step_mm if now.number == number and now.steps else step_mm
        on = treatment.operated_on.fromordinal(treatment.operated_on.toordinal() + number)
        made = diary.get(on, steps)
        steps_mm += made * step_mm
        count = counts.get(on)
        corrected = 0.0 if count is None else count - steps_mm
        steps_mm += corrected
        rows.append(
            LedgerDay(
                number=number,
                on=on,
                planned_mm=planned[min(number, len(planned) - 1)].gained_mm,
                prescribed_mm=now.gained_mm,
                steps_prescribed=steps,
                steps_reported=made,
                written_down=on in diary,
                change_mm=round(made * step_mm + corrected, 6),
                reported_mm=round(steps_mm, 6),
                corrected_mm=round(corrected, 6),
                measured=films.get(on),
            )
        )
    return Ledger(bone=bone, days=tuple(rows))


def _signed_steps(day: Day) -> int:
    return -day.steps if day.kind is DayKind.REVERSE else day.steps


def _reported_mm(visit: Visit, bone: Bone) -> float | None:
    gain = visit.gained_of(bone)
    return None if gain is None else gain.reported_mm


def _measured(visit: Visit, bone: Bone, profile: Profile) -> Measured | None:
    gain = visit.gained_of(bone)
    if gain is None or gain.measured_mm is None:
        return None
    sd = profile.gap_reading_sd_mm if gain.measured_sd_mm is None else gain.measured_sd_mm
    return Measured(value=gain.measured_mm, sd=sd, unit="mm")
