"""Overlap at full length against the rule that surgeons size a nail by.

Length = osteotomy depth + lengthening + overlap + exposed thin part: common practice, no source. Turned
round, a nail of that length leaves just that overlap at full length.
"""

from dataclasses import replace

import pytest

from limbwright.implant.shipped import shipped_catalogue


@pytest.mark.parametrize(
    ("length_mm", "depth_mm", "lengthening_mm", "overlap_mm"),
    [(230, 100, 50, 50), (305, 165, 60, 50), (265, 150, 35, 50)],
)
def test_a_nail_sized_by_the_rule_keeps_its_overlap(
    length_mm: float, depth_mm: float, lengthening_mm: float, overlap_mm: float
) -> None:
    nail = replace(shipped_catalogue().nail("T-10.7/305"), length_mm=length_mm, stroke_mm=60)
    assert nail.exposed_thin_mm == 30
    assert nail.overlap_at_mm(osteotomy_depth_mm=depth_mm, lengthening_mm=lengthening_mm) == overlap_mm
