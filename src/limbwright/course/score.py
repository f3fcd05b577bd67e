"""A patient-reported score as numbers only: its name, its scale and the answer, without licensed text."""

from dataclasses import dataclass
from datetime import date

from limbwright.error import Contradiction
from limbwright.quantity import Value, require_within


@dataclass(frozen=True, slots=True, kw_only=True)
class Score(Value):
    """One score on one day."""

    name: str
    """Name of the questionnaire, as the practice calls it."""
    on: date
    """Day it was answered."""
    value: float
    """Result."""
    worst: float
    """Worst possible result."""
    best: float
    """Best possible result; below `worst` where less is better."""

    def __post_init__(self) -> None:
        if self.worst == self.best:
            raise Contradiction(
                f"worst and best result of {self.name!r} are both {self.worst:g}.",
                where="worst",
                next_step="Give the two ends of the scale.",
            )
        low, high = sorted((self.worst, self.best))
        require_within(
            f"score {self.name!r}",
            self.value,
            low,
            high,
            "",
            next_step="Check the result and both ends of the scale.",
        )

    def percent_of_best(self) -> float:
        """Result as a share of the way from worst to best. [%]"""
        return 100 * (self.value - self.worst) / (self.best - self.worst)
