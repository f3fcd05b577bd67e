"""What a rule says: a finding, and the pace it speaks for."""

from enum import StrEnum
from typing import NamedTuple

from limbwright.finding import Finding, Number


class Pace(StrEnum):
    """What the lengthening may do next, from the gravest to the least grave reason."""

    REVERSE = "reverse"
    HOLD = "hold"
    SLOW = "slow"
    QUICKEN = "quicken"
    KEEP = "keep"


class Said(NamedTuple):
    """One statement of a rule."""

    finding: Finding
    """What was found."""
    pace: Pace | None = None
    """The pace it speaks for; None when it says nothing about pace."""
    sooner: bool = False
    """Whether the next film should come sooner."""


def numbers(*triples: tuple[str, float, str]) -> tuple[Number, ...]:
    """Numbers behind a finding, from name, value and unit."""
    return tuple(Number(name=name, value=float(value), unit=unit) for name, value, unit in triples)
