"""What a printed page is given: one typed value per page, so that a template can be tested against it."""

from dataclasses import dataclass

from limbwright.finding import Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingLine:
    """A finding as a page prints it."""

    severity: str
    words: str
    next_step: str
    rule: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A drawing or film on a page; `file` names the SVG that travels with the page."""

    file: str
    title: str
    caption: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BigItem:
    """One number that must be readable from two metres."""

    label: str
    value: str
    note: str = ""
    large: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class BigGroup:
    """A card of big numbers."""

    title: str
    items: tuple[BigItem, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A small bar: range drawn, normal range, value and half its 95 % interval, all in the value's unit."""

    low: float
    high: float
    normal_low: float | None
    normal_high: float | None
    value: float
    half: float
    outside: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasurementRow:
    """One measure of both legs with its normal range."""

    name: str
    treated: str
    other: str
    end: str
    normal: str
    source: str
    outside: bool
    bar: Bar | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurements:
    """The table of measurements and what it does not hold."""

    rows: tuple[MeasurementRow, ...]
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A plain table; a width is `auto` or `fill`."""

    title: str
    header: tuple[str, ...]
    widths: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""

    def __post_init__(self) -> None:
        ragged = [row for row in self.rows if len(row) != len(self.header)]
        if ragged or len(self.widths) != len(self.header):
            raise ValueError(
                f"table '{self.title}' has {len(self.header)} columns, but a row like {ragged[:1]}"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class SureRow:
    """One result at full length: its distribution against its tolerance."""

    name: str
    middle: str
    band: str
    tolerance: str
    inside: str
    comes_from: str
    bar: Bar | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sureness:
    """How sure the end of a plan is, and what is worth measuring again."""

    title: str
    rows: tuple[SureRow, ...]
    again: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OperationPlanPage:
    """Everything on the printed operation plan."""

    title: str
    header_right: str
    caution: str
    headline: str
    subline: str
    invented: bool
    alerts: tuple[FindingLine, ...]
    more_alerts: int
    wall_figures: tuple[Figure, ...]
    big: tuple[BigGroup, ...]
    key_steps: tuple[str, ...]
    figures: tuple[Figure, ...]
    forecast_figures: tuple[Figure, ...]
    comparison: Table | None
    sureness: Sureness | None
    measurements: Measurements
    tables: tuple[Table, ...]
    steps: tuple[str, ...]
    findings: tuple[FindingLine, ...]
    sources: tuple[str, ...]


def finding_line(finding: Finding) -> FindingLine:
    """A finding as text for a page."""
    return FindingLine(
        severity=finding.severity.value,
        words=finding.words,
        next_step=finding.next_step,
        rule=finding.rule,
        source=str(finding.source),
    )
