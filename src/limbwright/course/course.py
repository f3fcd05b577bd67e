"""Everything from the operation on: which bone was operated on when, what was prescribed, what was seen."""

from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from limbwright.course.prescription import Prescription
from limbwright.course.visit import Visit
from limbwright.error import Contradiction, Missing
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Treatment(Value):
    """One lengthened bone: its operation and its prescription. Staged bones have their own dates."""

    operated_on: date
    """Day of the operation, day 0 of the schedule."""
    prescription: Prescription
    """Latency, rate, rhythm and target of this bone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Course(Value):
    """Prescriptions and visits of one leg."""

    treatments: tuple[Treatment, ...]
    """One entry for each lengthened bone."""
    visits: tuple[Visit, ...] = ()
    """Follow-ups in the order of their dates."""

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
