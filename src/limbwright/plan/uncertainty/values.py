"""Values of the uncertainty of one plan."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from limbwright.finding import Finding
from limbwright.limb.anatomy import Bone
from limbwright.mechanics import Plane, Quantiles
from limbwright.quantity import Value

LENGTH, OVERLAP = "length against the other leg", "overlap at full length"


def drift_name(plane: Plane) -> str:
    """Name of the drift of one plane among the results."""
    return f"{plane} drift"


class Source(StrEnum):
    """Where an uncertain input comes from."""

    LANDMARK = "landmark"
    SCALE = "scale"
    WALL = "traced wall"
    EXECUTION = "execution"
    TISSUE = "tissue"


MEASURABLE = (Source.LANDMARK, Source.SCALE, Source.WALL)
"""What measuring again can mend."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion(Value):
    """One tolerance and how probably it is kept."""

    name: str
    """Reading, drift or length."""
    target: float
    """Wanted value [`unit`]."""
    tolerance: float
    """How far from it is accepted [`unit`]."""
    unit: str
    """mm or deg."""
    probability: float
    """Share of the draws inside."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Matter(Value):
    """How much of the spread of one result one input explains."""

    result: str
    """Reading or drift."""
    name: str
    """Input, in plain words."""
    source: Source
    """Where it comes from."""
    first_order: float
    """Share of the variance it explains alone."""
    total: float
    """Share that would go if it were known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanUncertainty(Value):
    """How sure the end of one bone plan is."""

    bone: Bone
    """Bone."""
    draws: int
    """Draws."""
    seed: int
    """Seed."""
    results: Mapping[str, Quantiles]
    """Distribution of every reading, of drift, length and overlap, in their own units."""
    criteria: tuple[Criterion, ...]
    """Probability of each tolerance."""
    inside_all: float
    """Probability of ending inside all of them at once."""
    matters: tuple[Matter, ...]
    """What matters for each result, the most first within each."""
    findings: tuple[Finding, ...]
    """What follows, worst first."""

    def probability(self, name: str) -> float:
        """Probability of one criterion by its name; a wrong name is a mistake of ours."""
        return next(c.probability for c in self.criteria if c.name == name)

    def worth_measuring(self, result: str, least: float = 0.1) -> tuple[Matter, ...]:
        """Inputs that can be measured again and explain at least this share of one result."""
        return tuple(
            m for m in self.matters if m.result == result and m.source in MEASURABLE and m.total >= least
        )
