import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.limb.anatomy import Bone
from limbwright.plan.share import percent_of_bone, shared_lengthening_mm, stage_limit_mm, stages_needed
from limbwright.practice.profile import Profile


def shared(need: float, femur: float, tibia: float, *, tolerance: float = 20.0) -> tuple[float, float]:
    return shared_lengthening_mm(
        need_mm=need,
        femur_short_mm=femur,
        lower_leg_short_mm=tibia,
        femur_limit_mm=80,
        tibia_limit_mm=60,
        knee_height_tolerance_mm=tolerance,
    )


def test_length_goes_where_the_shortening_is() -> None:
    assert shared(60, 20, 40) == pytest.approx((20, 40))
    assert shared(40, 0, 40) == pytest.approx((0, 40))
    assert shared(40, 50, -10) == pytest.approx((40, 0))


def test_what_is_left_short_is_left_in_proportion() -> None:
    assert shared(45, 20, 40) == pytest.approx((15, 30))


def test_the_excess_of_one_bone_goes_to_the_other_when_that_has_room() -> None:
    assert shared(90, 20, 70) == pytest.approx((30, 60))
    assert shared(100, 90, 10) == pytest.approx((80, 20))


def test_the_excess_stays_when_the_knee_height_would_suffer_or_there_is_no_room() -> None:
    assert shared(90, 20, 70, tolerance=5) == pytest.approx((20, 70))
    assert shared(150, 80, 70) == pytest.approx((80, 70))


def test_a_leg_short_nowhere_is_lengthened_in_the_tibia() -> None:
    assert shared(10, 0, 0) == (0, 10)


@given(need=st.floats(0, 200), femur=st.floats(-50, 150), tibia=st.floats(-50, 150))
def test_shares_make_up_the_need_and_are_never_negative(need: float, femur: float, tibia: float) -> None:
    a, b = shared(need, femur, tibia)
    assert a + b == pytest.approx(need)
    assert min(a, b) >= -1e-9


def test_stages() -> None:
    assert [stages_needed(x, 60) for x in (0, 1, 60, 60.0000000001, 61, 121)] == [0, 1, 1, 1, 2, 3]


def test_percent_and_limits() -> None:
    assert percent_of_bone(45, 340) == pytest.approx(13.235, abs=0.001)
    assert stage_limit_mm(Profile(max_lengthening_tibia_mm=55), Bone.TIBIA) == 55
    assert stage_limit_mm(Profile(), Bone.FEMUR) == 80
