"""A practice's own results offered as settings of its profile: shown beside the present ones, never applied.

Nothing here changes a profile. `with_offers` makes a new one from the offers that the surgeon has accepted.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from limbwright.error import Contradiction, OutOfRange
from limbwright.practice.audit.audit import PracticeAudit
from limbwright.practice.audit.healing_index import HealingIndex
from limbwright.practice.audit.logistic import LogisticFit
from limbwright.practice.audit.sample import Interval
from limbwright.practice.audit.spread import Spread
from limbwright.practice.profile import Profile
from limbwright.practice.setting import setting
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer(Value):
    """One setting with the practice's own result beside its present value."""

    setting: str
    """Name of the setting."""
    unit: str
    """Its unit."""
    present: float
    """Value in the profile the offer was made for."""
    own: float
    """The practice's own result, rounded as it would be set."""
    interval: Interval
    """Interval of the own result before rounding."""
    n: int
    """Treated bones it rests on."""
    cases: tuple[str, ...]
    """Their cases."""
    why: str
    """Why it is offered, in plain words."""

    @property
    def present_is_plausible(self) -> bool:
        """Whether the present value lies within the interval, so that nothing speaks for a change."""
        return self.interval.holds(self.present)


def offered_settings(results: PracticeAudit, profile: Profile) -> tuple[Offer, ...]:
    """What the audit offers to the practice profile; empty while the practice has too few bones.

    Parameters
    ----------
    results : PracticeAudit
        The audit.
    profile : Profile
        The present profile. It is only read.

    Notes
    -----
    A result outside the range that a setting accepts is not offered.
    """
    found = (*_healing(results, profile), *_calf_release(results, profile))
    return tuple(offer for offer in found if _acceptable(offer))


def with_offers(profile: Profile, accepted: Iterable[Offer]) -> Profile:
    """A new profile with the accepted offers; the old one is unchanged.

    Raises
    ------
    Contradiction
        If a setting is offered twice, or has changed since the offer was made.
    """
    changes: dict[str, Any] = {}
    for offer in accepted:
        present = float(getattr(profile, offer.setting))
        if offer.setting in changes:
            raise Contradiction(
                f"{offer.setting} is offered twice.",
                where="practice profile",
                next_step="Accept one of the two offers.",
            )
        if present != offer.present:
            raise Contradiction(
                f"{offer.setting} is {present:g} {offer.unit} now; the offer was made when it was "
                f"{offer.present:g} {offer.unit}.",
                where="practice profile",
                next_step="Run the audit again and look at the new offer.",
            )
        changes[offer.setting] = offer.own
    return replace(profile, **changes)


def _acceptable(offer: Offer) -> bool:
    try:
        setting(offer.setting).checked(offer.own)
    except OutOfRange:
        return False
    return True


def _healing(results: PracticeAudit, profile: Profile) -> Iterator[Offer]:
    for found in results.adult_healing_index:
        name = _healing_setting(found)
        numbers = found.days_per_cm
        if name is None or not isinstance(numbers, Spread) or found.n < profile.audit_min_bones_offer:
            continue
        left_out = f" {found.not_healed} not seen to heal are left out." if found.not_healed else ""
        for setting_name, own, interval, what in (
            (f"{name}_days_per_cm", numbers.mean, numbers.mean_interval, "Mean"),
            (f"{name}_sd_days_per_cm", numbers.sd, numbers.sd_interval, "Standard deviation"),
        ):
            yield _offer(
                profile,
                setting_name,
                own=round(own, 1),
                interval=interval,
                n=found.n,
                cases=found.cases,
                what=f"{what} of the healing index of your {found.n} bones ({found.group.words}).{left_out}",
            )


def _healing_setting(found: HealingIndex) -> str | None:
    """The profile tells femora apart by entry and tibiae not at all."""
    group = found.group
    if group.bone == "tibia":
        return None if group.entry else "healing_index_tibia"
    return f"healing_index_femur_{group.entry}" if group.entry else None


def _calf_release(results: PracticeAudit, profile: Profile) -> Iterator[Offer]:
    calf = results.calf_release
    fit = calf.fit
    if not isinstance(fit, LogisticFit) or calf.n < profile.audit_min_bones_offer:
        return
    # A slope that may be nothing, or fall, says nothing about a length above which release is likely.
    rises = fit.slope_interval.low is not None and fit.slope_interval.low > 0
    if fit.even_at is None or fit.even_interval is None or not rises:
        return
    yield _offer(
        profile,
        "calf_release_lengthening_mm",
        own=float(round(fit.even_at)),
        interval=fit.even_interval,
        n=calf.n,
        cases=calf.cases,
        what=f"Length at which half of your tibiae had a calf release ({calf.released} of {calf.n} had one).",
    )


def _offer(
    profile: Profile,
    name: str,
    *,
    own: float,
    interval: Interval,
    n: int,
    cases: tuple[str, ...],
    what: str,
) -> Offer:
    present = float(getattr(profile, name))
    inside = interval.holds(present)
    verdict = (
        "The present value lies within its interval: your bones do not speak against it."
        if inside
        else "The present value lies outside its interval: your bones differ from it."
    )
    return Offer(
        setting=name,
        unit=setting(name).unit,
        present=present,
        own=own,
        interval=interval,
        n=n,
        cases=cases,
        why=f"{what} {verdict}",
    )
