"""One lengthened bone on one day, with everything that advice rests on."""

from dataclasses import dataclass
from datetime import date, timedelta

from limbwright.course.course import Treatment
from limbwright.course.drift_watch import DriftWatch, drift_watch
from limbwright.course.forecast import Forecast, forecast
from limbwright.course.healing import HealingBand, expected_healing
from limbwright.course.ledger import Ledger, ledger
from limbwright.course.new_bone import NewBone
from limbwright.course.schedule import Day
from limbwright.course.state import BoneState, Estimate, estimate
from limbwright.course.state_model import Expectation
from limbwright.course.visit import Visit
from limbwright.error import OutOfRange
from limbwright.implant.nail import Nail
from limbwright.limb.anatomy import Bone
from limbwright.plan.drift import Drift
from limbwright.practice.profile import Profile
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneFacts(Value):
    """What is known of a bone and its nail beside the course."""

    age_years: float
    """Age at the operation [years]."""
    nail: Nail | None = None
    """The nail in the bone; absent = not known, and what needs it says so."""
    retrograde: bool = False
    """True for a nail that enters the femur at the knee."""
    osteotomy_depth_mm: float | None = None
    """Depth of the osteotomy along the nail path from the nail's driving end [mm]."""
    drift: Drift | None = None
    """Drift at full length that the plan foresees."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Standing:
    """One bone on one day."""

    treatment: Treatment
    """Prescription, changes and diary."""
    facts: BoneFacts
    """Bone and nail."""
    profile: Profile
    """The surgeon's rules."""
    visits: tuple[Visit, ...]
    """Visits up to that day."""
    today: int
    """Days since the operation."""
    days: tuple[Day, ...]
    """Schedule with all changes."""
    book: Ledger
    """Lengths day by day up to that day."""
    estimate: Estimate
    """State at each visit and on that day."""
    ahead: Forecast
    """From that day to healing."""
    drift: tuple[DriftWatch, DriftWatch]
    """Frontal and sagittal."""
    healing: HealingBand | None
    """When bones of this kind consolidate, for the length prescribed; None when nothing is to be gained."""

    @property
    def bone(self) -> Bone:
        """Lengthened bone."""
        return self.treatment.prescription.bone

    @property
    def on(self) -> date:
        """That day."""
        return self.treatment.operated_on + timedelta(days=self.today)

    @property
    def now(self) -> BoneState:
        """State on that day."""
        return self.estimate.now

    @property
    def visit(self) -> Visit | None:
        """The latest visit."""
        return self.visits[-1] if self.visits else None

    @property
    def earlier_visit(self) -> Visit | None:
        """The visit before the latest."""
        return self.visits[-2] if len(self.visits) > 1 else None

    @property
    def lengthening(self) -> bool:
        """Whether steps that lengthen are still to come."""
        return any(day.change_mm > 0 and day.number > self.today for day in self.days)

    @property
    def started(self) -> bool:
        """Whether the nail has been moved."""
        return any(day.steps_reported for day in self.book.days)

    @property
    def rate_mm_per_day(self) -> float:
        """Rate prescribed for the next day on which the nail moves, lengthening +; 0 when none is left."""
        return next((d.change_mm for d in self.days if d.number > self.today and d.steps), 0.0)

    @property
    def new_bone(self) -> NewBone | None:
        """New bone as read last, at whichever visit."""
        found = [v.new_bone_of(self.bone) for v in self.visits]
        return next((n for n in reversed(found) if n is not None), None)

    def cortices_that_carry(self) -> int | None:
        """Cortices bridged or as dense as healed bone, whichever are more; None when none was read."""
        new = self.new_bone
        if new is None:
            return None
        counts = [
            c for c in (new.bridged(), new.dense(self.profile.pixel_value_ratio_healed)) if c is not None
        ]
        return max(counts, default=None)

    def counted_from(self, number: int) -> tuple[float, float]:
        """Length that a day's count starts from, as prescribed and as reported. [mm]

        Both are 0 until a change of the prescription says what counts as gained; from then on what was
        reported before it is settled.
        """
        changes = [a for a in self.treatment.amendments if a.from_day <= number]
        if not changes:
            return 0.0, 0.0
        before = min(changes[-1].from_day - 1, len(self.book.days) - 1)
        return changes[-1].gained_mm, self.book.days[before].reported_mm

    def day_on(self, number: int) -> date:
        """Calendar day of a day number."""
        return self.treatment.operated_on + timedelta(days=number)


def standing(
    treatment: Treatment, visits: tuple[Visit, ...], *, on: date, facts: BoneFacts, profile: Profile
) -> Standing:
    """Where one bone stands on a day and where it is heading.

    Parameters
    ----------
    treatment : Treatment
        Its prescription with all changes; a change that begins after `on` counts, since it is prescribed.
    visits : tuple of Visit
        All visits of the leg; those after `on` are left out.
    on : date
        The day; not before the operation.
    facts : BoneFacts
        Age, nail, expected drift.
    profile : Profile
        The surgeon's rules.

    Raises
    ------
    OutOfRange
        If the day lies before the operation.
    """
    today = treatment.day_number(on)
    bone = treatment.prescription.bone
    if today < 0:
        raise OutOfRange(
            f"{on} lies {-today} days before the operation on the {bone}.",
            where="course",
            next_step="Ask for the day of the operation or a later one.",
        )
    seen = tuple(v for v in visits if treatment.operated_on <= v.seen_on <= on)
    days = treatment.days()
    book = ledger(treatment, seen, until=on, profile=profile)
    expected = Expectation(
        bone=bone,
        retrograde=facts.retrograde,
        age_years=facts.age_years,
        target_mm=treatment.target_mm,
        drift=facts.drift,
    )
    found = estimate(treatment, seen, book, profile, expected)
    ahead = forecast(found.belief, today, days, profile, target_mm=treatment.target_mm)
    healing = None
    if treatment.target_mm > 0:
        healing = expected_healing(
            profile,
            bone=bone,
            retrograde=facts.retrograde,
            age_years=facts.age_years,
            gained_mm=treatment.target_mm,
            last_distraction_day=max((d.number for d in days if d.change_mm > 0), default=0),
        )
    return Standing(
        treatment=treatment,
        facts=facts,
        profile=profile,
        visits=seen,
        today=today,
        days=days,
        book=book,
        estimate=found,
        ahead=ahead,
        drift=drift_watch(found.now, ahead, profile),
        healing=healing,
    )
