"""Length measured, reported and prescribed: missed doses, a nail that gives less, the wrong direction."""

import math
from collections.abc import Iterator

from limbwright.course.advice.said import Pace, Said, numbers
from limbwright.course.ledger import LedgerDay
from limbwright.course.standing import Standing
from limbwright.finding import Finding, Severity
from limbwright.plan.rule import rule_source
from limbwright.quantity import Measured


def length(s: Standing) -> Iterator[Said]:
    """What the diary and the latest film say of the length gained."""
    yield from _diary(s)
    day = s.book.last_measured()
    if day is None or day.measured is None or s.visit is None or day.on != s.visit.seen_on:
        return
    wrong = list(_wrong_direction(s, day, day.measured))
    yield from wrong
    if not wrong:
        yield from _against_diary(s, day, day.measured)


def _diary(s: Standing) -> Iterator[Said]:
    limit = s.profile.length_disagreement_mm
    wrong = s.book.wrong_direction_days
    if wrong:
        yield Said(
            Finding(
                id="diary-wrong-direction",
                severity=Severity.CAUTION,
                words=f"The diary has steps in the wrong direction on {len(wrong)} days, the last on "
                f"{wrong[-1].on}.",
                next_step="Show the patient the direction again, and take a film.",
                numbers=numbers(("days in the wrong direction", len(wrong), "d")),
                rule="Steps against the prescribed direction are pointed out.",
                source=rule_source(s.profile, "length_disagreement_mm"),
            ),
            sooner=True,
        )
    last = s.book.last
    start, settled = s.counted_from(last.number)
    reported = last.reported_mm - settled + start
    short = last.prescribed_mm - reported
    if abs(short) >= limit:
        missed = short > 0
        yield Said(
            Finding(
                id="doses-differ",
                severity=Severity.CAUTION,
                words=f"Reported are {reported:g} mm, prescribed are {last.prescribed_mm:g} mm: "
                f"{abs(short):g} mm {'missed' if missed else 'too much'}.",
                next_step="Ask why, and compute the prescription again from what is there.",
                numbers=numbers(
                    ("reported", reported, "mm"),
                    ("prescribed", last.prescribed_mm, "mm"),
                    ("steps missed by the diary", s.book.missed_steps, ""),
                    ("steps too many by the diary", s.book.extra_steps, ""),
                ),
                rule="Reported and prescribed length differ by length_disagreement_mm or more.",
                source=rule_source(s.profile, "length_disagreement_mm"),
            )
        )


def _wrong_direction(s: Standing, day: LedgerDay, measured: Measured) -> Iterator[Said]:
    """Shorter than on the film before, though the diary lengthened."""
    before = next((d for d in reversed(s.book.days[: day.number]) if d.measured is not None), s.book.days[0])
    was = before.measured or Measured(value=0.0, sd=0.0, unit="mm")
    change = measured.value - was.value
    sd = math.hypot(measured.sd, was.sd)
    reported = day.reported_mm - before.reported_mm
    if reported > 0 and change < -s.profile.beyond_noise_sd * sd:
        yield Said(
            Finding(
                id="length-wrong-direction",
                severity=Severity.STOP,
                words=f"The {s.bone} got {-change:.1f} mm shorter since {before.on}, while the diary "
                "lengthened "
                f"it by {reported:g} mm.",
                next_step="Check which way the nail is turned before the next step, and the locking screws.",
                numbers=numbers(
                    ("change on film", change, "mm"),
                    ("its standard uncertainty", sd, "mm"),
                    ("change by the diary", reported, "mm"),
                ),
                rule="A bone that gets shorter by beyond_noise_sd or more is moved the wrong way or slips.",
                source=rule_source(s.profile, "beyond_noise_sd", "gap_reading_sd_mm"),
            ),
            Pace.HOLD,
            sooner=True,
        )


def _against_diary(s: Standing, day: LedgerDay, measured: Measured) -> Iterator[Said]:
    limit = s.profile.length_disagreement_mm
    start, settled = s.counted_from(day.number)
    reported = day.reported_mm - settled + start
    less = reported - measured.value
    if abs(less) < limit:
        return
    given = s.now.given_per_mm
    yield Said(
        Finding(
            id="length-differs-from-diary",
            severity=Severity.CAUTION,
            words=f"The film of {day.on} shows {measured.value:.1f} mm gained and the diary "
            f"{reported:g} "
            f"mm: {abs(less):.1f} mm {'less' if less > 0 else 'more'}. The {s.bone} gains "
            f"{100 * given.value:.0f} % of what is reported (95 % interval "
            f"{100 * given.interval95()[0]:.0f} to {100 * given.interval95()[1]:.0f} %).",
            next_step="Check diary and device, watch a dose being made, and look for slipping screws and "
            "early "
            "bridging."
            if less > 0
            else "Check the diary for doses made twice, and the marks on the film.",
            numbers=numbers(
                ("measured", measured.value, "mm"),
                ("reported", reported, "mm"),
                ("limit", limit, "mm"),
                ("gained of what is reported", 100 * given.value, "%"),
            ),
            rule="Measured and reported length differ by length_disagreement_mm or more.",
            source=rule_source(s.profile, "length_disagreement_mm"),
        ),
        sooner=True,
    )
