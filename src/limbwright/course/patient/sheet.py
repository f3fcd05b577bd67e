"""One page for the patient: what to do each day, weight allowed, exercises, when to call at once."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from limbwright.course.advice.weight import weight_allowed
from limbwright.course.patient.translation import Translation, translation
from limbwright.course.schedule import Day, DayKind
from limbwright.course.standing import Standing
from limbwright.error import Missing
from limbwright.limb.anatomy import Bone
from limbwright.published import table
from limbwright.quantity import Value, lb_from_kg

MOST_RUNS = 5
BONES = {Bone.TIBIA: "lower leg", Bone.FEMUR: "thigh"}


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSection(Value):
    """A heading and short sentences under it."""

    heading: str
    """Heading."""
    lines: tuple[str, ...]
    """Sentences, one to a line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PatientSheet(Value):
    """The patient's page, every word of it in one language."""

    language: str
    """ISO 639-1 code."""
    title: str
    """Heading of the page."""
    made_for: str
    """The day it was made for, in words."""
    sections: tuple[SheetSection, ...]
    """What to do each day, by bone; weight; exercises; next film."""
    call_at_once: SheetSection
    """When to call at once; the part to print largest."""
    until_then: tuple[str, ...]
    """What to do until the call is answered, and the number."""
    caution: str
    """What the page is and is not."""


def patient_sheet(bones: tuple[Standing, ...], *, language: str = "en", telephone: str = "") -> PatientSheet:
    """The page of one leg on the day its bones were looked at.

    Parameters
    ----------
    bones : tuple of Standing
        All bones of the leg, on one day.
    language : str
        ISO 639-1 code of a catalogue.
    telephone : str
        The practice's number, printed with the reasons to call.

    Raises
    ------
    Missing
        Without a bone.
    OutOfRange
        If there is no catalogue of the language.

    Notes
    -----
    The page says what is prescribed. What the rules advise is the surgeon's to prescribe first.
    """
    if not bones:
        raise Missing(
            "no lengthened bone.",
            where="patient sheet",
            next_step="Record the operation and the prescription.",
        )
    t = translation(language)
    return PatientSheet(
        language=language,
        title=t.gettext("Lengthening your leg: what to do each day"),
        made_for=t.day(bones[0].on),
        sections=(
            *(_doses(s, t) for s in bones),
            _weight(bones, t),
            _exercises(bones, t),
            _film(bones, t),
        ),
        call_at_once=SheetSection(
            heading=t.gettext("Call at once if"),
            lines=tuple(t.gettext(row.text("words")) for row in table("course", "call_at_once")),
        ),
        until_then=(
            t.gettext("Make no further dose until you have been told to go on."),
            *((t.said("Telephone: {number}", number=telephone),) if telephone else ()),
        ),
        caution=t.gettext(
            "This page goes with what your surgeon has told you and does not replace it. Ask if anything is "
            "unclear or differs from what you were told."
        ),
    )


def _doses(s: Standing, t: Translation) -> SheetSection:
    where = t.gettext(BONES[s.bone])
    heading = t.said("Doses for the {where}", where=where)
    ahead = tuple(d for d in s.days if d.number > s.today)
    if not any(d.steps for d in ahead):
        return SheetSection(heading=heading, lines=(t.gettext("No more doses. Do not turn the device."),))
    lines = [*_runs(ahead, t)][:MOST_RUNS]
    lines.append(t.gettext("Space the doses evenly over the day and tick each one in the diary."))
    lines.append(
        t.gettext(
            "If you have missed a dose, do not make two at once: write it down and tell us at the next visit."
        )
    )
    return SheetSection(heading=heading, lines=tuple(lines))


def _runs(days: tuple[Day, ...], t: Translation) -> Iterator[str]:
    """Days with the same doses, in one sentence each."""
    last = max(d.number for d in days if d.steps)
    for key, run in groupby(
        (d for d in days if d.number <= last), key=lambda d: (d.kind, d.steps, d.step_mm)
    ):
        members = tuple(run)
        kind, steps, step_mm = key
        when = _span(members[0].on, members[-1].on, t)
        step = t.number(step_mm, 3)
        if not steps:
            yield t.said("{when}: no dose.", when=when)
        elif kind is DayKind.REVERSE:
            yield t.said(
                "{when}: {count} doses a day in the other direction, {step} mm each. The bone gets shorter "
                "again.",
                when=when,
                count=str(steps),
                step=step,
            )
        elif steps == 1:
            yield t.said("{when}: 1 dose a day of {step} mm.", when=when, step=step)
        else:
            yield t.said(
                "{when}: {count} doses a day of {step} mm each ({day} mm a day).",
                when=when,
                count=str(steps),
                step=step,
                day=t.number(steps * step_mm, 3),
            )


def _span(first: date, last: date, t: Translation) -> str:
    if first == last:
        return t.said("On {day}", day=t.day(first))
    return t.said("From {first} to {last}", first=t.day(first), last=t.day(last))


def _weight(bones: tuple[Standing, ...], t: Translation) -> SheetSection:
    """The least of all bones' limits; full weight only when it was allowed for every bone."""
    heading = t.gettext("Weight on the leg")
    limits = [
        weight_allowed(s).limit_kg
        for s in bones
        if s.treatment.full_weight_on is None or s.on < s.treatment.full_weight_on
    ]
    if not limits:
        return SheetSection(heading=heading, lines=(t.gettext("You may put your full weight on the leg."),))
    known = [limit for limit in limits if limit is not None]
    if len(known) < len(limits):
        return SheetSection(
            heading=heading,
            lines=(
                t.gettext("Put no weight on the leg until your surgeon has told you how much is allowed."),
            ),
        )
    kg = min(known)
    return SheetSection(
        heading=heading,
        lines=(
            t.said(
                "Put no more than {kg} kg ({lb} lb) on the leg.",
                # rounded down: a limit must not grow by being printed
                kg=str(int(kg + 1e-6)),
                lb=str(int(lb_from_kg(kg) + 1e-3)),
            ),
            t.gettext("Use crutches, and practise on bathroom scales until you know what it feels like."),
        ),
    )


def _exercises(bones: tuple[Standing, ...], t: Translation) -> SheetSection:
    names = {s.bone.value for s in bones}
    rows = [row.text("words") for row in table("course", "exercises") if row.text("bone") in names]
    return SheetSection(
        heading=t.gettext("Exercises"), lines=tuple(t.gettext(words) for words in dict.fromkeys(rows))
    )


def _film(bones: tuple[Standing, ...], t: Translation) -> SheetSection:
    due = [d.on for s in bones for d in s.days if d.film and d.number > s.today]
    line = (
        t.said("{day}. Bring your diary.", day=t.day(min(due)))
        if due
        else t.gettext("Your surgeon tells you when the next X-ray is due.")
    )
    return SheetSection(heading=t.gettext("Next X-ray and visit"), lines=(line,))
