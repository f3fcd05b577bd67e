"""The one warning type: every statement about a case, plan or visit that a reader must weigh is a Finding."""

from dataclasses import dataclass
from enum import StrEnum

from limbwright.published import Source
from limbwright.quantity import Value


class Severity(StrEnum):
    """How much a finding weighs."""

    NOTE = "note"
    CAUTION = "caution"
    STOP = "stop"


@dataclass(frozen=True, slots=True, kw_only=True)
class Number(Value):
    """A number that a finding rests on."""

    name: str
    """What it is, in plain words."""
    value: float
    """Its value, in `unit`."""
    unit: str
    """Its unit; empty for a pure number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding(Value):
    """One statement about a case, plan or visit."""

    id: str
    """Stable name of the rule, lower-case words joined by hyphens; documented in docs/findings.md."""
    severity: Severity
    """`note` to know, `caution` to weigh, `stop` to resolve before going on."""
    words: str
    """What was found and where, in plain words with its numbers and units."""
    next_step: str
    """What the reader can do about it; never an order."""
    numbers: tuple[Number, ...] = ()
    """The numbers behind the words."""
    rule: str = ""
    """The rule that was applied, in one sentence."""
    source: Source
    """Where the rule comes from."""


def worst(findings: tuple[Finding, ...]) -> Severity | None:
    """The gravest severity among findings, None when there are none."""
    order = list(Severity)
    return max((f.severity for f in findings), key=order.index, default=None)


def ordered(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Findings with stops first, then cautions, then notes; order within each kept."""
    order = list(Severity)
    return tuple(sorted(findings, key=lambda f: -order.index(f.severity)))
