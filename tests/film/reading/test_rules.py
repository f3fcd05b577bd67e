from pathlib import Path

import pytest

from limbwright.film.reading.rules import remark, rules
from limbwright.finding import Severity

DOCS = Path(__file__).parents[3] / "docs" / "film-files.md"


@pytest.mark.parametrize("rule_id", sorted(rules()))
def test_every_rule_is_whole_and_documented(rule_id):
    finding = remark(rule_id, "film: words.")
    assert finding.severity in Severity
    assert finding.rule.endswith(".")
    assert finding.next_step.endswith(".")
    assert finding.source.text
    assert f"`{rule_id}`" in DOCS.read_text(encoding="utf-8")


@pytest.mark.parametrize("rule_id", sorted(rules()))
def test_every_rule_has_a_test_here(rule_id):
    here = Path(__file__).parent
    assert any(rule_id in file.read_text(encoding="utf-8") for file in here.glob("test_*.py"))
