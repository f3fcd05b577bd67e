"""What differs between two documents, and laying changes of one over another."""

import json

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from limbwright.store.difference import ChangeKind, applied, changes, only_mine, top_keys, touching

names = st.sampled_from(["a", "b", "c", "d"])
scalars = st.none() | st.booleans() | st.integers(-2, 2) | st.floats(-2, 2) | names
plain_lists = st.lists(scalars, max_size=3)


def objects(values):
    keys = st.sampled_from(["name", "bone", "size_mm", "marks", "list"])
    return st.dictionaries(keys, values, max_size=4)


def named_lists(values):
    members = st.builds(lambda name, rest: {**rest, "name": name}, names, objects(values))
    return st.lists(members, max_size=4)


trees = objects(
    st.recursive(
        scalars | plain_lists, lambda v: objects(v) | named_lists(v) | st.lists(objects(v)), max_leaves=8
    )
)


def paths(before, after):
    return [change.path for change in changes(before, after)]


@given(before=trees, after=trees)
@settings(max_examples=60)
def test_changes_laid_over_the_old_document_give_the_new_one(before, after):
    untouched = repr(before)
    assert applied(before, changes(before, after)) == after
    assert repr(before) == untouched


@given(tree=trees)
@settings(max_examples=40)
def test_a_document_does_not_differ_from_itself(tree):
    assert changes(tree, tree) == ()


def test_values_are_named_by_their_path():
    before = {"plan": {"bones": [{"bone": "tibia", "reamer_mm": 11.5}]}, "side": "left"}
    after = {"plan": {"bones": [{"bone": "tibia", "reamer_mm": 12.0}]}, "goal": {}}
    found = changes(before, after)
    assert [(c.path, c.kind, c.before, c.after) for c in found] == [
        ("$.plan.bones.tibia.reamer_mm", ChangeKind.CHANGED, 11.5, 12.0),
        ("$.side", ChangeKind.REMOVED, "left", None),
        ("$.goal", ChangeKind.ADDED, None, {}),
    ]
    assert top_keys(found) == ("plan", "side", "goal")


def test_a_film_put_in_front_does_not_make_the_others_look_changed():
    old = [{"name": "one", "x_px": 1}, {"name": "two", "x_px": 2}]
    assert paths({"films": old}, {"films": [{"name": "new", "x_px": 1}, *old]}) == ["$.films.new"]
    renamed = [old[0], {"name": "day 14", "x_px": 2}]
    assert paths({"films": old}, {"films": renamed}) == ["$.films.two", '$.films["day 14"]']


def test_another_order_is_a_change_of_the_list():
    old = [{"name": "one"}, {"name": "two"}]
    assert paths({"films": old}, {"films": old[::-1]}) == ["$.films"]


def test_lists_of_numbers_are_one_value_and_lists_without_names_go_by_place():
    assert paths({"x_px": [1, 2, 3]}, {"x_px": [1, 2, 4]}) == ["$.x_px"]
    screws = [{"depth_mm": 10}, {"depth_mm": 20}]
    moved = [{"depth_mm": 10}, {"depth_mm": 21}]
    assert paths({"screws": screws}, {"screws": moved}) == ["$.screws[1].depth_mm"]
    assert paths({"screws": screws}, {"screws": screws[:1]}) == ["$.screws"]


def test_one_number_written_two_ways_is_no_change_but_true_is_not_one():
    assert changes({"x_px": 2500}, {"x_px": 2500.0}) == ()
    assert changes({"x_px": [1, {"a": 2}]}, {"x_px": [1.0, {"a": 2.0}]}) == ()
    assert paths({"x": True}, {"x": 1}) == ["$.x"]


def test_two_people_may_each_add_the_first_member():
    base, mine, theirs = {}, {"films": [{"name": "mine"}]}, {"films": [{"name": "theirs"}]}
    assert touching(changes(base, mine), changes(base, theirs)) == ()
    combined = applied(theirs, changes(base, mine))
    assert {film["name"] for film in combined["films"]} == {"mine", "theirs"}


@pytest.mark.parametrize(
    ("mine", "theirs"),
    [
        ({"a": {"x": 2, "y": 1}}, {"a": {"x": 3, "y": 1}}),
        ({"a": {"x": 2, "y": 1}}, {}),
        ({}, {"a": {"x": 2, "y": 1}}),
    ],
)
def test_changes_of_one_value_or_of_what_holds_it_touch(mine, theirs):
    base = {"a": {"x": 1, "y": 1}}
    assert touching(changes(base, mine), changes(base, theirs)) != ()


def test_the_same_change_made_twice_does_not_touch():
    base, both = {"a": 1}, {"a": 2}
    assert touching(changes(base, both), changes(base, both)) == ()


few = st.integers(0, 1)
documents = st.fixed_dictionaries(
    {},
    optional={
        "side": few,
        "goal": st.fixed_dictionaries({}, optional={"length_mm": few, "bones": st.lists(few, max_size=2)}),
        "films": st.lists(
            st.fixed_dictionaries({"name": names, "x_px": few}), max_size=3, unique_by=lambda one: one["name"]
        ),
    },
)


@given(base=documents, mine=documents, theirs=documents)
def test_changes_that_do_not_touch_combine_to_the_same_from_either_side(base, mine, theirs):
    made, other = changes(base, mine), changes(base, theirs)
    assume(not touching(made, other) and not touching(other, made))
    one, two = applied(theirs, only_mine(made, other)), applied(mine, only_mine(other, made))
    assert sorted_names(one) == sorted_names(two)


def sorted_names(value):
    """The value with lists of named members sorted: where each adds one, either may come first."""
    if isinstance(value, dict):
        return {key: sorted_names(member) for key, member in value.items()}
    if isinstance(value, list):
        return sorted((sorted_names(m) for m in value), key=lambda m: json.dumps(m, sort_keys=True))
    return value


def test_the_same_member_added_by_both_is_added_once():
    base, both = {}, {"films": [{"name": "one"}]}
    made = changes(base, both)
    assert applied(both, only_mine(made, made)) == both


@pytest.mark.parametrize(
    "document", [{}, {"films": [{"name": "other"}]}, {"films": 3}, {"films": [{"name": "one", "x": {}}]}]
)
def test_a_change_that_finds_no_place_is_refused(document):
    made = changes({"films": [{"name": "one", "x": {"y": 1}}]}, {"films": [{"name": "one", "x": {"y": 2}}]})
    with pytest.raises(LookupError, match="no "):
        applied(document, made)


def test_a_member_is_not_added_twice():
    made = changes({"films": []}, {"films": [{"name": "one"}]})
    with pytest.raises(LookupError, match=r"\$\.films\.one is there already"):
        applied({"films": [{"name": "one"}]}, made)
