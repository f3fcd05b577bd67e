"""The example of the page runs and prints the figures that stand beside it."""

import re
from pathlib import Path

import pytest

PAGE = Path(__file__).parents[2] / "docs" / "mechanics.md"


def test_the_example_of_the_page(capsys):
    code = re.search(r"```python\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    assert code is not None
    exec(code.group(1), {})
    printed = [float(x) for x in capsys.readouterr().out.split()]
    assert printed == pytest.approx([-2.26, -1.69, -1.47], abs=0.005)


def test_the_page_says_that_nothing_is_validated_clinically():
    text = PAGE.read_text(encoding="utf-8")
    assert "not been validated clinically" in text
    assert "not a medical device" in text
