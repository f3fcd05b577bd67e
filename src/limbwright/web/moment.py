"""The server's clock, and a day for schedules that are counted in days after an operation not yet dated."""

from datetime import UTC, date, datetime

ANY_DAY = date(2000, 1, 1)


def now() -> datetime:
    """This moment, in UTC."""
    return datetime.now(UTC)


def today() -> date:
    """Today by this machine's calendar."""
    return date.today()
