"""Our normal values against series that others published.

Each number says where it comes from and whether it was read there.
"""

import pytest

from limbwright.limb.alignment import deviation_from_joint_angles_deg
from limbwright.limb.norm import norm_of


def test_moreland_1987() -> None:
    """Moreland, Bassett & Hanker, Radiographic analysis of the axial alignment of the lower extremity,
    J Bone Joint Surg Am 69(5), 1987, abstract: 25 healthy men; hip-knee-ankle 1.5 (right) and 1.1 (left)
    degrees varus; knee line 3.0 and 2.6 degrees from the perpendicular of the tibial mechanical axis.
    """
    hka = norm_of("HKA")
    assert hka.mean == pytest.approx((1.5 + 1.1) / 2)
    mpta = norm_of("MPTA")
    for perpendicular in (3.0, 2.6):
        assert mpta.low <= 90 - perpendicular <= mpta.high
        assert 90 - perpendicular == pytest.approx(mpta.mean, abs=0.5)


@pytest.mark.parametrize(
    ("measure", "mean", "sd"),
    [("mLDFA", 85.6, 2.3), ("MPTA", 86.1, 2.8), ("aLDFA", 80.2, 2.2), ("AMA", 5.4, 0.7)],
)
def test_jamali_2017_means_lie_in_our_ranges(measure: str, mean: float, sd: float) -> None:
    """Jamali et al., Do small changes in rotation affect measurements of lower extremity limb alignment?,
    J Orthop Surg Res 12:77, 2017: 87 limbs from CT models, mean age 66.
    """
    norm = norm_of(measure)
    assert norm.low <= mean <= norm.high
    # The series differ by age and method: our mean lies within 2.5 of their standard deviations ...
    assert abs(norm.mean - mean) < 2.5 * sd
    # ... and our range is no wider than what they saw.
    assert norm.high - norm.low < 4 * max(sd, 1.5)


def test_jamali_2017_angles_add_up() -> None:
    """The same series: mLDFA 85.6, MPTA 86.1, HKA 0.7 varus leave a JLCA inside our 0 to 2 degrees."""
    without_joint = deviation_from_joint_angles_deg(mldfa_deg=85.6, mpta_deg=86.1, jlca_deg=0.0)
    jlca = norm_of("JLCA")
    assert jlca.low <= 0.7 - without_joint <= jlca.high


def test_ct_cohort_of_older_adults() -> None:
    """CT axial and rotational alignment hip to ankle, aged non-arthritic cohort, PMC7875943: median
    neck-shaft angle 125.3, angle between anatomic and mechanical femoral axis 5 degrees.
    """
    assert norm_of("NSA").low <= 125.3 <= norm_of("NSA").high
    assert norm_of("AMA").low <= 5.0 <= norm_of("AMA").high


def test_a_second_textbook_on_the_ankle() -> None:
    """Operative Techniques in Orthopaedic Surgery, chapter Distal Tibial Osteotomy: LDTA 90 (88-95), ADTA 80
    (78-81). Its means lie in our ranges although the ranges differ.
    """
    for measure, mean, low, high in (("LDTA", 90, 88, 95), ("ADTA", 80, 78, 81)):
        norm = norm_of(measure)
        assert norm.low <= mean <= norm.high
        assert low <= norm.mean <= high


@pytest.mark.parametrize(
    ("measure", "low", "high"),
    [
        ("mLPFA", 85, 95),
        ("aMPFA", 80, 89),
        ("mLDFA", 85, 90),
        ("aLDFA", 79, 83),
        ("MPTA", 85, 90),
        ("LDTA", 86, 92),
        ("PDFA", 79, 87),
        ("PPTA", 77, 84),
        ("ADTA", 78, 82),
        ("JLCA", 0, 2),
    ],
)
def test_textbook_ranges(measure: str, low: float, high: float) -> None:
    """Paley, Principles of Deformity Correction, 2002, and Paley & Tetsworth 1992: values from memory."""
    assert (norm_of(measure).low, norm_of(measure).high) == (low, high)


def test_mean_angles_of_one_book_add_up() -> None:
    """Same book: aLDFA = mLDFA - AMA (81 = 88 - 7), and 2 degrees varus from 88 - 87 + 1; derived."""
    mldfa, aldfa, ama, mpta = (norm_of(m).mean for m in ("mLDFA", "aLDFA", "AMA", "MPTA"))
    assert aldfa == mldfa - ama
    assert deviation_from_joint_angles_deg(mldfa_deg=mldfa, mpta_deg=mpta, jlca_deg=1) == 2
