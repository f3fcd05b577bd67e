from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.error import OutOfRange
from limbwright.finding import Severity
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone, Fragment
from limbwright.plan.decision import PinRole
from limbwright.plan.hardware_limits import Interval
from limbwright.plan.pins import (
    PinLevels,
    PinPlan,
    SagittalRoom,
    beyond_tip_level_mm,
    clearance_beside_mm,
    pin_plan,
)
from limbwright.practice.profile import Profile

# Proximal tibia 25 mm below the plateau: 50 mm deep, nail entering in front.
ROOM = SagittalRoom(below_joint_mm=25, path_anterior_mm=10, anterior_border_mm=25, posterior_border_mm=-25)
LEVELS = PinLevels(bone_length_mm=350, osteotomies_mm=(120,), nail_tip_mm=290)
FAR = SagittalRoom(below_joint_mm=310, path_anterior_mm=0, anterior_border_mm=18, posterior_border_mm=-18)


def planned(
    *,
    bone: Bone = Bone.TIBIA,
    direction: Direction = Direction.ANTEGRADE,
    levels: PinLevels = LEVELS,
    room: SagittalRoom = ROOM,
    far: SagittalRoom | None = None,
    reamed: float = 12.7,
) -> PinPlan:
    return pin_plan(
        bone=bone,
        direction=direction,
        levels=levels,
        driving_end=room,
        far_end=far,
        reamed_diameter_mm=reamed,
        profile=Profile(),
    )


def ids(found: PinPlan) -> list[str]:
    return [f.id for f in found.findings]


def test_pins_out_of_the_nails_path() -> None:
    found = planned()
    proximal, distal, marker_proximal, marker_distal = found.pins
    assert found.findings == ()
    assert (proximal.role, proximal.nail_side) == (PinRole.HOLD_PROXIMAL, "posterior to the nail")
    # 35 mm from path to the back, less half the reamed path, less the pin.
    assert proximal.clearance_mm == pytest.approx(35 - 6.35 - 5)
    assert (distal.role, distal.nail_side) == (PinRole.HOLD_DISTAL, "beyond the nail tip")
    assert distal.below_joint_mm == pytest.approx(290 + (12.5 + (60 - 17.5)) / 2)
    assert distal.clearance_mm == pytest.approx(distal.below_joint_mm - 290 - 2.5)
    assert (marker_proximal.role, marker_distal.role) == (
        PinRole.ROTATION_MARKER_PROXIMAL,
        PinRole.ROTATION_MARKER_DISTAL,
    )
    assert marker_proximal.below_joint_mm == pytest.approx(33)  # 17 would be too near the joint
    assert marker_distal.below_joint_mm == pytest.approx(distal.below_joint_mm + 8)
    assert marker_distal.clearance_mm == pytest.approx(distal.clearance_mm + 8)
    assert proximal.fragment is Fragment.PROXIMAL


@pytest.mark.parametrize(("posterior", "expected"), [(True, 35 - 6.35 - 5), (False, 15 - 6.35 - 5)])
def test_clearance_beside_the_nail(posterior: bool, expected: float) -> None:
    found = clearance_beside_mm(ROOM, reamed_diameter_mm=12.7, pin_diameter_mm=5, posterior=posterior)
    assert found == pytest.approx(expected)


@given(reamed=st.floats(8, 16), pin=st.floats(2, 8), more=st.floats(0, 5))
def test_a_wider_path_or_pin_never_leaves_more_room(reamed: float, pin: float, more: float) -> None:
    def free(r: float, p: float) -> float:
        return clearance_beside_mm(ROOM, reamed_diameter_mm=r, pin_diameter_mm=p, posterior=True)

    assert free(reamed + more, pin) <= free(reamed, pin)
    assert free(reamed, pin + more) <= free(reamed, pin)


@given(tip=st.floats(200, 348), shift=st.floats(-100, 100))
def test_the_level_beyond_the_tip_keeps_both_margins_in_both_directions(tip: float, shift: float) -> None:
    def found(tip_mm: float, end_mm: float) -> float | None:
        return beyond_tip_level_mm(
            nail_tip_mm=tip_mm, bone_end_mm=end_mm, beyond_tip_mm=10, to_joint_mm=15, pin_diameter_mm=5
        )

    level = found(tip, 350)
    if level is None:
        assert 350 - tip < 30
    else:
        assert level - tip >= 12.5 - 1e-9
        assert 350 - level >= 17.5 - 1e-9
        mirrored = found(-tip + shift, -350 + shift)
        assert mirrored == pytest.approx(-level + shift)


def test_a_tight_place_is_a_caution_and_no_place_a_stop() -> None:
    tight = planned(room=replace(ROOM, path_anterior_mm=-11.65))
    assert ids(tight) == ["pin-close-to-nail"]
    assert "2.0 mm" in tight.findings[0].words
    none = planned(room=replace(ROOM, path_anterior_mm=-16))
    assert ids(none)[0] == "pin-in-nail-path"
    assert none.findings[0].severity is Severity.STOP
    assert PinRole.HOLD_PROXIMAL not in {pin.role for pin in none.pins}


def test_in_the_femur_a_pin_may_pass_in_front() -> None:
    behind = replace(ROOM, path_anterior_mm=-15)
    femur = planned(bone=Bone.FEMUR, room=behind)
    assert femur.pins[0].nail_side == "anterior to the nail"
    assert femur.findings == ()
    tibia = planned(room=behind)
    assert "pin-in-nail-path" in ids(tibia)


def test_without_room_beyond_the_tip_the_pin_passes_beside_the_nail() -> None:
    levels = replace(LEVELS, nail_tip_mm=325)
    found = planned(levels=levels, far=FAR)
    assert "pin-not-beyond-tip" in ids(found)
    distal = next(pin for pin in found.pins if pin.role is PinRole.HOLD_DISTAL)
    assert distal.nail_side == "posterior to the nail"
    assert distal.clearance_mm == pytest.approx(18 - 6.35 - 5)
    nowhere = planned(levels=levels)
    assert ids(nowhere) == ["pin-no-room-in-far-fragment"]
    narrow = planned(levels=levels, far=replace(FAR, posterior_border_mm=-11))
    assert "pin-no-room-in-far-fragment" in ids(narrow)
    assert "pin-in-nail-path" in ids(narrow)


def test_a_retrograde_nail_turns_everything_round() -> None:
    levels = PinLevels(bone_length_mm=430, osteotomies_mm=(300,), nail_tip_mm=110)
    room = replace(ROOM, below_joint_mm=405)
    found = planned(bone=Bone.FEMUR, direction=Direction.RETROGRADE, levels=levels, room=room)
    distal, proximal = found.pins[:2]
    assert (distal.fragment, distal.nail_side) == (Fragment.DISTAL, "posterior to the nail")
    assert (proximal.fragment, proximal.nail_side) == (Fragment.PROXIMAL, "beyond the nail tip")
    assert 15 < proximal.below_joint_mm < 100


def test_a_marker_that_would_come_too_near_the_tip_is_left_to_the_pin() -> None:
    found = planned(levels=replace(LEVELS, nail_tip_mm=318))
    assert "pin-marks-rotation" in ids(found)
    assert PinRole.ROTATION_MARKER_DISTAL not in {pin.role for pin in found.pins}


def test_a_pin_near_the_osteotomy_or_in_hardware_is_pointed_out() -> None:
    assert "pin-near-osteotomy" in ids(planned(levels=replace(LEVELS, osteotomies_mm=(45,))))
    assert "pin-near-osteotomy" not in ids(planned(levels=replace(LEVELS, osteotomies_mm=(48,))))
    taken = replace(LEVELS, free=(Interval(from_mm=40, to_mm=335),))
    assert ids(planned(levels=taken)) == ["pin-in-hardware"]


def test_an_impossible_outline_is_refused() -> None:
    with pytest.raises(OutOfRange, match="nail path at the pin's level is 40 mm, expected -25 to 25"):
        replace(ROOM, path_anterior_mm=40)
    with pytest.raises(OutOfRange, match="bone depth at the pin's level is -50 mm"):
        SagittalRoom(below_joint_mm=20, path_anterior_mm=0, anterior_border_mm=-25, posterior_border_mm=25)
