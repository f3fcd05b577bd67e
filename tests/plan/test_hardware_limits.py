from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.error import Contradiction
from limbwright.implant.nail import Direction
from limbwright.limb.anatomy import Bone
from limbwright.plan.circumstances import HardwareKind, StandingHardware
from limbwright.plan.hardware_limits import HardwareLimits, Interval, free_intervals, hardware_limits
from limbwright.practice.profile import Profile

LEVEL = st.floats(0, 300)


def item(
    kind: HardwareKind, from_mm: float, to_mm: float, *, canal: bool = False, bone: Bone = Bone.TIBIA
) -> StandingHardware:
    return StandingHardware(kind=kind, bone=bone, from_mm=from_mm, to_mm=to_mm, in_canal=canal)


def limits(*hardware: StandingHardware, bone: Bone = Bone.TIBIA, length_mm: float = 350) -> HardwareLimits:
    return hardware_limits(bone=bone, length_mm=length_mm, hardware=hardware, profile=Profile())


def ids(found: HardwareLimits) -> list[str]:
    return [f.id for f in found.findings]


def test_a_bone_without_hardware_keeps_its_margins_only() -> None:
    free = limits()
    assert free.nail == (Interval(from_mm=0, to_mm=350),)
    assert free.nail[0].length_mm == 350
    assert free.osteotomy == (Interval(from_mm=70, to_mm=280),)
    assert free.pins == (Interval(from_mm=15, to_mm=335),)
    assert free.findings == ()
    assert free.reach(Direction.ANTEGRADE) == free.nail[0]


def test_a_fusion_nail_from_below_shortens_the_canal() -> None:
    free = limits(item(HardwareKind.TIBIOCALCANEAL_FUSION, 250, 360, canal=True))
    reach = free.reach(Direction.ANTEGRADE)
    assert reach == Interval(from_mm=0, to_mm=235)  # 15 mm short of the fusion nail
    assert free.osteotomy == (Interval(from_mm=70, to_mm=230),)
    assert free.blocked_entries == (Direction.RETROGRADE,)
    assert ids(free) == ["hardware-in-canal"]


def test_a_stem_from_above_closes_that_way_in() -> None:
    free = limits(
        item(HardwareKind.JOINT_REPLACEMENT_STEM, -10, 150, canal=True, bone=Bone.FEMUR),
        bone=Bone.FEMUR,
        length_mm=430,
    )
    assert free.reach(Direction.ANTEGRADE) is None
    assert free.reach(Direction.RETROGRADE) == Interval(from_mm=165, to_mm=430)


def test_a_hip_reconstruction_closes_the_antegrade_way_even_beside_the_canal() -> None:
    free = limits(
        item(HardwareKind.HIP_RECONSTRUCTION, 10, 120, bone=Bone.FEMUR), bone=Bone.FEMUR, length_mm=430
    )
    assert free.blocked_entries == (Direction.ANTEGRADE,)
    assert ids(free) == ["hardware-beside-nail"]


def test_a_plate_blocks_the_cut_and_pins_but_not_the_canal() -> None:
    free = limits(item(HardwareKind.PLATE, 100, 200))
    assert free.nail == (Interval(from_mm=0, to_mm=350),)
    assert free.osteotomy == (Interval(from_mm=70, to_mm=80), Interval(from_mm=220, to_mm=280))
    assert not any(part.holds(150) for part in free.pins)
    assert ids(free) == ["hardware-beside-nail"]


def test_a_frame_blocks_pins_only_and_warns_of_its_tracts() -> None:
    free = limits(item(HardwareKind.FRAME, 60, 120))
    assert free.osteotomy == (Interval(from_mm=70, to_mm=280),)
    assert not any(part.holds(90) for part in free.pins)
    assert ids(free) == ["hardware-frame-pins"]


def test_no_level_left_for_the_cut_is_a_stop() -> None:
    free = limits(item(HardwareKind.PLATE, 60, 300))
    assert free.osteotomy == ()
    assert ids(free)[0] == "hardware-leaves-no-osteotomy"


def test_a_short_bone_has_no_level_either() -> None:
    free = limits(length_mm=130)
    assert free.osteotomy == ()
    assert free.findings == ()  # not for hardware's sake


def test_hardware_of_other_bones_is_left_out() -> None:
    assert limits(item(HardwareKind.PLATE, 100, 200, bone=Bone.FEMUR)).findings == ()


def test_hardware_beyond_the_bone_is_refused() -> None:
    with pytest.raises(Contradiction, match=r"plate begins 400 mm below the joint, but the tibia is 350 mm"):
        limits(item(HardwareKind.PLATE, 400, 450))
    with pytest.raises(Contradiction, match="has no length"):
        Interval(from_mm=5, to_mm=5)


@given(ends=st.lists(st.tuples(LEVEL, st.floats(1, 80)), max_size=5))
def test_free_and_taken_make_up_the_whole(ends: list[tuple[float, float]]) -> None:
    whole = Interval(from_mm=0, to_mm=300)
    taken = [Interval(from_mm=a, to_mm=a + b) for a, b in ends]
    free = free_intervals(whole, taken)
    assert free == free_intervals(whole, reversed(taken))
    for level in range(0, 301, 7):
        inside = [t for t in taken if t.from_mm < level < t.to_mm]
        if any(part.from_mm < level < part.to_mm for part in free):
            assert not inside
        elif not any(level in (part.from_mm, part.to_mm) for part in (*free, *taken)):
            assert inside or level in (0, 300)
    assert all(a.to_mm < b.from_mm for a, b in pairwise(free))
