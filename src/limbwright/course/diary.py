"""The patient's diary: which steps were really made."""

from dataclasses import dataclass
from datetime import date

from limbwright.course.prescription import MOST_STEPS_PER_DAY
from limbwright.quantity import Value, require_within


@dataclass(frozen=True, slots=True, kw_only=True)
class DiaryEntry(Value):
    """Steps of one day as the patient wrote them down; a day without entry counts as done as prescribed."""

    on: date
    """The day."""
    steps: int
    """Steps made, lengthening +; 0 = none, negative = turned in the wrong direction."""
    note: str = ""
    """Free text; no names of persons."""

    def __post_init__(self) -> None:
        require_within(
            "steps",
            self.steps,
            -MOST_STEPS_PER_DAY,
            MOST_STEPS_PER_DAY,
            "steps",
            next_step="Give the number of steps of that day.",
        )
