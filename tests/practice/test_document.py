"""The profile as a file."""

import tomllib
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from limbwright.error import Contradiction, LimbwrightError, OutOfRange, Unreadable
from limbwright.practice.document import LONGEST_FILE_CHARACTERS, profile_from_toml, profile_to_toml
from limbwright.practice.profile import Profile
from limbwright.practice.setting import Kind, Setting, settings


def answers_to(one: Setting) -> st.SearchStrategy[object]:
    match one.kind:
        case Kind.NUMBER:
            return st.floats(one.low, one.high)
        case Kind.WHOLE_NUMBER:
            return st.integers(int(one.low or 0), int(one.high or 0))
        case Kind.YES_OR_NO:
            return st.booleans()
        case Kind.CHOICE:
            return st.sampled_from(one.choices)


@given(st.data())
def test_what_is_written_is_read_back_exactly(data: st.DataObject) -> None:
    chosen = data.draw(st.lists(st.sampled_from(settings()), max_size=4, unique_by=lambda s: s.name))
    answers = {one.name: data.draw(answers_to(one)) for one in chosen}
    try:
        profile = Profile(**answers)
    except Contradiction:
        profile = Profile()
    assert profile_from_toml(profile_to_toml(profile)) == profile


def test_an_empty_file_is_our_defaults() -> None:
    assert profile_from_toml("") == Profile()


def test_the_written_file_shows_meaning_range_source_and_caution() -> None:
    text = profile_to_toml(Profile(overlap_mm=45))
    assert "not a medical device" in text
    assert set(tomllib.loads(text)) == {s.name for s in settings()}
    unwrapped = " ".join(line.removeprefix("# ") for line in text.splitlines())
    assert (
        "Thick part of the nail wanted inside the moving fragment at full length. [mm] Takes a number from "
        "10 to 120 mm. Our default is 50, from: common practice, no source. overlap_mm = 45"
    ) in unwrapped
    assert max(len(line) for line in text.splitlines()) <= 130


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "overlap_mm = 50\noverlop_mm = 4\n",
            r"practice profile, line 2: there is no setting 'overlop_mm'.*overlap_mm",
        ),
        ("zzz = 1", r"line 1: there is no setting 'zzz'.*Take the line out"),
        ("[group]\noverlap_mm = 50", r"line 1: there is no setting 'group'"),
        ("\n\noverlap_mm = 500", r"line 3: overlap_mm is 500, expected a number from 10 to 120 mm"),
        ('overlap_mm = "50"', r'line 1: overlap_mm is "50", expected a number'),
        ("overlap_mm = true", r"overlap_mm is true, expected a number"),
        ("overlap_mm = nan", r"overlap_mm is nan, expected a number"),
        ("prefer_opposite_leg_template = 1", r"is 1, expected true or false"),
        ('nail_length_preference = "middle"', r'is "middle", expected "shorter" or "longer"'),
    ],
)
def test_a_wrong_line_is_named_with_what_is_expected(text: str, message: str) -> None:
    with pytest.raises(OutOfRange, match=message):
        profile_from_toml(text)


def test_settings_against_each_other_name_the_line() -> None:
    with pytest.raises(
        Contradiction, match=r"practice profile, line 2: drift_watch_deg is 4 but drift_limit_deg is 3"
    ):
        profile_from_toml("overlap_mm = 50\ndrift_watch_deg = 4\n")


@pytest.mark.parametrize("text", ["overlap_mm = ", "overlap_mm = 50\noverlap_mm = 40", "a = " + "[" * 5000])
def test_what_is_not_toml_is_refused(text: str) -> None:
    with pytest.raises(Unreadable, match="the file is not valid TOML"):
        profile_from_toml(text)


def test_a_huge_file_is_refused_before_it_is_read() -> None:
    with pytest.raises(Unreadable, match="expected at most 1000000"):
        profile_from_toml("#" * (LONGEST_FILE_CHARACTERS + 1))


@given(st.text(max_size=200))
def test_no_text_breaks_the_reader_in_any_other_way(text: str) -> None:
    with suppress(LimbwrightError):
        assert isinstance(profile_from_toml(text), Profile)
