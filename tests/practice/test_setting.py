"""The table of settings."""

import re

import pytest

from limbwright.error import OutOfRange
from limbwright.practice.setting import Kind, setting, settings, toml_text

UNIT_ENDINGS = {
    "mm": "_mm",
    "deg": "_deg",
    "%": "percent",
    "years": "_years",
    "months": "_months",
    "kg": "_kg",
    "mm/day": "_mm_per_day",
    "days/cm": "_days_per_cm",
}


def test_every_setting_has_a_source_a_meaning_and_a_name_of_its_own() -> None:
    names = [s.name for s in settings()]
    assert len(set(names)) == len(names) > 100
    for one in settings():
        assert one.source.text
        assert one.meaning[0].isupper() or one.meaning[0].isdigit(), one.name
        assert not one.meaning.endswith("."), one.name
        assert re.fullmatch(r"[a-z][a-z0-9_]*", one.name)


def test_every_name_carries_its_unit() -> None:
    for one in settings():
        if one.unit in UNIT_ENDINGS:
            assert UNIT_ENDINGS[one.unit] in one.name or "share_of_length" in one.name, one.name
        elif one.unit == "days":
            assert "days" in one.name or "interval" in one.name, one.name


@pytest.mark.parametrize("one", settings(), ids=lambda s: s.name)
def test_every_default_and_both_ends_of_its_range_are_accepted_and_beyond_is_not(one) -> None:
    assert one.checked(one.default) == one.default
    if one.kind in (Kind.NUMBER, Kind.WHOLE_NUMBER):
        assert one.low < one.high
        assert one.checked(one.low) == one.low
        assert one.checked(one.high) == one.high
        for beyond in (one.low - 1, one.high + 1, float("nan"), float("inf"), "10", True, None, [1]):
            with pytest.raises(OutOfRange, match=f"{one.name} is .*expected a {one.kind} from"):
                one.checked(beyond)
    else:
        assert (one.low, one.high) == (None, None)
        with pytest.raises(OutOfRange, match=f"{one.name} is 1, expected"):
            one.checked(1)


def test_a_whole_number_is_not_rounded() -> None:
    with pytest.raises(OutOfRange, match=r"blocking_screws_max is 2\.5, expected a whole number from 0 to 8"):
        setting("blocking_screws_max").checked(2.5)
    answer = setting("blocking_screws_max").checked(2.0)
    assert answer == 2
    assert isinstance(answer, int)


def test_a_refusal_says_what_the_setting_decides_and_our_default() -> None:
    with pytest.raises(OutOfRange, match=r"It decides: thick part of the nail wanted.*Our default is 50\."):
        setting("overlap_mm").checked(500)


def test_a_choice_names_its_words() -> None:
    with pytest.raises(OutOfRange, match=r'is "long", expected "shorter" or "longer"\.'):
        setting("nail_length_preference").checked("long")


def test_a_limit_never_names_a_setting_that_is_not_there_or_of_another_unit() -> None:
    for one in settings():
        if one.not_above:
            assert setting(one.not_above).unit == one.unit


@pytest.mark.parametrize(
    ("answer", "text"),
    [
        (50.0, "50"),
        (0.25, "0.25"),
        (True, "true"),
        (False, "false"),
        (3, "3"),
        ('a"b\\c', r'"a\"b\\c"'),
        ([1], "[1]"),
    ],
)
def test_toml_text(answer: object, text: str) -> None:
    assert toml_text(answer) == text


def test_an_unknown_setting_is_a_mistake_of_ours() -> None:
    with pytest.raises(KeyError, match="no_such_rule"):
        setting("no_such_rule")
