"""The profile as a value."""

from dataclasses import FrozenInstanceError, fields

import pytest

from limbwright.error import Contradiction, OutOfRange
from limbwright.practice.profile import Profile
from limbwright.practice.setting import settings


def test_the_default_profile_holds_the_table_s_defaults_in_its_order() -> None:
    profile = Profile()
    assert [f.name for f in fields(Profile)] == [s.name for s in settings()]
    for one in settings():
        assert getattr(profile, one.name) == one.default
        assert type(getattr(profile, one.name)) is type(one.default)
    assert profile.differences() == {}


def test_differences_name_both_answers() -> None:
    profile = Profile(overlap_mm=45, nail_length_preference="longer")
    assert profile.differences() == {
        "overlap_mm": (45.0, 50.0),
        "nail_length_preference": ("longer", "shorter"),
    }


def test_an_answer_out_of_range_cannot_be_built() -> None:
    with pytest.raises(OutOfRange, match="overlap_mm is 500, expected a number from 10 to 120 mm"):
        Profile(overlap_mm=500)


def test_a_profile_does_not_change() -> None:
    with pytest.raises(FrozenInstanceError, match="overlap_mm"):
        Profile().overlap_mm = 40  # type: ignore[misc]  # that is what is tested


@pytest.mark.parametrize("one", [s for s in settings() if s.not_above], ids=lambda s: s.name)
def test_settings_that_cannot_both_be_meant_are_refused(one) -> None:
    limit = getattr(Profile(), one.not_above)
    above = int(limit) + 1 if isinstance(limit, int) else limit + 0.01
    if above <= one.high:
        with pytest.raises(Contradiction, match=f"{one.name} is .* but .* is .*not to be above"):
            Profile(**{one.name: above})


def test_a_rhythm_faster_than_the_fastest_rate_is_refused() -> None:
    with pytest.raises(
        Contradiction, match=r"fast_start_steps_per_day_femur is 7.*1\.75 mm/day, expected at most"
    ):
        Profile(fast_start_steps_per_day_femur=7)
    with pytest.raises(Contradiction, match=r"fast_start_steps_per_day_femur is 4.*1\.6 mm/day"):
        Profile(distraction_step_mm=0.4)
    assert Profile(steady_steps_per_day_tibia=6).steady_steps_per_day_tibia == 6
