"""The patient's page and diary on paper, in the patient's language; every sentence comes from the course."""

from dataclasses import asdict, dataclass
from datetime import date, timedelta
from typing import Any, TypedDict

from limbwright.case.case import Case
from limbwright.case.caution import CAUTION
from limbwright.case.followed import followed_case
from limbwright.course.patient.diary_page import DiaryPage, diary_page
from limbwright.course.patient.sheet import PatientSheet, patient_sheet
from limbwright.course.patient.translation import translation
from limbwright.error import Missing
from limbwright.practice.profile import Profile
from limbwright.report.pdf import typeset

DIARY_DAYS = 42
"""Days of the diary where the caller asks for no other number: three visits at the usual interval."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PatientSheetPage:
    """What the template of the patient's page reads."""

    sheet: dict[str, Any]
    """The `PatientSheet` as plain values."""
    header_right: str
    caution: str
    invented: str
    """Said of an invented patient; empty for a real one."""
    page_words: tuple[str, str]
    """`page` and `of`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DiaryPages:
    """What the template of the diary reads: one diary for each bone."""

    diaries: tuple[dict[str, Any], ...]
    """`DiaryPage` values as plain values, without dates."""
    language: str
    most_boxes: int
    header_right: str
    caution: str
    invented: str
    """Said of an invented patient; empty for a real one."""
    page_words: tuple[str, str]
    """`page` and `of`."""


def printed_patient_sheet(
    case: Case, profile: Profile, *, on: date, language: str = "en", telephone: str = ""
) -> bytes:
    """The patient's page as PDF, for the day it is handed out.

    Parameters
    ----------
    case : Case
        With a course.
    profile : Profile
        The surgeon's rules.
    on : date
        The day; what is prescribed for later days is printed.
    language : str
        ISO 639-1 code of a catalogue.
    telephone : str
        The practice's number.

    Raises
    ------
    Missing
        If no bone has been operated on by that day.
    OutOfRange
        If there is no catalogue of the language.
    """
    outlook = followed_case(case, profile, on=on)
    sheet = patient_sheet(
        tuple(bone.standing for bone in outlook.bones), language=language, telephone=telephone
    )
    return typeset("patient_sheet.typ", patient_sheet_page(sheet, case))


def patient_sheet_page(sheet: PatientSheet, case: Case) -> PatientSheetPage:
    """What the template is given."""
    return PatientSheetPage(sheet=asdict(sheet), header_right=case.id, **_around(case, sheet.language))


def printed_diary(case: Case, *, on: date, days: int = DIARY_DAYS, language: str = "en") -> bytes:
    """The diary of all bones as PDF, from a day on.

    Raises
    ------
    Missing
        If nothing of the schedule is left in those days.
    OutOfRange
        If there is no catalogue of the language.
    """
    treatments = case.course.treatments if case.course is not None else ()
    last = on + timedelta(days=days - 1)
    pages = tuple(diary_page(t, first=on, last=last, language=language) for t in treatments)
    pages = tuple(page for page in pages if page.rows)
    if not pages:
        raise Missing(
            f"no day of a schedule lies between {on} and {last}.",
            where=f"case {case.id!r}, diary",
            next_step="Ask for earlier or more days, or record the operation first.",
        )
    return typeset("diary.typ", diary_pages(pages, case))


def diary_pages(pages: tuple[DiaryPage, ...], case: Case) -> DiaryPages:
    """What the template is given."""
    return DiaryPages(
        diaries=tuple(
            {
                "title": page.title,
                "columns": page.columns,
                "rows": [{"day": r.day, "boxes": r.boxes, "dose": r.dose, "note": r.note} for r in page.rows],
            }
            for page in pages
        ),
        language=pages[0].language,
        most_boxes=max(r.boxes for page in pages for r in page.rows),
        header_right=case.id,
        **_around(case, pages[0].language),
    )


class _Around(TypedDict):
    """What stands around a page, in its language."""

    caution: str
    invented: str
    page_words: tuple[str, str]


def _around(case: Case, language: str) -> _Around:
    t = translation(language)
    return _Around(
        caution=t.gettext(CAUTION),
        invented=t.gettext("invented demo patient") if case.invented else "",
        page_words=(t.gettext("page"), t.gettext("of")),
    )
