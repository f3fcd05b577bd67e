"""The patient's sheet and diary, in both languages."""

import ast
import re
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from limbwright.case.caution import CAUTION
from limbwright.course import change
from limbwright.course.patient import translation as translation_module
from limbwright.course.patient.diary_page import diary_page
from limbwright.course.patient.sheet import BONES, patient_sheet
from limbwright.course.patient.translation import LANGUAGES, MONTHS, WEEKDAYS, messages_of, translation
from limbwright.course.prescription import PhaseKind, default_prescription
from limbwright.error import Missing, OutOfRange, Unreadable
from limbwright.limb.anatomy import Bone
from limbwright.published import table

PATIENT = Path(translation_module.__file__).parent
CALENDAR = PATIENT.parents[1] / "interop" / "calendar.py"
PRINTED = PATIENT.parents[1] / "report" / "patient_sheet.py"
UNPRINTED = {PhaseKind.LATENCY, PhaseKind.CONSOLIDATION}
"""Phases without entries of their own."""


def message_ids():
    """Every text handed to a translation in the code, and every row and name that becomes one."""
    for path in (*PATIENT.glob("*.py"), CALENDAR, PRINTED):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            called = isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
            if called and node.func.attr in {"gettext", "said"} and isinstance(node.args[0], ast.Constant):
                yield node.args[0].value
    for name in ("exercises", "call_at_once"):
        yield from (row.text("words") for row in table("course", name))
    yield from (*BONES.values(), *MONTHS, *WEEKDAYS)
    yield from ("Day", "Doses", "Size of a dose", "Remarks", CAUTION, "femur", "tibia")
    yield from (kind.value for kind in PhaseKind if kind not in UNPRINTED)


@pytest.mark.parametrize("language", [code for code in LANGUAGES if code != "en"])
def test_every_message_is_translated_with_the_same_places_to_fill_and_none_is_left_over(language):
    wanted = set(message_ids())
    messages = translation(language).messages
    assert set(messages) == wanted
    for message, words in messages.items():
        assert words, message
        assert sorted(re.findall(r"\{(\w+)\}", words)) == sorted(re.findall(r"\{(\w+)\}", message)), message


def test_what_to_do_each_day(tibia, stand):
    sheet = patient_sheet((stand(tibia, 9),), telephone="000 111")
    doses, weight, exercises, film = sheet.sections
    assert doses.heading == "Doses for the lower leg"
    assert doses.lines[:3] == (
        "From Thursday, March 12, 2026 to Friday, March 13, 2026: "
        "4 doses a day of 0.25 mm each (1 mm a day).",
        "From Saturday, March 14, 2026 to Thursday, April 23, 2026: "
        "3 doses a day of 0.25 mm each (0.75 mm a day).",
        "On Friday, April 24, 2026: 1 dose a day of 0.25 mm.",
    )
    assert weight.lines[0] == "Put no more than 22 kg (50 lb) on the leg."
    assert len(exercises.lines) == 3
    assert film.lines == ("Monday, March 16, 2026. Bring your diary.",)
    assert "pull up your foot" in sheet.call_at_once.lines[0]
    assert sheet.until_then[-1] == "Telephone: 000 111"
    assert "does not replace it" in sheet.caution


def test_the_same_in_german(tibia, stand):
    sheet = patient_sheet((stand(tibia, 9),), language="de")
    assert sheet.made_for == "Mittwoch, 11. März 2026"
    assert sheet.sections[0].lines[0] == (
        "Von Donnerstag, 12. März 2026 bis Freitag, 13. März 2026: "
        "4 Schritte am Tag von je 0,25 mm (1 mm am Tag)."
    )
    assert sheet.sections[1].lines[0] == "Belasten Sie das Bein mit höchstens 22 kg (50 lb)."
    english = set(message_ids())
    said = (
        *(line for section in (*sheet.sections, sheet.call_at_once) for line in section.lines),
        *sheet.until_then,
    )
    assert not english & set(said)


def test_a_hold_and_a_reversal_are_said(tibia, profile, stand):
    rest = change.amended(tibia, change.held(tibia, from_day=20, gained_mm=10.0, days=7))
    lines = patient_sheet((stand(rest, 19),)).sections[0].lines
    assert lines[0] == "From Sunday, March 22, 2026 to Saturday, March 28, 2026: no dose."
    back = change.amended(tibia, change.reversed_by(tibia, profile, from_day=20, gained_mm=10.0, back_mm=3.0))
    lines = patient_sheet((stand(back, 19),)).sections[0].lines
    assert "3 doses a day in the other direction, 0.25 mm each" in lines[0]


def test_after_the_last_dose(tibia, stand):
    done = replace(tibia, full_weight_on=date(2026, 7, 1))
    sheet = patient_sheet((stand(done, 200),))
    assert sheet.sections[0].lines == ("No more doses. Do not turn the device.",)
    assert sheet.sections[1].lines == ("You may put your full weight on the leg.",)
    assert "when the next X-ray is due" in sheet.sections[3].lines[0]


def test_without_a_known_limit_no_weight(tibia, stand):
    sheet = patient_sheet((stand(tibia, 9, nail=None),))
    assert sheet.sections[1].lines == (
        "Put no weight on the leg until your surgeon has told you how much is allowed.",
    )


def test_two_bones_take_the_lower_limit_and_share_exercises(tibia, profile, nail, stand):
    femur = replace(
        tibia, prescription=default_prescription(profile, bone=Bone.FEMUR, age_years=30, target_mm=40)
    )
    thick = replace(nail, bone=Bone.FEMUR, thick_diameter_mm=12.5, thin_diameter_mm=10.7)
    sheet = patient_sheet((stand(femur, 9, nail=thick), stand(tibia, 9)))
    assert [s.heading for s in sheet.sections[:2]] == ["Doses for the thigh", "Doses for the lower leg"]
    assert "22 kg" in sheet.sections[2].lines[0]
    assert len(sheet.sections[3].lines) == 5


def test_the_diary_has_a_box_for_each_dose(tibia):
    page = diary_page(tibia, first=date(2026, 3, 9), last=date(2026, 3, 16))
    assert page.title == "Diary for the lower leg"
    assert [(r.on.day, r.boxes, r.dose, r.note) for r in page.rows] == [
        (9, 0, "", ""),
        (10, 4, "0.25 mm", ""),
        (11, 4, "0.25 mm", ""),
        (12, 4, "0.25 mm", ""),
        (13, 4, "0.25 mm", ""),
        (14, 3, "0.25 mm", ""),
        (15, 3, "0.25 mm", ""),
        (16, 3, "0.25 mm", "X-ray"),
    ]
    german = diary_page(tibia, first=date(2026, 3, 16), last=date(2026, 3, 16), language="de")
    assert (german.rows[0].dose, german.rows[0].note) == ("0,25 mm", "Röntgenbild")
    assert german.columns == ("Tag", "Schritte", "Größe eines Schritts", "Bemerkungen")


def test_the_diary_marks_the_other_direction(tibia, profile):
    back = change.amended(
        tibia, change.reversed_by(tibia, profile, from_day=20, gained_mm=10.0, back_mm=0.75)
    )
    on = tibia.operated_on + timedelta(days=20)
    assert diary_page(back, first=on, last=on).rows[0].note == "other direction"


def test_numbers_and_an_unknown_message():
    german = translation("de")
    assert (german.number(0.25, 3), german.number(1.0, 3), german.number(10, 0)) == ("0,25", "1", "10")
    assert german.gettext("never said") == "never said"


def test_what_cannot_be_said_is_refused(tibia, stand):
    with pytest.raises(OutOfRange, match=r"language 'xx', expected one of en, de"):
        patient_sheet((stand(tibia, 9),), language="xx")
    with pytest.raises(Missing, match=r"no lengthened bone"):
        patient_sheet(())


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('msgid "a"\nmsgstr "b"\nmsgid "a"\nmsgstr "c"\n', r"the message 'a' comes twice"),
        ('msgctxt "a"\n', r"line 1 is not understood"),
        ('"loose"\n', r"line 1 is not understood"),
        ('msgid "a\n', r"line 1 is not understood"),
    ],
)
def test_damaged_catalogues_are_refused(text, message):
    with pytest.raises(Unreadable, match=message):
        messages_of(text, where="xx.po")


def test_quoted_lines_are_joined_and_escapes_read():
    text = '# words\nmsgid ""\nmsgstr "head\\n"\n\nmsgid ""\n"one "\n"two"\nmsgstr "zwei \\"drei\\""\n'
    assert messages_of(text, where="xx.po") == {"one two": 'zwei "drei"'}
