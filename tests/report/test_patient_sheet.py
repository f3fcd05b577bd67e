"""The patient's page and diary: read back from the PDF, in both languages."""

import io
import re
import subprocess
from dataclasses import replace
from datetime import date

import pytest
from pypdf import PdfReader

from limbwright.case.case import Case
from limbwright.case.caution import CAUTION
from limbwright.cli.demo_courses import TIGHT
from limbwright.course.course import Treatment
from limbwright.course.patient.translation import translation
from limbwright.course.prescription import default_prescription
from limbwright.error import Missing, OutOfRange
from limbwright.implant.shipped import shipped_catalogue
from limbwright.limb.anatomy import Bone
from limbwright.practice.profile import Profile
from limbwright.report.patient_sheet import printed_diary, printed_patient_sheet

EARLY = date(2026, 3, 20)


@pytest.fixture(scope="module")
def case() -> Case:
    nail = next(n for n in shipped_catalogue().nails if n.name == "T-10.7/305")
    return TIGHT.case(Profile(), nail)


def pages(pdf: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages]


def test_one_page_says_doses_weight_exercises_and_when_to_call(case: Case) -> None:
    (text,) = pages(printed_patient_sheet(case, Profile(), on=EARLY, telephone="000 11"))
    for words in (
        "Call at once if",
        "You cannot pull up your foot",
        "Telephone: 000 11",
        "From Tuesday, March 24, 2026 to Friday, March 27, 2026: 4 doses a day of 0.25 mm each (1 mm a day).",
        "Put no more than 22 kg (50 lb) on the leg.",
        "Exercises",
        "Monday, March 30, 2026. Bring your diary.",
        CAUTION,
        "invented demo patient",
    ):
        assert words in text


def test_german_has_its_own_words_and_decimal_comma(case: Case) -> None:
    (text,) = pages(printed_patient_sheet(case, Profile(), on=EARLY, language="de"))
    assert "Rufen Sie sofort an" in text
    assert "0,25 mm" in text
    assert "höchstens 22 kg (50 lb)" in text
    assert "Call at once" not in text


def test_the_page_of_two_bones_is_still_one_page(case: Case) -> None:
    assert case.course is not None
    femur = Treatment(
        operated_on=case.course.treatments[0].operated_on,
        prescription=default_prescription(Profile(), bone=Bone.FEMUR, age_years=41, target_mm=40),
    )
    both = replace(case, course=replace(case.course, treatments=(*case.course.treatments, femur)))
    (text,) = pages(printed_patient_sheet(both, Profile(), on=EARLY, language="de", telephone="000 11"))
    assert "Oberschenkel" in text
    assert translation("de").gettext(CAUTION) in text
    assert CAUTION not in text
    assert "Seite 1 von 1" in text


def test_the_diary_has_a_box_for_each_dose_and_the_caution_on_every_page(case: Case) -> None:
    pdf = printed_diary(case, on=EARLY, days=70)
    texts = pages(pdf)
    assert len(texts) > 1
    assert all(CAUTION in text for text in texts)
    days = re.findall(r"\w+day, (?:March|April|May) \d+, 2026", " ".join(texts))
    assert len(days) == len(set(days)) == 70
    one_day = printed_diary(case, on=date(2026, 3, 24), days=1)
    no_dose = printed_diary(case, on=EARLY, days=1)
    boxes = [drawn(one_day), drawn(no_dose)]
    assert boxes[0] - boxes[1] == 4


def drawn(pdf: bytes) -> int:
    """Rounded boxes drawn on the page: shapes closed with curves."""
    content = PdfReader(io.BytesIO(pdf)).pages[0].get_contents()
    assert content is not None
    shapes = re.split(rb"\b[SsfBbn]\*?\s", content.get_data())
    return sum(len(re.findall(rb"\sc\s", shape)) == 4 for shape in shapes)


def test_pdftotext_reads_the_same(case: Case) -> None:
    pdf = printed_patient_sheet(case, Profile(), on=EARLY)
    read = subprocess.run(["pdftotext", "-", "-"], input=pdf, capture_output=True, check=True)
    assert "Put no more than 22 kg (50 lb) on the leg." in " ".join(read.stdout.decode().split())
    diary = printed_diary(case, on=EARLY, days=7)
    read = subprocess.run(["pdftotext", "-", "-"], input=diary, capture_output=True, check=True)
    words = " ".join(read.stdout.decode().split())
    assert "Diary for the" in words
    assert "0.25 mm" in words


def test_refusals(case: Case) -> None:
    with pytest.raises(OutOfRange, match="expected one of en, de"):
        printed_patient_sheet(case, Profile(), on=EARLY, language="xx")
    with pytest.raises(Missing, match="no day of a schedule"):
        printed_diary(case, on=date(2030, 1, 1))
    with pytest.raises(Missing, match="no bone has been operated on"):
        printed_patient_sheet(replace(case, course=None), Profile(), on=EARLY)
