"""Everything from the operation on: which bone was operated on when, what was prescribed, what was seen."""

from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from limbwright.course.amendment import Amendment
from limbwright.course.complication import Complication
from limbwright.course.diary import DiaryEntry
from limbwright.course.prescription import Prescription
from limbwright.course.schedule import Day, schedule
from limbwright.course.score import Score
from limbwright.course.visit import Visit
from limbwright.error import Contradiction, Missing
from limbwright.implant.nail import Nail
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Treatment(Value):
    """One lengthened bone: its operation and its prescription. Staged bones have their own dates."""

    operated_on: date
    """Day of the operation, day 0 of the schedule."""
    prescription: Prescription
    """Latency, rate, rhythm and target of this bone."""
    amendments: tuple[Amendment, ...] = ()
    """Changes of the prescription, in the order of their first days."""
    diary: tuple[DiaryEntry, ...] = ()
    """Days on which the patient wrote down what was done, in the order of their dates."""
    nail: Nail | None = None
    """Nail really put in, where it is not the plan's."""
    consolidated_on: date | None = None
    """Day on which the new bone was called consolidated."""
    full_weight_on: date | None = None
    """Day from which full weight was allowed."""
    nail_removed_on: date | None = None
    """Day of the nail's removal."""

    def __post_init__(self) -> None:
        for index, (before, after) in enumerate(pairwise(self.amendments), start=1):
            if after.from_day <= before.from_day:
                raise Contradiction(
                    f"the change for day {after.from_day} is listed after the one for day {before.from_day}.",
                    where=f"amendments[{index}].from_day",
                    next_step="List changes by their first day, one for each day.",
                )
        for index, (entry, later) in enumerate(pairwise(self.diary), start=1):
            if later.on <= entry.on:
                raise Contradiction(
                    f"the diary's {later.on} is listed after {entry.on}.",
                    where=f"diary[{index}].on",
                    next_step="List the diary by date, one entry for each day.",
                )
        for name, day in (
            ("diary[0].on", self.diary[0].on if self.diary else None),
            ("consolidated_on", self.consolidated_on),
            ("full_weight_on", self.full_weight_on),
            ("nail_removed_on", self.nail_removed_on),
        ):
            if day is not None and day < self.operated_on:
                raise Contradiction(
                    f"{day} lies before the operation on {self.operated_on}.",
                    where=name,
                    next_step="Correct the date, or that of the operation.",
                )

    @property
    def target_mm(self) -> float:
        """Length to gain as prescribed last. [mm]"""
        return self.amendments[-1].target_mm if self.amendments else self.prescription.target_mm

    def days(self) -> tuple[Day, ...]:
        """Schedule with all changes."""
        return schedule(self.prescription, self.operated_on, self.amendments)

    def day_number(self, on: date) -> int:
        """Days since the operation."""
        return (on - self.operated_on).days


@dataclass(frozen=True, slots=True, kw_only=True)
class Course(Value):
    """Prescriptions and visits of one leg."""

    treatments: tuple[Treatment, ...]
    """One entry for each lengthened bone."""
    visits: tuple[Visit, ...] = ()
    """Follow-ups in the order of their dates."""
    complications: tuple[Complication, ...] = ()
    """Adverse events."""
    scores: tuple[Score, ...] = ()
    """Patient-reported scores, before and after."""
    ended_on: date | None = None
    """End of treatment; absent while it goes on."""

    def __post_init__(self) -> None:
        if not self.treatments:
            raise Missing(
                "a course without a treated bone.",
                where="treatments",
                next_step="Give the operation date and the prescription, or leave the course out.",
            )
        bones = [treatment.prescription.bone for treatment in self.treatments]
        if len(set(bones)) < len(bones):
            raise Contradiction(
                f"one bone is prescribed for twice ({', '.join(bones)}).",
                where="treatments",
                next_step="Keep one prescription for each bone.",
            )
        days = [visit.seen_on for visit in self.visits]
        for index, (earlier, later) in enumerate(pairwise(days), start=1):
            if later <= earlier:
                raise Contradiction(
                    f"the visit of {later} is listed after the one of {earlier}.",
                    where=f"visits[{index}].seen_on",
                    next_step="List visits by date, one for each day.",
                )
        first = min(treatment.operated_on for treatment in self.treatments)
        if days and days[0] < first:
            raise Contradiction(
                f"a visit on {days[0]}, before the operation on {first}.",
                where="visits[0].seen_on",
                next_step="Correct the date of the visit or of the operation.",
            )
