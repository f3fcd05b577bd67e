"""Documents that are refused before anything in them is believed."""

import json
import tracemalloc

import pytest

from limbwright.case.document import case_from_json
from limbwright.case.problem import UnreadableCase
from limbwright.case.text import LARGEST_DOCUMENT_BYTES, child_path, parsed, require_size, shown
from limbwright.error import Unreadable


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", r"the file is empty.*export again"),
        (b" \n\t ", r"the file is empty"),
        (b"not json", r"no valid JSON: .* at line 1 column"),
        (b'{"a": 1', r"no valid JSON: EOF while parsing an object at line 1"),
        (b'{"a": 1} trailing', r"no valid JSON: trailing characters"),
        (b"[1, 2]", r"the document is an array, expected an object.*begins with"),
        (b'"case"', r"the document is a text, expected an object"),
        (b"17", r"the document is a number, expected an object"),
        (b"null", r"the document is null, expected an object"),
        (b"true", r"the document is true or false, expected an object"),
        (b'{"a": NaN}', r"NaN and Infinity are not numbers in JSON.*Leave out"),
        (b'{"a": -Infinity}', r"NaN and Infinity are not numbers in JSON"),
        (b'{"a": "\xff"}', r"the text is not UTF-8.*Save the file as UTF-8"),
        ('{"a": 1}'.encode("utf-16"), r"the text is not UTF-8"),
        ('{"a": 1}'.encode("utf-32-be"), r"the text is not UTF-8"),
        (b'{"a": "\\ud800"}', r"no valid JSON"),
        (b'{"a": ' + b"1" * 5000 + b"}", r"no valid JSON"),
        (b"[" * 10_000 + b"]" * 10_000, r"nested too deep to be a case file"),
        (b'{"a":' * 10_000 + b"1" + b"}" * 10_000, r"nested too deep"),
        (b"{" * 1_000_000, r"no valid JSON"),
        (b"[" * 1_000_000, r"nested too deep"),
    ],
)
def test_what_is_no_case_document_is_refused_in_plain_words(data, message):
    with pytest.raises(Unreadable, match=rf"^my\.json: .*{message}"):
        case_from_json(data, where="my.json")


def test_two_hundred_megabytes_are_refused_without_being_parsed():
    data = b" " * 200_000_000
    tracemalloc.start()
    with pytest.raises(Unreadable, match=r"200,000,000 bytes, expected at most 20,000,000.*not images"):
        case_from_json(data)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < 10_000_000


def test_a_document_of_more_values_than_a_case_can_have_is_refused():
    data = b'{"schema_version": 1, "films": [' + b"0," * 400_000 + b"0]}"
    with pytest.raises(Unreadable, match=r"400,001 values, expected at most 400,000.*traced walls"):
        case_from_json(data)


def test_the_size_limit_is_inclusive():
    require_size(LARGEST_DOCUMENT_BYTES, where="x")
    with pytest.raises(Unreadable, match=r"20,000,001 bytes"):
        require_size(LARGEST_DOCUMENT_BYTES + 1, where="x")


def test_a_text_that_is_no_unicode_is_refused():
    with pytest.raises(Unreadable, match=r"no valid Unicode"):
        case_from_json('{"a": "\ud800"}')


def test_keys_that_stand_twice_are_refused_with_their_paths():
    data = b'{"side": "left", "side": "right", "films": [{"name": "a", "name": "b"}], "id": "x"}'
    with pytest.raises(UnreadableCase, match=r"2 problems") as caught:
        parsed(data, where="my.json")
    assert [(p.path, p.value) for p in caught.value.problems] == [
        ("$.side", '"right"'),
        ("$.films[0].name", '"b"'),
    ]
    assert "stands twice" in caught.value.problems[0].found


def test_numbers_beyond_every_range_are_refused_with_their_path():
    with pytest.raises(UnreadableCase, match=r"\$\.a\[1\]: the number is too large"):
        parsed(b'{"a": [1, 1e999]}', where="my.json")


def test_a_sound_document_is_returned_as_it_is():
    document = {"a": [1, 2.5, None, True, {"b": "ß"}], "c": {}}
    assert parsed(json.dumps(document).encode(), where="x") == document


def test_values_are_quoted_shortened():
    assert shown("ä") == '"ä"'
    assert len(shown("x" * 1000)) == 60
    assert shown({1, 2}) == "{1, 2}"


def test_what_could_act_on_a_terminal_is_spelt_out():
    assert shown("\x1b[2J \x9b \u202e") == r'"\u001b[2J \u009b \u202e"'
    assert child_path("$", "\x7f") == r'$["\u007f"]'


def test_paths_quote_odd_keys():
    assert child_path("$.films", 3) == "$.films[3]"
    assert child_path("$", "side") == "$.side"
    assert child_path("$", "odd key") == '$["odd key"]'
