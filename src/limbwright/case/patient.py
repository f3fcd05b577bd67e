"""The patient as far as the plan needs to know; never a name."""

from dataclasses import dataclass
from datetime import date

from limbwright.error import Contradiction, Missing, OutOfRange
from limbwright.growth.growth import Sex
from limbwright.quantity import DAYS_PER_YEAR, Value, require_within

OLDEST_YEARS = 120.0
OLDEST_SKELETAL_YEARS = 20.0  # atlases end with closed physes at 17 to 19 years
LONGEST_ID = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Patient(Value):
    """Who is treated, under a pseudonym. Give the birth date or the age, not both."""

    id: str
    """Pseudonym, 1 to 64 characters. Not a name and not a hospital number: the file may travel, and nothing
    here can tell a name from a pseudonym."""
    sex: Sex
    """Sex, for growth and norms."""
    birth_date: date | None = None
    """Day of birth."""
    age_years: float | None = None
    """Age in decimal years on the day of the first dated film, when the birth date is not given [years]."""
    skeletal_age_years: float | None = None
    """Bone age read from a hand or knee film at about that day; wins over the calendar age [years]."""

    def __post_init__(self) -> None:
        require_id("id", self.id)
        if self.birth_date is None and self.age_years is None:
            raise Missing(
                "neither birth date nor age.",
                where="age_years",
                next_step="Give birth_date (YYYY-MM-DD) or age_years, in decimal years.",
            )
        if self.birth_date is not None and self.age_years is not None:
            raise Contradiction(
                f"birth date {self.birth_date} and age {self.age_years:g} years are both given.",
                where="age_years",
                next_step="Keep one of them; the birth date is better.",
            )
        for name, years, highest in (
            ("age_years", self.age_years, OLDEST_YEARS),
            ("skeletal_age_years", self.skeletal_age_years, OLDEST_SKELETAL_YEARS),
        ):
            if years is not None:
                step = "Give decimal years; divide months by 12."
                require_within(name, years, 0, highest, "years", next_step=step)

    def age_on(self, day: date, *, age_stated_on: date | None) -> float:
        """Age in decimal years on a day.

        Parameters
        ----------
        day : date
            The day asked for.
        age_stated_on : date, optional
            The day `age_years` is true for; without it a stated age is taken as it is.

        Raises
        ------
        OutOfRange
            For a day before birth.
        """
        if self.birth_date is not None:
            years = (day - self.birth_date).days / DAYS_PER_YEAR
        else:
            since = (day - age_stated_on).days / DAYS_PER_YEAR if age_stated_on is not None else 0.0
            years = (self.age_years or 0.0) + since
        step = "Correct the birth date, the age or the day."
        require_within("age", years, 0, OLDEST_YEARS, "years", next_step=step)
        return years


def require_id(field: str, identifier: str) -> None:
    """Refuse an identifier that is empty, long, or holds anything but printable characters."""
    if not 1 <= len(identifier.strip()) <= len(identifier) <= LONGEST_ID or not identifier.isprintable():
        raise OutOfRange(
            f"{identifier[:LONGEST_ID]!r} cannot serve as an identifier.",
            where=field,
            next_step=f"Give 1 to {LONGEST_ID} printable characters, and not the patient's name.",
        )
