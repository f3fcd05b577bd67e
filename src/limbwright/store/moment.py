"""Moments as the store keeps them: UTC, microseconds, as text that sorts by time on every database."""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from sqlalchemy.types import Text, TypeDecorator

Clock = Callable[[], datetime]
"""Gives the present moment with its time zone; handed in, so that tests tell the time."""


def utc_now() -> datetime:
    """The present moment in UTC; the clock of a store unless another one is handed in."""
    return datetime.now(UTC)


def moment_text(moment: datetime) -> str:
    """A moment as text of fixed width in UTC, such as 2026-03-02T09:30:00.000000+00:00."""
    return moment.astimezone(UTC).isoformat(timespec="microseconds")


class Moment(TypeDecorator[datetime]):
    """A column of moments."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Any) -> str | None:
        """To the database."""
        return None if value is None else moment_text(value)

    def process_result_value(self, value: str | None, dialect: Any) -> datetime | None:
        """From the database."""
        return None if value is None else datetime.fromisoformat(value)
