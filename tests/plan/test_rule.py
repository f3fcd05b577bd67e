import pytest

from limbwright.plan.rule import rule_source
from limbwright.practice.profile import Profile
from limbwright.practice.setting import setting
from limbwright.published import COMMON_PRACTICE


def test_a_default_quotes_its_own_source() -> None:
    name = "calf_release_percent_of_tibia"
    assert rule_source(Profile(), name) == setting(name).source
    assert "Rozbruch" in str(rule_source(Profile(), name))


def test_common_practice_stays_common_practice() -> None:
    assert rule_source(Profile(), "calf_release_lengthening_mm") == COMMON_PRACTICE


def test_a_changed_setting_is_the_surgeons_own() -> None:
    source = rule_source(
        Profile(calf_release_percent_of_tibia=11),
        "calf_release_percent_of_tibia",
        "calf_release_lengthening_mm",
    )
    assert "practice profile: calf_release_percent_of_tibia 11" in source.text
    assert "Rozbruch" not in source.text


def test_several_sources_are_all_named() -> None:
    source = rule_source(Profile(), "calf_release_percent_of_tibia", "max_rate_mm_per_day")
    assert "Rozbruch" in source.text
    assert "Kenawey" in source.text


def test_a_wrong_name_is_our_mistake() -> None:
    with pytest.raises(AttributeError, match="no_such_setting"):
        rule_source(Profile(), "no_such_setting")
