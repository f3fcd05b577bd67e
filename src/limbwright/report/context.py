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
