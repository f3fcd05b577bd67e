"""One table of a catalogue file, read key by key, so that every refusal can name its line."""

import re
from collections.abc import Iterator, Mapping
from enum import StrEnum
from typing import Any, TypeVar

from limbwright.error import LimbwrightError, Missing, OutOfRange

WHERE = "nail catalogue"
Word = TypeVar("Word", bound=StrEnum)


def line_of(text: str, *, name: str, number: int, key: str = "") -> int | None:
    """Line of the `number`-th (from 1) table `[[name]]`, or of a key in it; None when it cannot be told.

    `name` is empty for the keys before the first table.
    """
    seen, inside = 0, name == ""
    for line_number, line in enumerate(text.splitlines(), start=1):
        header = re.match(r"\s*\[\[?\s*([\w.]+)\s*\]\]?", line)
        if header:
            seen += header[1] == name
            inside = header[1] == name and seen == number
            if inside and not key:
                return line_number
        elif inside and key and re.match(rf"""\s*["']?{re.escape(key)}["']?\s*=""", line):
            return line_number
    return None


class FileTable:
    """A table of the file with the place it stands in; keys that are never asked for are refused."""

    def __init__(self, cells: Mapping[str, Any], *, text: str, name: str = "", number: int = 1) -> None:
        self.cells = cells
        self.asked: list[str] = []
        self._text, self._name, self._number = text, name, number
        self._entry = ""
        self._entry_key = ""

    def where(self, key: str = "") -> str:
        """File, line, table and key in words."""
        line = line_of(self._text, name=self._name, number=self._number, key=self._entry_key or key)
        parts = [WHERE, f"line {line}" if line else "", f"{self._name} {self._number}" if self._name else ""]
        return ", ".join(part for part in (*parts, self._entry, key) if part)

    def number(self, key: str, default: float | None = None) -> float:
        """A number; the default when the key is absent."""
        value = self._value(key, default, "a number")
        return self._number_or_refuse(key, value)

    def optional_number(self, key: str) -> float | None:
        """A number, or None when the key is absent."""
        self.asked.append(key)
        return self._number_or_refuse(key, self.cells[key]) if key in self.cells else None

    def numbers(self, key: str) -> tuple[float, ...]:
        """A list of numbers with at least one of them."""
        value = self._value(key, None, "a list of numbers")
        if not isinstance(value, list) or not value:
            raise self._wrong(key, value, "a list of numbers, as in [245, 275, 305]")
        return tuple(self._number_or_refuse(key, one) for one in value)

    def text(self, key: str, default: str | None = None) -> str:
        """A text; the default when the key is absent."""
        value = self._value(key, default, "a text in quotes")
        if not isinstance(value, str):
            raise self._wrong(key, value, "a text in quotes")
        return value

    def yes_or_no(self, key: str, default: bool | None = None) -> bool:
        """True or false; the default when the key is absent."""
        value = self._value(key, default, "true or false")
        if not isinstance(value, bool):
            raise self._wrong(key, value, "true or false")
        return value

    def word(self, key: str, words: type[Word], default: Word | None = None) -> Word:
        """One of a fixed set of words; the default when the key is absent."""
        expected = " or ".join(f'"{w}"' for w in words)
        value = self._value(key, default, expected)
        if not isinstance(value, str) or value not in set(words):
            raise self._wrong(key, value, expected)
        return words(value)

    def entries(self, key: str, *, required: bool) -> Iterator["FileTable"]:
        """The entries of a list of inline tables."""
        value = self._value(key, None if required else [], "a list of entries in braces")
        if not isinstance(value, list) or not all(isinstance(one, dict) for one in value):
            raise self._wrong(key, value, "a list of entries in braces")
        if required and not value:
            raise self._wrong(key, value, "at least one entry in braces")
        for position, one in enumerate(value, start=1):
            entry = FileTable(one, text=self._text, name=self._name, number=self._number)
            entry._entry, entry._entry_key = f"{key} entry {position}", key
            yield entry

    def finish(self) -> None:
        """Refuse keys that were never asked for."""
        for key in self.cells:
            if key not in self.asked:
                raise OutOfRange(
                    f"there is no key {key!r} here, expected {', '.join(dict.fromkeys(self.asked))}.",
                    where=self.where(key),
                    next_step="Correct its spelling or take it out.",
                )

    def placed(self, error: LimbwrightError, key: str = "") -> LimbwrightError:
        """The same error with the place in the file in front of its own place."""
        return type(error)(error.found, where=f"{self.where(key)}: {error.where}", next_step=error.next_step)

    def _value(self, key: str, default: Any, expected: str) -> Any:
        self.asked.append(key)
        if key in self.cells:
            return self.cells[key]
        if default is None:
            raise Missing(
                f"{key} is not given, expected {expected}.",
                where=self.where(),
                next_step=f'Add a line "{key} = ..." there; docs/catalogue.md describes every key.',
            )
        return default

    def _number_or_refuse(self, key: str, value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self._wrong(key, value, "a number")
        return float(value)

    def _wrong(self, key: str, value: Any, expected: str) -> OutOfRange:
        shown = repr(value) if len(repr(value)) <= 60 else repr(value)[:57] + "..."
        return OutOfRange(
            f"{key} is {shown}, expected {expected}.",
            where=self.where(key),
            next_step="Correct it; docs/catalogue.md describes every key.",
        )
