"""The room's own limits, read from their table."""

from limbwright.published import Row, table


def limit_row(quantity: str) -> Row:
    """A limit with its source."""
    return next(row for row in table("limb", "limits") if row.text("quantity") == quantity)


def limit(quantity: str) -> float:
    """A limit as a number, in the unit its row states."""
    return limit_row(quantity).number("value")
