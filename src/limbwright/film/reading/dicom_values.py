"""Single header values, by kind: read, or left out with a finding; never repaired."""

import math
import re
from datetime import date
from typing import TYPE_CHECKING, Any

from limbwright.film.reading import limits
from limbwright.film.reading.rules import remark
from limbwright.finding import Finding

if TYPE_CHECKING:
    from pydicom.dataset import Dataset

_DATE = re.compile(r"(\d{4})\.?(\d{2})\.?(\d{2})")


class Values:
    """Reads values of one data set by keyword and collects findings about those it could not read.

    Parameters
    ----------
    dataset : pydicom Dataset
        The header.
    name : str
        Name of the film, for messages.
    """

    def __init__(self, dataset: "Dataset", name: str) -> None:
        self._dataset = dataset
        self._name = name
        self.findings: list[Finding] = []

    def has(self, keyword: str) -> bool:
        """Whether the element is there, empty or not."""
        return keyword in self._dataset

    def unreadable(self, keyword: str, words: str) -> None:
        """Note that a value was left out, and why."""
        label = f"{self._name}: {_label(keyword)}"
        self.findings.append(remark("film-header-value-unreadable", f"{label} {words}"))

    def raw(self, keyword: str, *, most: int = limits.MAX_VALUE_BYTES) -> Any:
        """The value as pydicom interprets it; None when absent, empty, too long or unreadable."""
        try:
            element: Any = self._dataset.get_item(keyword)
        except Exception:  # unknown keyword or an element that cannot be looked at
            return None
        if element is None:
            return None
        length = getattr(element, "length", None)  # only elements not yet interpreted have one
        if isinstance(length, int) and length != 0xFFFFFFFF and length > most:
            self.unreadable(keyword, f"has {length:,} bytes, more than the {most:,} that are looked at.")
            return None
        try:
            value = self._dataset[keyword].value
        except Exception as reason:  # a foreign parser on damaged bytes may raise anything
            self.unreadable(keyword, f"cannot be read ({type(reason).__name__}).")
            return None
        return None if value is None or value in ("", b"") else value

    def text(self, keyword: str) -> str | None:
        """A single word or phrase; parts of a multiple value are joined by a backslash."""
        value = self.raw(keyword)
        if value is None:
            return None
        if isinstance(value, bytes):
            value = value.rstrip(b"\0 ").decode("ascii", "replace")
        elif not isinstance(value, str) and hasattr(value, "__iter__"):
            value = "\\".join(str(part) for part in value)
        return str(value).strip(" \0") or None

    def word(self, keyword: str) -> str | None:
        """A coded word in capitals."""
        text = self.text(keyword)
        return text.upper() if text is not None else None

    def numbers(self, keyword: str) -> tuple[float, ...] | None:
        """Finite numbers; None with a finding when one is not."""
        value = self.raw(keyword)
        if value is None:
            return None
        parts = (value,) if isinstance(value, (str, bytes)) or not hasattr(value, "__iter__") else value
        try:
            found = tuple(float(part) for part in parts)
        except (TypeError, ValueError, OverflowError):
            self.unreadable(keyword, f"is {_quoted(value)}, expected numbers.")
            return None
        if not found or not all(math.isfinite(number) for number in found):
            self.unreadable(keyword, f"is {_quoted(value)}, expected finite numbers.")
            return None
        return found

    def number(self, keyword: str) -> float | None:
        """One finite number."""
        found = self.numbers(keyword)
        if found is None:
            return None
        if len(found) != 1:
            self.unreadable(keyword, f"holds {len(found)} numbers, expected one.")
            return None
        return found[0]

    def whole(self, keyword: str) -> int | None:
        """One whole number."""
        found = self.number(keyword)
        if found is None:
            return None
        if found != int(found):
            self.unreadable(keyword, f"is {found:g}, expected a whole number.")
            return None
        return int(found)

    def day(self, keyword: str) -> date | None:
        """A calendar day written YYYYMMDD (or, in old files, YYYY.MM.DD)."""
        text = self.text(keyword)
        if text is None:
            return None
        match = _DATE.fullmatch(text)
        try:
            if match:
                return date(int(match[1]), int(match[2]), int(match[3]))
        except ValueError:
            pass  # no such day in the calendar; said below
        self.unreadable(keyword, f"is {_quoted(text)}, expected a day as YYYYMMDD.")
        return None

    def items(self, keyword: str) -> tuple["Dataset", ...]:
        """Items of a sequence; empty when absent or unreadable."""
        value = self.raw(keyword, most=limits.MAX_SEQUENCE_BYTES)
        if value is None:
            return ()
        if isinstance(value, (str, bytes)) or not hasattr(value, "__iter__"):
            self.unreadable(keyword, "is not a sequence.")
            return ()
        return tuple(item for item in value if hasattr(item, "get_item"))


def _label(keyword: str) -> str:
    from pydicom.datadict import dictionary_description, tag_for_keyword

    tag = tag_for_keyword(keyword)
    if tag is None:  # pragma: no cover - every keyword used here is in the dictionary
        return keyword
    return f"{dictionary_description(tag)} ({tag >> 16:04X},{tag & 0xFFFF:04X})"


def _quoted(value: object) -> str:
    words = str(value)
    return repr(words if len(words) <= 60 else words[:57] + "...")
