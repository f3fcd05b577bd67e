"""Measured values of a view without their uncertainty: what a drag shows until the hand lets go."""

from collections.abc import Iterable, Iterator
from typing import Any

from limbwright.error import LimbwrightError
from limbwright.interop.plain import directed_plain
from limbwright.limb.formula import FORMULAS
from limbwright.limb.measure import reading_of
from limbwright.limb.reading import Measure, Reading, Readings
from limbwright.limb.view import View
from limbwright.quantity import Measured


def quick_readings(view: View, *, age_years: float, before: Readings | None = None) -> Iterator[Reading]:
    """Every measurement the landmarks of one view allow, by its first construction.

    Parameters
    ----------
    before : Readings, optional
        Readings of the same leg whose uncertainties are carried over; 0 where there is none.
    """
    done: set[Measure] = set()
    for way in FORMULAS:
        if way.measure in done or way.projection is not view.projection:
            continue
        if not view.has(*way.landmarks) or not view.in_one_frame(*way.landmarks):
            continue
        if way.unit == "mm" and not view.scaled:
            continue
        try:
            value = way.compute(view)
        except LimbwrightError:
            continue
        done.add(way.measure)
        known = None if before is None else before.get(way.measure)
        yield reading_of(
            way.measure,
            Measured(value=value, sd=0.0 if known is None else known.value.sd, unit=way.unit),
            landmarks=way.landmarks,
            formula=way.words,
            age_years=age_years,
        )


def short_plain(reading: Reading) -> dict[str, Any]:
    """A reading as a drag tells it."""
    deviation = reading.deviation()
    return {
        "measure": reading.measure.value,
        **directed_plain(reading.shown()),
        f"sd_{reading.value.unit}": round(reading.value.sd, 4),
        "out_of_range": None if deviation is None else directed_plain(deviation),
    }


def all_plain(readings: Iterable[Reading]) -> list[dict[str, Any]]:
    """Readings in the order of `Measure`, each once."""
    found = {reading.measure: reading for reading in readings}
    return [short_plain(found[measure]) for measure in Measure if measure in found]
