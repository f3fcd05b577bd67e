"""The case: one patient's treated leg, from first film to outcome, as one immutable value."""

from dataclasses import dataclass, field
from datetime import date

from limbwright.case.checks import problems_between
from limbwright.case.patient import Patient, require_id
from limbwright.case.problem import UnreadableCase
from limbwright.course.course import Course
from limbwright.course.operation import OperationRecord
from limbwright.error import OutOfRange
from limbwright.film.film import Film
from limbwright.limb.anatomy import Side
from limbwright.plan.circumstances import Examination
from limbwright.plan.decision import Plan
from limbwright.plan.goal import Goal
from limbwright.quantity import Value

SCHEMA_VERSION = 2
LONGEST_DIAGNOSIS = 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Case(Value):
    """One case. What is absent has not been recorded yet; nothing is guessed in its place."""

    schema_version: int = SCHEMA_VERSION
    """Version of this document's shape."""
    id: str
    """Identifier of the case, 1 to 64 characters; not the patient's name."""
    invented: bool = False
    """True for a demo case: the patient does not exist."""
    side: Side
    """Treated leg."""
    diagnosis: str = ""
    """Diagnosis in free text; no names of persons."""
    patient: Patient
    """Who is treated, under a pseudonym."""
    films: tuple[Film, ...] = ()
    """Radiographs with what was read from them; one film may show both legs."""
    examination: Examination = field(default_factory=Examination)
    """What the surgeon knows beside the films."""
    goal: Goal | None = None
    """What the treatment is for; absent until it is set."""
    plan: Plan | None = None
    """The decisions the surgeon has accepted; absent until a plan is accepted."""
    operation: OperationRecord | None = None
    """What was really done in theatre; absent until it is recorded."""
    course: Course | None = None
    """Operation, prescription and visits; absent before the operation."""

    def __post_init__(self) -> None:
        if self.schema_version != SCHEMA_VERSION:
            raise OutOfRange(
                f"version {self.schema_version}, expected {SCHEMA_VERSION}.",
                where="schema_version",
                next_step="Read older files with case_from_json, which brings them up to date.",
            )
        require_id("id", self.id)
        if len(self.diagnosis) > LONGEST_DIAGNOSIS:
            raise OutOfRange(
                f"{len(self.diagnosis)} characters, expected at most {LONGEST_DIAGNOSIS}.",
                where="diagnosis",
                next_step="Shorten it; whole letters do not belong here.",
            )
        problems = problems_between(
            patient=self.patient,
            side=self.side,
            films=self.films,
            goal=self.goal,
            plan=self.plan,
            course=self.course,
        )
        if problems:
            raise UnreadableCase(problems, where=f"case {self.id!r}")

    def first_film_on(self) -> date | None:
        """Day of the first dated film; None when no film is dated."""
        return min((film.taken_on for film in self.films if film.taken_on is not None), default=None)

    def age_years(self, day: date) -> float:
        """Age in decimal years on a day; a stated age is taken to be true on the day of the first film."""
        return self.patient.age_on(day, age_stated_on=self.first_film_on())

    def film(self, name: str) -> Film | None:
        """The film of that name, None when there is none."""
        return next((film for film in self.films if film.name == name), None)
