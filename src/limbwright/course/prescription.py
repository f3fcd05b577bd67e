"""What the surgeon prescribes after the operation: latency, then phases of rate and rhythm, up to a length.

Days are counted from the operation, which is day 0. With a latency of 7 days the days 1 to 7 are latency and
the first step is made on day 8, so that 50 mm at 1 mm a day end on day 57.
"""

import math
from dataclasses import dataclass
from enum import StrEnum

from limbwright.error import Contradiction, Missing, OutOfRange
from limbwright.limb.anatomy import Bone
from limbwright.practice.by_bone import latency_days, rhythm
from limbwright.practice.profile import Profile
from limbwright.quantity import Value, require_within

# Beyond these a number is a slip of the pen, not a prescription; the surgeon's own limits are in the profile.
LONGEST_LATENCY_DAYS = 60
LONGEST_PHASE_DAYS = 400
LARGEST_STEP_MM = 2.0
MOST_STEPS_PER_DAY = 1440
LARGEST_TARGET_MM = 150.0
LONGEST_FILM_INTERVAL_DAYS = 120


class PhaseKind(StrEnum):
    """What a phase does to the gap."""

    LATENCY = "latency"
    FAST_START = "fast start"
    STEADY = "steady"
    HOLD = "hold"
    REVERSE = "reverse"
    ACCORDION_SHORTER = "accordion, shorter"
    ACCORDION_LONGER = "accordion, longer"
    CONSOLIDATION = "consolidation"

    @property
    def sign(self) -> int:
        """+1 where the bone gets longer, -1 where it gets shorter again, 0 where it is held."""
        if self in {PhaseKind.LATENCY, PhaseKind.HOLD, PhaseKind.CONSOLIDATION}:
            return 0
        return -1 if self in {PhaseKind.REVERSE, PhaseKind.ACCORDION_SHORTER} else 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase(Value):
    """A run of days with one rate and rhythm. Accordion phases in turn, shorter and longer, make a
    train-track course. Consolidation follows the last dose by itself and need not be prescribed."""

    kind: PhaseKind
    """What the phase does: `fast start`, `steady` and `accordion, longer` lengthen; `reverse` and `accordion,
    shorter` shorten; `latency`, `hold` and `consolidation` wait."""
    days: int | None = None
    """How many days it lasts; absent = until the target is reached (lengthening phases, last one only)."""
    step_mm: float = 0.0
    """Size of one step, never negative; 0 where the phase waits [mm]."""
    steps_per_day: int = 0
    """Rhythm: steps in a day; 0 where the phase waits."""
    name: str = ""
    """Name for the reader; the kind's word is used when absent."""

    def __post_init__(self) -> None:
        if self.days is not None:
            require_within(
                "days", self.days, 1, LONGEST_PHASE_DAYS, "days", next_step="Give whole days of the phase."
            )
        if self.kind.sign == 0:
            if self.steps_per_day or self.step_mm:
                raise Contradiction(
                    f"a {self.kind} phase with {self.steps_per_day} steps of {self.step_mm:g} mm a day.",
                    where="kind",
                    next_step="Leave steps out of it, or name the phase steady or reverse.",
                )
        else:
            step = "Give how many steps a day, and the size of one step in millimetres."
            require_within(
                "steps_per_day", self.steps_per_day, 1, MOST_STEPS_PER_DAY, "steps", next_step=step
            )
            require_within("step_mm", self.step_mm, 0.001, LARGEST_STEP_MM, "mm", next_step=step)
        if self.days is None and self.kind.sign < 1:
            raise Missing(
                f"a {self.kind} phase without days.",
                where="days",
                next_step="Say how many days it lasts; only lengthening can end by reaching the target.",
            )

    @property
    def rate_mm_per_day(self) -> float:
        """Change of length in a full day, lengthening +. [mm/day]"""
        return self.kind.sign * self.step_mm * self.steps_per_day

    @property
    def words(self) -> str:
        """The phase's name, or its kind's word."""
        return self.name or self.kind.value


def require_only_last_open(phases: tuple[Phase, ...]) -> None:
    """Refuse phases after one that has no end."""
    open_ended = [i for i, phase in enumerate(phases[:-1]) if phase.days is None]
    if open_ended:
        raise Contradiction(
            f"phase {open_ended[0] + 1} of {len(phases)} has no end, so the next never starts.",
            where=f"phases[{open_ended[0]}].days",
            next_step="Give its days; only the last phase may run until the target is reached.",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Prescription(Value):
    """How one bone is to be lengthened from the operation on."""

    bone: Bone
    """Femur or tibia."""
    latency_days: int
    """Full days of rest after the operation; the first step is made on the day after them."""
    phases: tuple[Phase, ...]
    """Phases in order, the first one following the latency."""
    target_mm: float
    """Length to gain in this bone [mm]."""
    film_interval_days: int
    """Days between films while the bone is lengthened, counted from the operation."""

    def __post_init__(self) -> None:
        if self.bone is Bone.FIBULA:
            raise OutOfRange(
                "bone is fibula, expected femur or tibia.",
                where="bone",
                next_step="The fibula follows the tibia; prescribe for the tibia.",
            )
        for field, value, low, high, unit in (
            ("latency_days", self.latency_days, 0, LONGEST_LATENCY_DAYS, "days"),
            ("target_mm", self.target_mm, 0.1, LARGEST_TARGET_MM, "mm"),
            ("film_interval_days", self.film_interval_days, 1, LONGEST_FILM_INTERVAL_DAYS, "days"),
        ):
            require_within(field, value, low, high, unit, next_step="Correct the prescription of this bone.")
        if not any(phase.kind.sign > 0 for phase in self.phases):
            raise Missing(
                "no phase that lengthens.",
                where="phases",
                next_step="Give at least one fast start or steady phase.",
            )
        require_only_last_open(self.phases)


def default_prescription(profile: Profile, *, bone: Bone, age_years: float, target_mm: float) -> Prescription:
    """The prescription that follows from the surgeon's practice profile.

    Parameters
    ----------
    profile : Profile
        The surgeon's numbers: latency by bone and age, step, rhythm by bone, film interval.
    bone : Bone
        Femur or tibia.
    age_years : float
        Age at the operation. [years]
    target_mm : float
        Length to gain in this bone. [mm]

    Notes
    -----
    A latency that is no whole number of days is rounded up. A fast start with the rhythm of the steady phase
    is not written as a phase of its own.
    """
    by_bone = rhythm(profile, bone=bone)
    steady = Phase(kind=PhaseKind.STEADY, step_mm=by_bone.step_mm, steps_per_day=by_bone.steady_steps_per_day)
    phases: tuple[Phase, ...] = (steady,)
    if by_bone.fast_start_days and by_bone.fast_start_steps_per_day != by_bone.steady_steps_per_day:
        fast = Phase(
            kind=PhaseKind.FAST_START,
            days=by_bone.fast_start_days,
            step_mm=by_bone.step_mm,
            steps_per_day=by_bone.fast_start_steps_per_day,
        )
        phases = (fast, steady)
    return Prescription(
        bone=bone,
        latency_days=math.ceil(latency_days(profile, bone=bone, age_years=age_years)),
        phases=phases,
        target_mm=target_mm,
        film_interval_days=profile.film_interval_lengthening_days,
    )
