"""What nail and practice allow of a prescription, said as findings."""

from collections.abc import Iterator

from limbwright.course.prescription import Phase, Prescription
from limbwright.course.schedule import Day
from limbwright.finding import Finding, Number, Severity, ordered
from limbwright.limb.anatomy import Bone
from limbwright.practice.profile import Profile
from limbwright.practice.setting import setting
from limbwright.published import COMMON_PRACTICE, Source, Status

CATALOGUE = Source(text="the nail's entry in the catalogue", status=Status.COMMON_PRACTICE)


def prescription_findings(
    prescription: Prescription,
    days: tuple[Day, ...],
    *,
    profile: Profile,
    stroke_mm: float | None = None,
    stroke_used_mm: float = 0.0,
    nail_rate_limit_mm_per_day: float | None = None,
) -> tuple[Finding, ...]:
    """Findings about a prescription, worst first; none when it keeps every limit.

    Parameters
    ----------
    prescription : Prescription
        What is prescribed for one bone.
    days : tuple of Day
        Its schedule.
    profile : Profile
        The surgeon's limits.
    stroke_mm : float, optional
        Stroke of the nail; None when it is not known, which is said. [mm]
    stroke_used_mm : float
        Stroke that is used up on day 0, by a nail that was lengthened before or on the table. [mm]
    nail_rate_limit_mm_per_day : float, optional
        Fastest distraction the maker allows; None where the catalogue does not say. [mm/day]
    """
    return schedule_findings(
        prescription.bone,
        prescription.phases,
        days,
        target_mm=prescription.target_mm,
        profile=profile,
        stroke_mm=stroke_mm,
        stroke_used_mm=stroke_used_mm,
        nail_rate_limit_mm_per_day=nail_rate_limit_mm_per_day,
    )


def schedule_findings(
    bone: Bone,
    phases: tuple[Phase, ...],
    days: tuple[Day, ...],
    *,
    target_mm: float,
    profile: Profile,
    stroke_mm: float | None = None,
    stroke_used_mm: float = 0.0,
    nail_rate_limit_mm_per_day: float | None = None,
) -> tuple[Finding, ...]:
    """The same for a schedule whose prescription was changed on the way.

    Parameters
    ----------
    bone : Bone
        Lengthened bone.
    phases : tuple of Phase
        Phases that are still to come or running.
    days : tuple of Day
        Schedule with all changes.
    target_mm : float
        Length to gain as prescribed last. [mm]
    profile, stroke_mm, stroke_used_mm, nail_rate_limit_mm_per_day
        As in `prescription_findings`.
    """
    return ordered(
        (
            *_stroke(bone, days, stroke_mm, stroke_used_mm),
            *_fast(bone, days, profile, nail_rate_limit_mm_per_day),
            *_slow(bone, phases, profile),
            *_short(bone, phases, days, target_mm),
        )
    )


def _stroke(
    bone: Bone, days: tuple[Day, ...], stroke_mm: float | None, stroke_used_mm: float
) -> Iterator[Finding]:
    if stroke_mm is None:
        yield Finding(
            id="prescription-stroke-unknown",
            severity=Severity.CAUTION,
            words=f"The stroke of the nail in the {bone} is not known; nothing stops the prescription at it.",
            next_step="Choose the nail from the catalogue, or check its stroke by hand.",
            rule="The nail must be able to give what is prescribed.",
            source=COMMON_PRACTICE,
        )
        return
    most_mm = max(day.gained_mm for day in days)
    if most_mm + stroke_used_mm > stroke_mm + 1e-9:
        first = next(day for day in days if day.gained_mm + stroke_used_mm > stroke_mm + 1e-9)
        yield Finding(
            id="prescription-beyond-stroke",
            severity=Severity.STOP,
            words=f"The {bone} is prescribed {most_mm:g} mm, and the nail has "
            f"{stroke_mm - stroke_used_mm:g} mm of stroke left; it would be used up on day {first.number}.",
            next_step="Choose a nail with a longer stroke, lengthen less, or plan a second stage.",
            numbers=(
                Number(name="length prescribed", value=most_mm, unit="mm"),
                Number(name="stroke left", value=stroke_mm - stroke_used_mm, unit="mm"),
                Number(name="day on which the stroke is used up", value=first.number, unit="d"),
            ),
            rule="Length prescribed plus stroke already used does not exceed the nail's stroke.",
            source=CATALOGUE,
        )


def _fast(bone: Bone, days: tuple[Day, ...], profile: Profile, nail_limit: float | None) -> Iterator[Finding]:
    rate = max(abs(day.change_mm) for day in days)
    moved = f"The {bone} is moved {rate:g} mm on one day"
    step = "Prescribe fewer or smaller steps a day."
    fastest = Number(name="fastest day", value=rate, unit="mm/d")
    if nail_limit is not None and rate > nail_limit + 1e-9:
        yield Finding(
            id="prescription-faster-than-nail",
            severity=Severity.STOP,
            words=f"{moved}; the nail's limit is {nail_limit:g} mm/day.",
            next_step=step,
            numbers=(fastest, Number(name="nail's limit", value=nail_limit, unit="mm/d")),
            rule="The nail's own limit of distraction per day is kept.",
            source=CATALOGUE,
        )
    limit = profile.max_rate_mm_per_day
    if rate > limit + 1e-9:
        yield Finding(
            id="prescription-faster-than-practice",
            severity=Severity.STOP,
            words=f"{moved}; the practice's limit is {limit:g} mm/day.",
            next_step=step,
            numbers=(fastest, Number(name="practice's limit", value=limit, unit="mm/d")),
            rule="No day is faster than max_rate_mm_per_day of the practice profile.",
            source=setting("max_rate_mm_per_day").source,
        )


def _slow(bone: Bone, phases: tuple[Phase, ...], profile: Profile) -> Iterator[Finding]:
    limit = profile.premature_consolidation_rate_mm_per_day
    for phase in phases:
        if 0 < phase.rate_mm_per_day <= limit + 1e-9:
            yield Finding(
                id="prescription-slow",
                severity=Severity.CAUTION,
                words=f"The phase '{phase.words}' lengthens the {bone} by "
                f"{phase.rate_mm_per_day:g} mm/day; at {limit:g} mm/day or less the bone may bridge early.",
                next_step="Watch for early bridging on every film, or prescribe more steps a day.",
                numbers=(
                    Number(name="rate", value=phase.rate_mm_per_day, unit="mm/d"),
                    Number(name="limit", value=limit, unit="mm/d"),
                ),
                rule="A rate at or below premature_consolidation_rate_mm_per_day is pointed out.",
                source=setting("premature_consolidation_rate_mm_per_day").source,
            )


def _short(
    bone: Bone, phases: tuple[Phase, ...], days: tuple[Day, ...], target_mm: float
) -> Iterator[Finding]:
    gained_mm = days[-1].gained_mm
    smallest_mm = min((phase.step_mm for phase in phases if phase.kind.sign > 0), default=target_mm)
    short_mm = target_mm - gained_mm
    if short_mm >= smallest_mm - 1e-9:
        yield Finding(
            id="prescription-ends-short",
            severity=Severity.CAUTION,
            words=f"The phases of the {bone} end at {gained_mm:g} mm, {short_mm:g} mm short of "
            f"the target of {target_mm:g} mm.",
            next_step="Let the last phase run until the target, add days, or lower the target.",
            numbers=(
                Number(name="length gained", value=gained_mm, unit="mm"),
                Number(name="target", value=target_mm, unit="mm"),
            ),
            rule="The phases together reach the target within one step.",
            source=COMMON_PRACTICE,
        )
