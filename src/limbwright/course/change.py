"""Changes of a prescription from a given day: go on, slow, quicken, hold, reverse, accordion, end here.

Each function returns an `Amendment`; nothing is changed until it is added to the treatment.
"""

import math
from dataclasses import replace

from limbwright.course.amendment import Amendment
from limbwright.course.course import Treatment
from limbwright.course.prescription import Phase, PhaseKind
from limbwright.error import Refused
from limbwright.practice.profile import Profile


def continued(treatment: Treatment, *, from_day: int, gained_mm: float, reason: str = "") -> Amendment:
    """The same phases go on from what is really there, with as many days as the rest needs.

    Parameters
    ----------
    treatment : Treatment
        The bone's prescription with its changes so far.
    from_day : int
        First day of the new count. [days after the operation]
    gained_mm : float
        Length that is there: missed doses are made up at the end, doubled ones shorten the rest. [mm]
    reason : str
        Why.
    """
    return Amendment(
        from_day=from_day,
        phases=phases_left(treatment, from_day),
        target_mm=treatment.target_mm,
        gained_mm=gained_mm,
        reason=reason,
    )


def at_rate(
    treatment: Treatment,
    profile: Profile,
    *,
    from_day: int,
    gained_mm: float,
    rate_mm_per_day: float,
    reason: str = "",
) -> Amendment:
    """Lengthening at another rate until the target, in steps of the profile's size.

    Notes
    -----
    Steps a day are rounded down to the rate, at least one: 1.25 mm in steps of 0.25 mm are five.
    """
    steady = Phase(
        kind=PhaseKind.STEADY,
        step_mm=profile.distraction_step_mm,
        steps_per_day=steps_for(rate_mm_per_day, profile),
    )
    return Amendment(
        from_day=from_day,
        phases=(steady,),
        target_mm=treatment.target_mm,
        gained_mm=gained_mm,
        reason=reason,
    )


def held(treatment: Treatment, *, from_day: int, gained_mm: float, days: int, reason: str = "") -> Amendment:
    """A rest of some days, then the phases go on."""
    hold = Phase(kind=PhaseKind.HOLD, days=days)
    return Amendment(
        from_day=from_day,
        phases=(hold, *phases_left(treatment, from_day)),
        target_mm=treatment.target_mm,
        gained_mm=gained_mm,
        reason=reason,
    )


def reversed_by(
    treatment: Treatment,
    profile: Profile,
    *,
    from_day: int,
    gained_mm: float,
    back_mm: float,
    reason: str = "",
) -> Amendment:
    """Shortening by some millimetres at the profile's rate, then a stand; nothing goes on by itself."""
    steps = steps_for(profile.reverse_rate_mm_per_day, profile)
    step_mm = profile.distraction_step_mm
    days = max(1, math.ceil(round(back_mm / (steps * step_mm), 9)))
    back = Phase(kind=PhaseKind.REVERSE, days=days, step_mm=step_mm, steps_per_day=steps)
    return Amendment(
        from_day=from_day,
        phases=(back,),
        target_mm=max(0.0, round(gained_mm - back_mm, 6)),
        gained_mm=gained_mm,
        reason=reason,
    )


def accordion(
    treatment: Treatment,
    profile: Profile,
    *,
    from_day: int,
    gained_mm: float,
    turn_days: int,
    reason: str = "",
) -> Amendment:
    """Shortening and lengthening in turn for poor new bone (train-track, accordion), then a stand.

    Parameters
    ----------
    treatment, profile, from_day, gained_mm, reason
        As in `continued`; rate and whole duration come from the profile.
    turn_days : int
        Days in one direction before it turns.

    Raises
    ------
    Refused
        If one turn would shorten by more than is there.
    """
    steps = steps_for(profile.accordion_rate_mm_per_day, profile)
    step_mm = profile.distraction_step_mm
    if turn_days * steps * step_mm > gained_mm + 1e-9:
        raise Refused(
            f"{turn_days} days at {steps * step_mm:g} mm shorten by {turn_days * steps * step_mm:g} mm, and "
            f"only {gained_mm:g} mm have been gained.",
            where="accordion",
            next_step="Let each turn take fewer days.",
        )
    pairs = max(1, round(profile.accordion_days / (2 * turn_days)))
    turn = Phase(kind=PhaseKind.ACCORDION_SHORTER, days=turn_days, step_mm=step_mm, steps_per_day=steps)
    out = replace(turn, kind=PhaseKind.ACCORDION_LONGER)
    return Amendment(
        from_day=from_day,
        phases=(turn, out) * pairs,
        target_mm=gained_mm,
        gained_mm=gained_mm,
        reason=reason,
    )


def ended(*, from_day: int, gained_mm: float, reason: str = "") -> Amendment:
    """Lengthening ends with what is there: a lesser goal."""
    return Amendment(
        from_day=from_day, phases=(), target_mm=max(0.0, gained_mm), gained_mm=gained_mm, reason=reason
    )


def amended(treatment: Treatment, amendment: Amendment) -> Treatment:
    """The treatment with one change more; changes that were to begin on or after its day fall away."""
    kept = tuple(a for a in treatment.amendments if a.from_day < amendment.from_day)
    return replace(treatment, amendments=(*kept, amendment))


def phases_left(treatment: Treatment, from_day: int) -> tuple[Phase, ...]:
    """Phases as they would go on from a day, the running one with the days it has left."""
    earlier = [a for a in treatment.amendments if a.from_day < from_day]
    phases = earlier[-1].phases if earlier else treatment.prescription.phases
    first = earlier[-1].from_day if earlier else treatment.prescription.latency_days + 1
    left: list[Phase] = []
    if from_day < first:
        left.append(Phase(kind=PhaseKind.LATENCY, days=first - from_day))
    passed = max(0, from_day - first)
    for phase in phases:
        if phase.days is None:
            left.append(phase)
            continue
        gone = min(passed, phase.days)
        passed -= gone
        if gone < phase.days:
            left.append(replace(phase, days=phase.days - gone))
    return tuple(left)


def steps_for(rate_mm_per_day: float, profile: Profile) -> int:
    """Steps a day that come nearest to a rate from below, at least one."""
    return max(1, math.floor(round(rate_mm_per_day / profile.distraction_step_mm, 9)))
