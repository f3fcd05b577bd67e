"""What was done in theatre: impossible records are refused with the field they stand in."""

from typing import Any

import pytest

from limbwright.course.operation import DoneBone, DoneScrew, DoneStep, OperationRecord
from limbwright.error import LimbwrightError
from limbwright.limb.anatomy import Bone, Fragment
from limbwright.limb.view import Border


@pytest.mark.parametrize(
    ("made", "given", "words"),
    [
        (DoneStep, {"index": -1}, "index"),
        (DoneStep, {"index": 0, "at": "25:00"}, "no time of day"),
        (DoneStep, {"index": 0, "note": "x" * 2001}, "2001 characters"),
        (DoneBone, {"bone": Bone.TIBIA, "osteotomy_below_joint_mm": -3.0}, "osteotomy_below_joint_mm"),
        (DoneBone, {"bone": Bone.TIBIA, "lengthening_mm": 400.0}, "lengthening_mm"),
        (
            OperationRecord,
            {"bones": (DoneBone(bone=Bone.TIBIA), DoneBone(bone=Bone.TIBIA))},
            "recorded twice",
        ),
        (OperationRecord, {"steps": tuple(DoneStep(index=0) for _ in range(201))}, "201 steps"),
    ],
)
def test_what_cannot_be_is_refused(made: Any, given: dict[str, Any], words: str) -> None:
    with pytest.raises(LimbwrightError, match=words):
        made(**given)


def test_more_screws_than_a_bone_takes_are_refused() -> None:
    screw = DoneScrew(
        fragment=Fragment.PROXIMAL, side=Border.LATERAL, from_osteotomy_mm=12.0, diameter_mm=5.0
    )
    with pytest.raises(LimbwrightError, match="21 blocking screws"):
        DoneBone(bone=Bone.TIBIA, blocking_screws=(screw,) * 21)


def test_a_bone_is_found_in_its_record() -> None:
    record = OperationRecord(bones=(DoneBone(bone=Bone.FEMUR, lengthening_mm=30.0),))
    assert record.of(Bone.FEMUR) == record.bones[0]
    assert record.of(Bone.TIBIA) is None
