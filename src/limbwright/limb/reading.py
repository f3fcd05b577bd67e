"""What is measured on a leg, and one measured value with everything a reader asks about it."""

from dataclasses import dataclass
from enum import StrEnum

from limbwright.error import Missing
from limbwright.limb.landmark import Landmark
from limbwright.limb.norm import Norm
from limbwright.quantity import (
    MEDIAL_LATERAL,
    PROCURVATUM_RECURVATUM,
    VARUS_VALGUS,
    Directed,
    Measured,
    Sense,
    Value,
    directed,
)


class Measure(StrEnum):
    """A measurement by its usual letters, or its plain name where the trade has none."""

    MAD = "MAD"
    HKA = "HKA"
    AFTA = "aFTA"
    MLPFA = "mLPFA"
    AMPFA = "aMPFA"
    NSA = "NSA"
    AMA = "AMA"
    MLDFA = "mLDFA"
    ALDFA = "aLDFA"
    JLCA = "JLCA"
    MPTA = "MPTA"
    LDTA = "LDTA"
    PDFA = "PDFA"
    PPTA = "PPTA"
    ADTA = "ADTA"
    FEMUR_LENGTH = "femur length"
    TIBIA_LENGTH = "tibia length"
    LEG_LENGTH = "leg length"
    KNEE_HEIGHT = "knee height"


SIGNED: dict[Measure, tuple[Sense, Sense]] = {
    Measure.MAD: MEDIAL_LATERAL,
    Measure.HKA: VARUS_VALGUS,
    Measure.AFTA: VARUS_VALGUS,
}
"""Measures that carry a sign inside, with the words for + and -."""

ABOVE_RANGE: dict[Measure, tuple[Sense, Sense]] = {
    Measure.MAD: MEDIAL_LATERAL,
    Measure.HKA: VARUS_VALGUS,
    Measure.JLCA: VARUS_VALGUS,
    Measure.MLPFA: VARUS_VALGUS,
    Measure.AMPFA: (Sense.VALGUS, Sense.VARUS),
    Measure.NSA: (Sense.VALGUS, Sense.VARUS),
    Measure.MLDFA: VARUS_VALGUS,
    Measure.ALDFA: VARUS_VALGUS,
    Measure.MPTA: (Sense.VALGUS, Sense.VARUS),
    Measure.LDTA: VARUS_VALGUS,
    Measure.PDFA: (Sense.RECURVATUM, Sense.PROCURVATUM),
    Measure.PPTA: (Sense.RECURVATUM, Sense.PROCURVATUM),
    Measure.ADTA: PROCURVATUM_RECURVATUM,
}
"""The deformity that a value above its range, and one below it, stands for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading(Value):
    """One measured value of one leg."""

    measure: Measure
    """What was measured."""
    value: Measured
    """Value with its standard uncertainty; MAD medial +, HKA and aFTA varus +, JLCA opening lateral +."""
    landmarks: tuple[Landmark, ...]
    """Landmarks it was computed from."""
    formula: str
    """How it was computed, in words."""
    norm: Norm | None
    """Normal range; absent when none is published or none may be used."""
    norm_absent: str = ""
    """Why there is no normal range; empty when there is one."""
    out_of_range: float | None
    """How far above (+) or below (-) the normal range, 0 inside it; absent without one [unit of `value`]."""

    def shown(self) -> Directed:
        """The value as it leaves the package: a magnitude, with a word where it has a direction."""
        if self.measure in SIGNED:
            return directed(self.value.value, unit=self.value.unit, senses=SIGNED[self.measure])
        if self.measure is Measure.JLCA:
            return directed(self.value.value, unit=self.value.unit, senses=(Sense.LATERAL, Sense.MEDIAL))
        return Directed(magnitude=abs(self.value.value), direction=Sense.NONE, unit=self.value.unit)

    def deviation(self) -> Directed | None:
        """How far out of the normal range and toward which deformity; None without a range."""
        if self.out_of_range is None or self.measure not in ABOVE_RANGE:
            return None
        return directed(self.out_of_range, unit=self.value.unit, senses=ABOVE_RANGE[self.measure])


@dataclass(frozen=True, slots=True, kw_only=True)
class NotMeasured(Value):
    """A measurement that could not be made, and why."""

    measure: Measure
    """What was to be measured."""
    reason: str
    """Why it could not be, naming the landmark or the scale."""
    missing: tuple[Landmark, ...] = ()
    """Landmarks that would have to be marked."""
    next_step: str
    """What would make it possible."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings(Value):
    """All measurements of one view of one leg."""

    values: tuple[Reading, ...]
    """What was measured."""
    not_measured: tuple[NotMeasured, ...]
    """What was not, each with its reason."""

    def get(self, measure: Measure) -> Reading | None:
        """One reading, or None when it was not measured."""
        return next((r for r in self.values if r.measure is measure), None)

    def need(self, measure: Measure) -> Reading:
        """One reading, or a plain error saying why it is not there."""
        found = self.get(measure)
        if found is not None:
            return found
        why = next((n for n in self.not_measured if n.measure is measure), None)
        raise Missing(
            f"{measure} was not measured: {why.reason if why else 'it belongs to the other projection.'}",
            where="measurements",
            next_step=why.next_step if why else "Measure it on a film of the other projection.",
        )
