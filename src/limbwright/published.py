"""Reader of the sourced tables that lie inside the rooms; the only file of the core that opens package data.

A table is a CSV file `<room>/tables/<name>.csv`. Every row has the columns `source` and `status`; the status
says how far the figure was checked.
"""

import csv
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files

from limbwright.error import Missing
from limbwright.quantity import Value


class Status(StrEnum):
    """How a published figure was checked."""

    VERIFIED = "verified"
    MEMORY = "memory"
    COMMON_PRACTICE = "common practice"
    DERIVED = "derived"
    JUDGEMENT = "engineering judgement"


@dataclass(frozen=True, slots=True, kw_only=True)
class Source(Value):
    """Where a figure or a rule comes from."""

    text: str
    """Author, title, year; or 'common practice, no source'."""
    status: Status
    """How far it was checked."""

    def __str__(self) -> str:
        if self.status is Status.COMMON_PRACTICE:
            return self.text
        note = {
            Status.VERIFIED: "read in the source",
            Status.MEMORY: "value from memory",
            Status.DERIVED: "derived",
            Status.JUDGEMENT: "engineering judgement",
        }[self.status]
        return f"{self.text} ({note})"


COMMON_PRACTICE = Source(text="common practice, no source", status=Status.COMMON_PRACTICE)


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a published table."""

    cells: dict[str, str]
    source: Source

    def text(self, column: str) -> str:
        """The cell as written."""
        return self.cells[column]

    def number(self, column: str) -> float:
        """The cell as a number."""
        return float(self.cells[column])

    def optional_number(self, column: str) -> float | None:
        """The cell as a number, or None where the table leaves it blank."""
        return float(self.cells[column]) if self.cells[column].strip() else None


def package_text(room: str, folder: str, name: str) -> str:
    """A text file that lies inside a room, in UTF-8."""
    return files("limbwright").joinpath(room, folder, name).read_text(encoding="utf-8")


@cache
def table(room: str, name: str) -> tuple[Row, ...]:
    """All rows of `<room>/tables/<name>.csv`, in file order.

    Raises
    ------
    Missing
        If a row has no source or no known status; a figure without a source is not published.
    """
    text = package_text(room, "tables", f"{name}.csv")
    rows = []
    for number, cells in enumerate(csv.DictReader(text.splitlines()), start=2):
        if not cells.get("source") or cells.get("status") not in set(Status):
            raise Missing(
                f"row {number} has source {cells.get('source')!r} and status {cells.get('status')!r}.",
                where=f"{room}/tables/{name}.csv",
                next_step=f"Give it a source and one of the statuses {', '.join(Status)}.",
            )
        rows.append(Row(cells, Source(text=cells["source"], status=Status(cells["status"]))))
    return tuple(rows)
