from datetime import date

import pytest

from limbwright.course.visit import GainedLength, Visit
from limbwright.error import Contradiction, OutOfRange
from limbwright.limb.anatomy import Bone


def test_prescribed_reported_and_measured_length_are_kept_apart():
    gain = GainedLength(bone=Bone.TIBIA, measured_mm=11.5, reported_mm=12.25)
    visit = Visit(seen_on=date(2026, 3, 30), gained=(gain,), films=("two weeks",), note="well")
    assert visit.gained[0].measured_mm == 11.5
    assert visit.gained[0].reported_mm == 12.25


def test_a_nail_turned_the_wrong_way_is_a_negative_gain():
    assert GainedLength(bone=Bone.TIBIA, measured_mm=-1.5).measured_mm == -1.5


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"measured_mm": 3500.0}, r"measured_mm is 3500 mm, expected -250 to 250 mm"),
        ({"measured_sd_mm": -1.0}, r"measured_sd_mm is -1 mm, expected 0 to 250 mm"),
        ({"reported_mm": float("inf")}, r"reported_mm is inf mm"),
    ],
)
def test_impossible_lengths_are_refused(values, message):
    with pytest.raises(OutOfRange, match=message):
        GainedLength(bone=Bone.TIBIA, **values)


def test_one_entry_for_each_bone():
    with pytest.raises(Contradiction, match=r"given twice for one bone \(tibia, tibia\)"):
        Visit(
            seen_on=date(2026, 3, 30), gained=(GainedLength(bone=Bone.TIBIA), GainedLength(bone=Bone.TIBIA))
        )
