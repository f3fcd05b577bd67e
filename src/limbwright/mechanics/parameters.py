"""Parameters of the model: low, default and high value, unit, source and status of each."""

from dataclasses import dataclass
from functools import cache

from limbwright.error import Missing
from limbwright.published import Source, table
from limbwright.quantity import Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameter(Value):
    """One parameter of the nail-in-canal model."""

    name: str
    """Its name."""
    meaning: str
    """What it is, in words."""
    low: float
    """Lowest value to reckon with, in `unit`."""
    default: float
    """Value used unless the practice profile says otherwise, in `unit`."""
    high: float
    """Highest value to reckon with, in `unit`."""
    unit: str
    """Unit by its usual symbol; 1 for a pure number."""
    source: Source
    """Where it comes from; engineering judgement says so."""


@cache
def parameters() -> tuple[Parameter, ...]:
    """All parameters, in file order."""
    return tuple(
        Parameter(
            name=row.text("name"),
            meaning=row.text("meaning"),
            low=row.number("low"),
            default=row.number("default"),
            high=row.number("high"),
            unit=row.text("unit"),
            source=row.source,
        )
        for row in table("mechanics", "parameters")
    )


def parameter(name: str) -> Parameter:
    """The parameter of this name.

    Raises
    ------
    Missing
        If there is none.
    """
    for entry in parameters():
        if entry.name == name:
            return entry
    raise Missing(
        f"there is no parameter {name!r}.",
        where="mechanics/tables/parameters.csv",
        next_step=f"Use one of {', '.join(p.name for p in parameters())}.",
    )
