"""Translations of what the patient reads: gettext catalogues (.po) inside the package, English as the source.

The message id is the English text. A catalogue is read without being compiled first: comments, `msgid` and
`msgstr` with quoted lines, nothing else; anything else in it is refused.
"""

import ast
import re
from datetime import date
from functools import cache
from gettext import NullTranslations

from limbwright.error import OutOfRange, Unreadable
from limbwright.published import package_text

SOURCE_LANGUAGE = "en"
DECIMAL_POINT = {"en": ".", "de": ","}
LANGUAGES = tuple(DECIMAL_POINT)
"""Languages that there are, by their ISO 639-1 code."""
MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


class Translation(NullTranslations):
    """One language."""

    def __init__(self, language: str, messages: dict[str, str]) -> None:
        super().__init__()
        self.language = language
        self.messages = messages

    def gettext(self, message: str) -> str:
        """The message in this language; the English text where the catalogue does not have it."""
        return self.messages.get(message) or message

    def said(self, message: str, **values: str) -> str:
        """The message with its `{names}` filled in."""
        return self.gettext(message).format(**values)

    def number(self, value: float, digits: int) -> str:
        """A number with this language's decimal point, without trailing zeros."""
        text = f"{value:.{digits}f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
        return text.replace(".", DECIMAL_POINT[self.language])

    def day(self, on: date) -> str:
        """A day in words, with its weekday."""
        return self.said(
            "{weekday}, {month} {day}, {year}",
            weekday=self.gettext(WEEKDAYS[on.weekday()]),
            month=self.gettext(MONTHS[on.month - 1]),
            day=str(on.day),
            year=str(on.year),
        )


@cache
def translation(language: str) -> Translation:
    """The catalogue of a language.

    Raises
    ------
    OutOfRange
        If there is none.
    """
    if language not in LANGUAGES:
        raise OutOfRange(
            f"language {language!r}, expected one of {', '.join(LANGUAGES)}.",
            where="language",
            next_step="Choose one of these languages.",
        )
    if language == SOURCE_LANGUAGE:
        return Translation(language, {})
    name = f"{language}.po"
    return Translation(language, messages_of(package_text("course", "languages", name), where=name))


def messages_of(catalogue: str, *, where: str) -> dict[str, str]:
    """Messages of a .po file by their ids; the header, whose id is empty, is left out.

    Raises
    ------
    Unreadable
        If a line is none of those this reader knows, or an id comes twice.
    """
    messages: dict[str, str] = {}
    parts = {"msgid": "", "msgstr": ""}
    current = ""
    for number, line in enumerate([*catalogue.splitlines(), 'msgid ""'], start=1):
        text = line.strip()
        if not text or text.startswith("#"):
            continue
        found = re.fullmatch(r'(?:(msgid|msgstr) )?("(?:[^"\\]|\\["\\nt])*")', text)
        if found is None or (found[1] is None and not current):
            raise _unreadable(f"line {number} is not understood: {text[:60]!r}.", where)
        if found[1] == "msgid":
            if parts["msgid"] in messages:
                raise _unreadable(
                    f"the message {parts['msgid'][:60]!r} comes twice, before line {number}.", where
                )
            if parts["msgid"]:
                messages[parts["msgid"]] = parts["msgstr"]
            parts = {"msgid": "", "msgstr": ""}
        current = found[1] or current
        parts[current] += str(ast.literal_eval(found[2]))
    return messages


def _unreadable(found: str, where: str) -> Unreadable:
    return Unreadable(found, where=where, next_step="Correct the translation catalogue.")
