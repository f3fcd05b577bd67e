"""Pain and wounds."""

from collections.abc import Iterator

from limbwright.course.advice.said import Pace, Said, numbers
from limbwright.course.clinical import Wound
from limbwright.course.standing import Standing
from limbwright.finding import Finding, Severity
from limbwright.plan.rule import rule_source
from limbwright.published import COMMON_PRACTICE


def pain(s: Standing) -> Iterator[Said]:
    """Pain at the latest visit."""
    clinical = s.visit.clinical if s.visit else None
    if clinical is None or clinical.pain_0_to_10 is None or not s.lengthening:
        return
    limit = s.profile.pain_slow_from
    if clinical.pain_0_to_10 >= limit:
        yield Said(
            Finding(
                id="pain-high",
                severity=Severity.CAUTION,
                words=f"Pain is {clinical.pain_0_to_10:g} of 10.",
                next_step="Look for a cause (nerve, joint, infection, hardware); consider a slower rate.",
                numbers=numbers(("pain", clinical.pain_0_to_10, ""), ("slow from", limit, "")),
                rule="Pain of pain_slow_from or more is a reason to slow the lengthening.",
                source=rule_source(s.profile, "pain_slow_from"),
            ),
            Pace.SLOW,
            sooner=True,
        )


def wound(s: Standing) -> Iterator[Said]:
    """Wounds at the latest visit."""
    clinical = s.visit.clinical if s.visit else None
    if clinical is None or clinical.wound in {None, Wound.DRY}:
        return
    if clinical.wound is Wound.RED:
        yield Said(
            Finding(
                id="wound-red",
                severity=Severity.CAUTION,
                words="A wound is red.",
                next_step="See it again within days; consider blood tests.",
                rule="A red wound is watched.",
                source=COMMON_PRACTICE,
            ),
            sooner=True,
        )
        return
    yield Said(
        Finding(
            id="wound-draining",
            severity=Severity.STOP,
            words=f"A wound is {clinical.wound}.",
            next_step="Call the surgeon today: infection beside a nail is treated before the bone is "
            "lengthened "
            "further.",
            rule="A draining or open wound is seen by the surgeon before going on.",
            source=COMMON_PRACTICE,
        ),
        Pace.HOLD if s.lengthening else None,
        sooner=True,
    )
