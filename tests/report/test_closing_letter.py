"""The closing letter, page value and PDF read back."""

import io
import subprocess
from dataclasses import replace
from datetime import date

import pytest
from pypdf import PdfReader

from limbwright.case.case import Case
from limbwright.case.caution import CAUTION
from limbwright.cli.demo_courses import SMOOTH, TIGHT
from limbwright.course.complication import Complication, ComplicationKind, Remedy
from limbwright.course.score import Score
from limbwright.error import Missing
from limbwright.implant.shipped import shipped_catalogue
from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import Examination
from limbwright.practice.profile import Profile
from limbwright.report.closing_letter import closing_letter_page, printed_closing_letter

DAY = date(2027, 1, 11)


@pytest.fixture(scope="module")
def closed() -> Case:
    """The smooth course, consolidated and ended, with one adverse event and a score."""
    nail = next(n for n in shipped_catalogue().nails if n.name == "T-10.7/305")
    case = SMOOTH.case(Profile(), nail)
    assert case.course is not None
    (treatment,) = case.course.treatments
    course = replace(
        case.course,
        treatments=(replace(treatment, consolidated_on=date(2026, 8, 3), full_weight_on=date(2026, 8, 3)),),
        complications=(
            Complication(
                kind=ComplicationKind.JOINT_CONTRACTURE,
                seen_on=date(2026, 5, 11),
                bone=Bone.TIBIA,
                remedy=Remedy.NOT_OPERATIVE,
                remedy_words="night splint",
                resolved_on=date(2026, 6, 29),
            ),
        ),
        scores=(Score(name="knee score", on=date(2026, 12, 1), value=91, worst=0, best=100),),
        ended_on=date(2026, 12, 21),
    )
    return replace(
        case, course=course, examination=Examination(knee_flexion_deg=140.0, ankle_dorsiflexion_deg=15.0)
    )


def test_length_indices_and_events_stand_beside_the_plan(closed: Case) -> None:
    page = closing_letter_page(closed, Profile(), printed_on=DAY)
    (bone,) = page.bones
    rows = {row[0]: row[1:] for row in bone.table.rows}
    assert rows["Length"] == ("35 mm", "34.9 ± 1.8 mm")
    assert rows["Accuracy of length"] == ("", "100 %")
    assert rows["Healing index"] == ("", "40 days/cm")  # 140 days over 3.49 cm
    assert rows["Angulation since the operation, frontal film"] == ("none", "0.6° valgus")
    assert page.events is not None
    assert page.events.rows == (
        ("11 May 2026", "joint contracture, tibia", "night splint", "29 Jun 2026", "problem"),
    )
    assert page.events_words == "1 problem."
    assert page.motion is not None
    assert page.motion.rows[0] == ("Knee flexion", "140°", "130°", "10° worse")
    assert page.title.startswith("Closing letter")


def test_a_treatment_that_goes_on_is_called_interim_and_equinus_is_a_word() -> None:
    page = closing_letter_page(TIGHT.case(Profile(), shipped_catalogue().nails[0]), Profile(), printed_on=DAY)
    assert page.title.startswith("Interim letter")
    assert page.note_headline
    assert page.motion is not None
    ankle = next(row for row in page.motion.rows if row[0].startswith("Ankle"))
    assert ankle[1:] == ("not examined", "13° equinus", "–")
    rows = {row[0]: row[2] for row in page.bones[0].table.rows}
    assert rows["Healing index"] == "not recorded"
    assert page.open_points


def test_the_pdf_says_it_all_with_the_caution_on_every_page(closed: Case) -> None:
    read = PdfReader(io.BytesIO(printed_closing_letter(closed, Profile(), printed_on=DAY)))
    texts = [" ".join(page.extract_text().split()) for page in read.pages]
    assert all(CAUTION in text for text in texts)
    text = " ".join(texts)
    for words in ("Dear colleague", "Invented demo patient", "34.9 ± 1.8 mm", "night splint", "knee score"):
        assert words in text


def test_pdftotext_reads_the_letter(closed: Case) -> None:
    pdf = printed_closing_letter(closed, Profile(), printed_on=DAY)
    read = subprocess.run(["pdftotext", "-", "-"], input=pdf, capture_output=True, check=True)
    words = " ".join(read.stdout.decode().split())
    assert "Dear colleague" in words
    assert "34.9 ± 1.8 mm" in words


def test_equal_input_gives_equal_bytes(closed: Case) -> None:
    first = printed_closing_letter(closed, Profile(), printed_on=DAY)
    assert first == printed_closing_letter(closed, Profile(), printed_on=DAY)


def test_without_a_course_there_is_nothing_to_close(closed: Case) -> None:
    with pytest.raises(Missing, match="no operation is recorded"):
        closing_letter_page(replace(closed, course=None), Profile(), printed_on=DAY)
