"""A change of the prescription from one day on: new phases, a new target, another interval between films."""

from dataclasses import dataclass

from limbwright.course.prescription import (
    LARGEST_TARGET_MM,
    LONGEST_FILM_INTERVAL_DAYS,
    Phase,
    require_only_last_open,
)
from limbwright.quantity import Value, require_within

LATEST_DAY = 2000
MOST_BACKWARD_MM = 50.0  # a nail pushed back further than this was never lengthened: a slip of the pen


@dataclass(frozen=True, slots=True, kw_only=True)
class Amendment(Value):
    """What is prescribed from one day on, in place of all that was prescribed for later days."""

    from_day: int
    """First day it counts for [days after the operation]."""
    phases: tuple[Phase, ...] = ()
    """Phases from that day on; none = the nail is moved no more."""
    target_mm: float
    """Length to gain in this bone, counted from the operation [mm]."""
    gained_mm: float
    """Length that counts as gained before that day: measured, or reported where no film is at hand [mm]."""
    film_interval_days: int | None = None
    """Days between films from that day on; absent = as before."""
    reason: str = ""
    """Why, in a few words."""

    def __post_init__(self) -> None:
        step = "Correct the change of the prescription."
        require_within("from_day", self.from_day, 1, LATEST_DAY, "days", next_step=step)
        require_within("target_mm", self.target_mm, 0, LARGEST_TARGET_MM, "mm", next_step=step)
        require_within(
            "gained_mm", self.gained_mm, -MOST_BACKWARD_MM, LARGEST_TARGET_MM, "mm", next_step=step
        )
        if self.film_interval_days is not None:
            require_within(
                "film_interval_days",
                self.film_interval_days,
                1,
                LONGEST_FILM_INTERVAL_DAYS,
                "days",
                next_step=step,
            )
        require_only_last_open(self.phases)
