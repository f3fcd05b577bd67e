"""Screws and pins as values."""

import pytest

from limbwright.error import OutOfRange
from limbwright.implant.screw import Purpose, ScrewType


def screw(**sizes: float) -> ScrewType:
    given = {"diameter_mm": 5.0, "core_diameter_mm": 4.3, "drill_mm": 4.3} | sizes
    return ScrewType(name="s", purpose=Purpose.LOCKING, solid=True, **given)


def test_a_drill_lies_between_core_and_thread() -> None:
    assert screw().drill_mm == 4.3
    assert screw(drill_mm=5.0).drill_mm == 5.0
    with pytest.raises(
        OutOfRange, match=r"screw 's': drill 4 mm, expected between the core 4\.3 mm and the thread 5 mm"
    ):
        screw(drill_mm=4)
    with pytest.raises(OutOfRange, match=r"drill 5\.1 mm, expected between"):
        screw(drill_mm=5.1)


def test_an_impossible_size_is_refused() -> None:
    with pytest.raises(OutOfRange, match="diameter of screw 's' is 50 mm, expected 1 to 8 mm"):
        screw(diameter_mm=50)
