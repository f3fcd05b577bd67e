"""One rule of practice: its name, meaning, default, range and source, as the table of settings lists them."""

from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from limbwright.error import OutOfRange
from limbwright.published import Source, table
from limbwright.quantity import Value

Answer = float | int | bool | str
"""What a setting can hold."""


class Kind(StrEnum):
    """What kind of answer a setting takes."""

    NUMBER = "number"
    WHOLE_NUMBER = "whole number"
    YES_OR_NO = "yes or no"
    CHOICE = "choice"


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting(Value):
    """One rule of practice that surgeons differ in."""

    group: str
    """Heading under which it is listed."""
    name: str
    """Name, with the unit in it."""
    meaning: str
    """What it decides, in plain words."""
    unit: str
    """Unit; empty for a count, a ratio or a choice."""
    kind: Kind
    """Kind of answer it takes."""
    default: Answer
    """Our default."""
    low: float | None
    """Lowest number accepted; None unless it is a number."""
    high: float | None
    """Highest number accepted; None unless it is a number."""
    not_above: str
    """Name of a setting that this one may not exceed; empty for none."""
    choices: tuple[str, ...]
    """Words to choose from; empty unless it is a choice."""
    source: Source
    """Where the default comes from."""

    def expected(self) -> str:
        """What answers are accepted, in words."""
        unit = f" {self.unit}" if self.unit else ""
        match self.kind:
            case Kind.CHOICE:
                return " or ".join(f'"{c}"' for c in self.choices)
            case Kind.YES_OR_NO:
                return "true or false"
            case _:
                return f"a {self.kind} from {self.low:g} to {self.high:g}{unit}"

    def checked(self, answer: object) -> Answer:
        """The answer in the setting's own type, refused where it is of another kind or out of range.

        Raises
        ------
        OutOfRange
            Naming the setting, what was given, what is expected and our default.
        """
        if self.kind is Kind.YES_OR_NO and isinstance(answer, bool):
            return answer
        if self.kind is Kind.CHOICE and isinstance(answer, str) and answer in self.choices:
            return answer
        number = self._number_within(answer)
        if number is not None:
            return int(number) if self.kind is Kind.WHOLE_NUMBER else number
        raise OutOfRange(
            f"{self.name} is {toml_text(answer)}, expected {self.expected()}.",
            where="practice profile",
            next_step=f"It decides: {self.meaning[0].lower()}{self.meaning[1:]}. "
            f"Our default is {toml_text(self.default)}.",
        )

    def _number_within(self, answer: object) -> float | None:
        if self.low is None or self.high is None or isinstance(answer, bool):
            return None
        if not isinstance(answer, int | float) or not self.low <= answer <= self.high:
            return None
        number = float(answer)
        return number if self.kind is Kind.NUMBER or number.is_integer() else None


LARGEST_WRITTEN = 10**15
"""A larger whole number is no answer to any setting; written out it could fill a page."""


def toml_text(answer: object) -> str:
    """An answer as it is written in a profile file."""
    match answer:
        case bool():
            return "true" if answer else "false"
        case float() if not answer.is_integer():
            return repr(answer)
        case int() if abs(answer) > LARGEST_WRITTEN:
            return f"a whole number beyond {LARGEST_WRITTEN}"
        case int() | float():
            return f"{answer:.0f}"
        case str():
            escaped = answer.replace("\\", "\\\\").replace('"', '\\"')
            return f'"{escaped}"'
        case _:
            return repr(answer)


@cache
def settings() -> tuple[Setting, ...]:
    """All settings, in the order of the table."""
    found = []
    for row in table("practice", "settings"):
        kind = Kind(row.text("kind"))
        text = row.text("default")
        default: Answer
        match kind:
            case Kind.NUMBER:
                default = float(text)
            case Kind.WHOLE_NUMBER:
                default = int(text)
            case Kind.YES_OR_NO:
                default = text == "yes"
            case Kind.CHOICE:
                default = text
        found.append(
            Setting(
                group=row.text("group"),
                name=row.text("name"),
                meaning=row.text("meaning"),
                unit=row.text("unit"),
                kind=kind,
                default=default,
                low=row.optional_number("low"),
                high=row.optional_number("high"),
                not_above=row.text("not_above"),
                choices=tuple(c for c in row.text("choices").split("|") if c),
                source=row.source,
            )
        )
    return tuple(found)


@cache
def setting(name: str) -> Setting:
    """The setting of that name; a wrong name is a mistake of ours, so this raises KeyError."""
    return {s.name: s for s in settings()}[name]
