"""The findings this room can raise: their weight, rule, next step and source stand in `tables/rules.csv`."""

from functools import cache

from limbwright.finding import Finding, Severity
from limbwright.published import Row, table


@cache
def rules() -> dict[str, Row]:
    """Rules by their stable id."""
    return {row.text("id"): row for row in table("store", "rules")}


def remark(rule_id: str, words: str) -> Finding:
    """A finding by rule id, with the words of this case or film."""
    row = rules()[rule_id]
    return Finding(
        id=rule_id,
        severity=Severity(row.text("severity")),
        words=words,
        next_step=row.text("next_step"),
        rule=row.text("rule"),
        source=row.source,
    )
