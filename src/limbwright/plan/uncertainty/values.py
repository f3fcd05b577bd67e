"""Values of the uncertainty of one plan of a leg."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from limbwright.finding import Finding
from limbwright.limb.anatomy import Bone
from limbwright.limb.reading import SIGNED, Measure
from limbwright.mechanics import Plane, Quantiles
from limbwright.quantity import (
    LONGER_SHORTER,
    PROCURVATUM_RECURVATUM,
    VARUS_VALGUS,
    Directed,
    Sense,
    Value,
    directed,
)

LENGTH = "length against the other leg"
LENGTH_READ = "marks of both legs' length"
_DRIFT = " drift of the "


def drift_name(bone: Bone, plane: Plane) -> str:
    """Name of the drift of one bone and plane among the results."""
    return f"{plane}{_DRIFT}{bone}"


def is_drift(name: str) -> bool:
    """Whether a result is a drift."""
    return _DRIFT in name


def overlap_name(bone: Bone) -> str:
    """Name of the overlap of one bone at full length among the results."""
    return f"overlap of the {bone}"


def told(name: str, value: float) -> Directed:
    """A value of one result as it leaves the package: a magnitude, and a word where it has a direction."""
    if name in set(Measure):
        measure = Measure(name)
        unit = "mm" if measure is Measure.MAD else "deg"
        if measure in SIGNED:
            return directed(value, unit=unit, senses=SIGNED[measure])
        return Directed(magnitude=abs(value), direction=Sense.NONE, unit=unit)
    if is_drift(name):
        senses = VARUS_VALGUS if name.startswith(Plane.FRONTAL) else PROCURVATUM_RECURVATUM
        return directed(value, unit="deg", senses=senses)
    if name == LENGTH:
        return directed(value, unit="mm", senses=LONGER_SHORTER)
    return Directed(magnitude=max(value, 0.0), direction=Sense.NONE, unit="mm")


class Source(StrEnum):
    """Where an uncertain input comes from."""

    LANDMARK = "landmark"
    SCALE = "scale"
    WALL = "traced wall"
    EXECUTION = "execution"
    TISSUE = "tissue"


WORTH_A_SHARE = 0.1
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
    """How sure the end of a leg's plan is."""

    bones: tuple[Bone, ...]
    """Bones of the plan."""
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

    @property
    def least_sure(self) -> Criterion:
        """The tolerance that is kept least probably."""
        return min(self.criteria, key=lambda c: c.probability)

    def probability(self, name: str) -> float:
        """Probability of one criterion by its name; a wrong name is a mistake of ours."""
        return next(c.probability for c in self.criteria if c.name == name)

    def worth_measuring(self, result: str, least: float = WORTH_A_SHARE) -> tuple[Matter, ...]:
        """Inputs that can be measured again and explain at least this share of one result."""
        return tuple(
            m for m in self.matters if m.result == result and m.source in MEASURABLE and m.total >= least
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class LengthsOfLeg(Value):
    """Length against the other leg, by the films."""

    now_mm: float
    """As it stands, treated leg longer + [mm]."""
    end_mm: float
    """At full length by the plan [mm]."""
    wanted_mm: float = 0.0
    """Wanted at the end [mm]."""
    now_sd_mm: float = 0.0
    """Standard uncertainty of the difference as it stands, by its marks, without the scale [mm]."""
