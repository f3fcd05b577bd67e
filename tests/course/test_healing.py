import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.course.healing import expected_healing, published_series
from limbwright.error import OutOfRange
from limbwright.limb.anatomy import Bone
from limbwright.practice.profile import Profile

PROFILE = Profile()


def band(**changes):
    values = {
        "bone": Bone.TIBIA,
        "retrograde": False,
        "age_years": 30.0,
        "gained_mm": 50.0,
        "last_distraction_day": 74,
    }
    return expected_healing(PROFILE, **values | changes)


@given(
    gained_mm=st.floats(1, 150),
    last=st.integers(0, 400),
    bone=st.sampled_from([Bone.FEMUR, Bone.TIBIA]),
    retrograde=st.booleans(),
    age=st.floats(0, 100),
)
def test_the_band_is_in_order_and_never_before_the_last_lengthening(gained_mm, last, bone, retrograde, age):
    found = band(
        gained_mm=gained_mm, last_distraction_day=last, bone=bone, retrograde=retrograde, age_years=age
    )
    assert last <= found.from_day <= found.mean_day <= found.to_day


@given(st.floats(20, 70))
def test_twice_the_length_takes_twice_the_days(gained_mm):
    one, two = (band(gained_mm=gained_mm * k, last_distraction_day=0) for k in (1, 2))
    assert two.mean_day == pytest.approx(2 * one.mean_day)
    assert two.to_day == pytest.approx(2 * one.to_day)


def test_the_band_is_one_standard_deviation_wide_on_either_side():
    found = band()
    assert found.mean_day - found.from_day == pytest.approx(5 * found.index.sd)
    assert found.to_day - found.mean_day == pytest.approx(5 * found.index.sd)
    assert found.index.unit == "days/cm"


def test_a_child_heals_faster_and_the_band_says_by_which_rule():
    adult, child = band(age_years=30.0), band(age_years=10.0)
    assert child.mean_day == pytest.approx(PROFILE.healing_child_factor * adult.mean_day)
    assert len(child.sources) == len(adult.sources) + 1


def test_femora_differ_by_the_nails_entry_and_tibiae_do_not():
    assert band(bone=Bone.FEMUR, retrograde=True).mean_day > band(bone=Bone.FEMUR).mean_day
    assert band(retrograde=True) == band()


def test_an_impossible_length_is_refused():
    with pytest.raises(OutOfRange, match=r"length gained is -5 mm"):
        band(gained_mm=-5.0)


def test_published_series_have_sources_and_count_in_days():
    femur, tibia = published_series(Bone.FEMUR), published_series(Bone.TIBIA)
    assert {series.bone for series in femur} == {Bone.FEMUR}
    assert all(series.source.text for series in (*femur, *tibia))
    horn = next(series for series in tibia if series.name == "50 lengthenings")
    assert horn.mean_days_per_cm == pytest.approx(76.0)
    assert horn.low_days_per_cm == pytest.approx(1.6 * 30.4)
    assert horn.sd_days_per_cm is None
    assert horn.days(50.0) == pytest.approx(380.0)
