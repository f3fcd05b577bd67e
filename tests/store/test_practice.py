"""The practice's own documents: kept as written, read before they are kept, versions like cases."""

from dataclasses import replace

import pytest

from limbwright.error import LimbwrightError, Missing, OutOfRange
from limbwright.implant.shipped import shipped_catalogue
from limbwright.implant.writing import catalogue_to_toml
from limbwright.practice.document import profile_from_toml, profile_to_toml
from limbwright.practice.profile import Profile
from limbwright.store.audit import Action
from limbwright.store.practice import Kind, Outdated

OURS = profile_to_toml(Profile())
TEN_DAYS = f"# our own\n{profile_to_toml(replace(Profile(), film_interval_lengthening_days=10))}"


def test_a_profile_is_kept_as_its_owner_wrote_it(store):
    assert store.practice.current(Kind.PROFILE) is None
    assert store.practice.versions(Kind.PROFILE) == ()
    assert store.practice.save(Kind.PROFILE, TEN_DAYS, based_on=0, who="a", why="films more often") == 1
    kept = store.practice.current(Kind.PROFILE)
    assert (kept.text, kept.version.number, kept.version.why) == (TEN_DAYS, 1, "films more often")
    assert profile_from_toml(kept.text).film_interval_lengthening_days == 10
    assert store.practice.current(Kind.CATALOGUE) is None
    assert [(e.action, e.subject) for e in store.audit.all()] == [
        (Action.DOCUMENT_SAVED, "practice profile, version 1")
    ]


def test_a_catalogue_is_kept(store):
    text = catalogue_to_toml(shipped_catalogue())
    store.practice.save(Kind.CATALOGUE, text, based_on=0, who="a", why="")
    assert store.practice.at(Kind.CATALOGUE, 1).text == text


@pytest.mark.parametrize("kind", Kind)
def test_what_cannot_be_used_is_not_kept(store, kind):
    with pytest.raises(LimbwrightError, match=r"nonsense|title"):
        store.practice.save(kind, "nonsense_setting = 1\n", based_on=0, who="a", why="")
    with pytest.raises(OutOfRange, match="expected at most 2,000,000"):
        store.practice.save(kind, "#" * 2_000_001, based_on=0, who="a", why="")
    assert store.practice.current(kind) is None


def test_the_second_of_two_editors_gets_the_text_of_the_first(store):
    store.practice.save(Kind.PROFILE, OURS, based_on=0, who="a", why="")
    store.practice.save(Kind.PROFILE, TEN_DAYS, based_on=1, who="b", why="")
    with pytest.raises(Outdated, match="b saved version 2 while you worked on version 1") as caught:
        store.practice.save(Kind.PROFILE, OURS + "# mine\n", based_on=1, who="c", why="")
    assert caught.value.newest.text == TEN_DAYS
    assert store.practice.save(Kind.PROFILE, TEN_DAYS, based_on=1, who="b", why="") == 2
    with pytest.raises(Missing, match="no version 3 to be based on"):
        store.practice.save(
            Kind.CATALOGUE, catalogue_to_toml(shipped_catalogue()), based_on=3, who="a", why=""
        )


def test_an_older_text_comes_back_as_a_new_version(store):
    store.practice.save(Kind.PROFILE, OURS, based_on=0, who="a", why="")
    store.practice.save(Kind.PROFILE, TEN_DAYS, based_on=1, who="a", why="")
    assert store.practice.restore(Kind.PROFILE, 1, based_on=2, who="a", why="back") == 3
    assert store.practice.current(Kind.PROFILE).text == OURS
    assert [v.restored_from for v in store.practice.versions(Kind.PROFILE)] == [None, None, 1]
    with pytest.raises(Missing, match="there is no version 9"):
        store.practice.at(Kind.PROFILE, 9)
