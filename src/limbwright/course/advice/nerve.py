"""Nerve signs: stop and call; with weakness that stays, shortening is considered."""

from collections.abc import Iterator

from limbwright.course.advice.said import Pace, Said, numbers
from limbwright.course.standing import Standing
from limbwright.finding import Finding, Severity
from limbwright.plan.rule import rule_source
from limbwright.published import COMMON_PRACTICE, Source, Status

DECOMPRESSION = Source(
    text="Nogueira et al., Nerve lesions associated with limb-lengthening, J Bone Joint Surg Am 2003 "
    "(85:1502, "
    "abstract): 76 lesions in 814 lengthenings, 84 % during distraction, sooner recovery after sooner "
    "decompression",
    status=Status.VERIFIED,
)


def nerve(s: Standing) -> Iterator[Said]:
    """Signs of a stretched nerve at the latest visit."""
    visit = s.visit
    if visit is None:
        return
    clinical = visit.clinical
    if clinical is None or not (clinical.nerves_examined or clinical.nerve_signs):
        if s.started and s.lengthening:
            yield Said(
                Finding(
                    id="nerves-not-examined",
                    severity=Severity.CAUTION,
                    words="Feeling and strength of the foot are not recorded for the visit of "
                    f"{visit.seen_on}.",
                    next_step="Examine first web space, sole and toe extension, and record it.",
                    rule="While a bone lengthens, nerves are examined at every visit.",
                    source=COMMON_PRACTICE,
                )
            )
        return
    if not clinical.nerve_signs:
        return
    signs = ", ".join(clinical.nerve_signs)
    yield Said(
        Finding(
            id="nerve-signs",
            severity=Severity.STOP,
            words=f"Nerve signs on {visit.seen_on}: {signs}.",
            next_step="Stop the lengthening and call the surgeon today; consider decompression of the nerve "
            "when they do not recede within days.",
            numbers=numbers(("nerve signs", len(clinical.nerve_signs), "")),
            rule="Any nerve sign stops the lengthening until the surgeon has seen it.",
            source=DECOMPRESSION,
        ),
        Pace.HOLD,
        sooner=True,
    )
    rested = _days_of_rest(s)
    limit = s.profile.nerve_recovery_days
    if any(sign.motor for sign in clinical.nerve_signs) and rested >= limit and _weak_before(s):
        yield Said(
            Finding(
                id="nerve-weakness-stays",
                severity=Severity.STOP,
                words=f"The weakness has not receded although lengthening has rested for {rested} days.",
                next_step="Consider shortening the nail by some millimetres, and decompression of the nerve.",
                numbers=numbers(("days of rest", rested, "d"), ("days allowed", limit, "d")),
                rule="Weakness that stays for nerve_recovery_days of rest is a reason to shorten or "
                "decompress.",
                source=rule_source(s.profile, "nerve_recovery_days"),
            ),
            Pace.REVERSE,
            sooner=True,
        )


def _days_of_rest(s: Standing) -> int:
    rested = 0
    for day in reversed(s.book.days):
        if day.steps_reported > 0:
            break
        rested += 1
    return rested


def _weak_before(s: Standing) -> bool:
    earlier = s.earlier_visit
    return (
        earlier is not None
        and earlier.clinical is not None
        and any(sign.motor for sign in earlier.clinical.nerve_signs)
    )
