"""The diary to print and tick: one row for each day, one box for each dose."""

from dataclasses import dataclass
from datetime import date

from limbwright.course.course import Treatment
from limbwright.course.patient.sheet import BONES
from limbwright.course.patient.translation import translation
from limbwright.course.schedule import DayKind
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class DiaryRow(Value):
    """One day."""

    on: date
    """The day."""
    day: str
    """The day in words."""
    boxes: int
    """Boxes to tick, one for each dose; 0 = no dose."""
    dose: str
    """Size of one dose in words; empty without a dose."""
    note: str
    """What else is due, in words; empty for nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DiaryPage(Value):
    """The diary of one bone, every word of it in one language."""

    language: str
    """ISO 639-1 code."""
    title: str
    """Heading."""
    columns: tuple[str, ...]
    """Headings of the columns: day, doses, size of a dose, remarks."""
    rows: tuple[DiaryRow, ...]
    """Days in order."""


def diary_page(treatment: Treatment, *, first: date, last: date, language: str = "en") -> DiaryPage:
    """The diary of one bone from `first` to `last`, both included; days outside the schedule are left out."""
    t = translation(language)
    rows = []
    for day in treatment.days():
        if not first <= day.on <= last:
            continue
        notes = []
        if day.kind is DayKind.REVERSE:
            notes.append(t.gettext("other direction"))
        if day.film:
            notes.append(t.gettext("X-ray"))
        rows.append(
            DiaryRow(
                on=day.on,
                day=t.day(day.on),
                boxes=day.steps,
                dose=f"{t.number(day.step_mm, 3)} mm" if day.steps else "",
                note=", ".join(notes),
            )
        )
    where = t.gettext(BONES[treatment.prescription.bone])
    return DiaryPage(
        language=language,
        title=t.said("Diary for the {where}", where=where),
        columns=tuple(t.gettext(word) for word in ("Day", "Doses", "Size of a dose", "Remarks")),
        rows=tuple(rows),
    )
