"""A slice of the fuzz run; `tests/fuzz/fuzz_film_reading.py` runs as many files as one likes."""

import importlib.util
from pathlib import Path

import pytest

_FILE = Path(__file__).parents[2] / "fuzz" / "fuzz_film_reading.py"
_spec = importlib.util.spec_from_file_location("fuzz_film_reading", _FILE)
assert _spec
assert _spec.loader
fuzz = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(fuzz)


def test_five_hundred_mutated_files_end_in_a_picture_or_a_plain_error(capfd):
    from_seeds = fuzz.seeds()
    capfd.readouterr()
    came = [fuzz.outcome(fuzz.mutated(number, from_seeds)) for number in range(500)]
    assert capfd.readouterr() == ("", "")
    assert {"read", "Unreadable", "Missing"} <= set(came)


def test_the_same_number_makes_the_same_file():
    from_seeds = [b"abcdefgh" * 20, b"12345678" * 20]
    assert fuzz.mutated(3, from_seeds) == fuzz.mutated(3, from_seeds)
    assert len({fuzz.mutated(number, from_seeds) for number in range(50)}) > 40


def test_an_error_without_a_place_or_a_next_step_is_not_plain():
    from limbwright.error import Unreadable

    with pytest.raises(AssertionError, match="not a plain error"):
        fuzz._require_plain(Unreadable("found", where="", next_step="do"))
