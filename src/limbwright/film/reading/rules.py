"""The findings this room can raise: their weight, rule, next step and source stand in `tables/rules.csv`."""

from functools import cache

from limbwright.finding import Finding, Number, Severity
from limbwright.published import Row, table


@cache
def rules() -> dict[str, Row]:
    """Rules by their stable id."""
    return {row.text("id"): row for row in table("film/reading", "rules")}


def remark(rule_id: str, words: str, *, numbers: tuple[Number, ...] = ()) -> Finding:
    """A finding by rule id, with the words and numbers of this film."""
    row = rules()[rule_id]
    return Finding(
        id=rule_id,
        severity=Severity(row.text("severity")),
        words=words,
        next_step=row.text("next_step"),
        numbers=numbers,
        rule=row.text("rule"),
        source=row.source,
    )
