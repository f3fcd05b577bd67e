"""Quasi-random draws of uncertain inputs, and quantiles of what they lead to."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from limbwright.error import OutOfRange
from limbwright.quantity import Value

Reals = NDArray[np.float64]


class Shape(StrEnum):
    """Shape of a distribution."""

    NORMAL = "normal"
    UNIFORM = "uniform"
    TRIANGULAR = "triangular"


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread(Value):
    """One uncertain input.

    Normal: `centre` is the mean, `spread` the standard deviation. Uniform and triangular: from `centre -
    spread` to `centre + spread`, the triangular one with its peak in the middle.
    """

    name: str
    """Name of the input."""
    centre: float
    """Middle of the distribution, in the input's own unit."""
    spread: float
    """Standard deviation or half width, in the input's own unit."""
    shape: Shape = Shape.NORMAL
    """Shape of the distribution."""

    def __post_init__(self) -> None:
        if not (np.isfinite(self.centre) and np.isfinite(self.spread) and self.spread >= 0):
            raise OutOfRange(
                f"centre {self.centre:g} with spread {self.spread:g} is not a distribution.",
                where=self.name,
                next_step="Give a finite centre and a spread of 0 or more.",
            )

    def value_at(self, probability: Reals) -> Reals:
        """Inverse of the cumulative distribution, elementwise."""
        from scipy.special import ndtri

        p = np.clip(probability, 1e-12, 1.0 - 1e-12)
        if self.shape is Shape.NORMAL:
            unit = ndtri(p)
        elif self.shape is Shape.UNIFORM:
            unit = 2.0 * p - 1.0
        else:
            unit = np.where(p < 0.5, np.sqrt(2.0 * p) - 1.0, 1.0 - np.sqrt(2.0 * (1.0 - p)))
        return np.asarray(self.centre + self.spread * unit)


def unit_draws(*, dimensions: int, count: int, seed: int) -> Reals:
    """Scrambled Sobol points in the unit cube: (count, dimensions), the same for the same seed."""
    import warnings

    from scipy.stats import qmc

    engine = qmc.Sobol(d=dimensions, scramble=True, rng=seed)
    with warnings.catch_warnings():
        # Any count is welcome here; the balance of a power of two is a refinement, not a requirement.
        warnings.filterwarnings("ignore", message="The balance properties", category=UserWarning)
        return np.asarray(engine.random(count), dtype=np.float64)


def draws(spreads: tuple[Spread, ...], *, count: int, seed: int) -> Mapping[str, Reals]:
    """Quasi-random draws of independent inputs, by name, each (count,)."""
    unit = unit_draws(dimensions=max(len(spreads), 1), count=count, seed=seed)
    return MappingProxyType({s.name: s.value_at(unit[:, i]) for i, s in enumerate(spreads)})


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantiles(Value):
    """Distribution of one result over the draws."""

    probability: tuple[float, ...]
    """Probabilities, rising."""
    value: tuple[float, ...]
    """Value that is not exceeded with each probability, in the result's own unit."""
    mean: float
    """Mean over the draws that carry a number."""
    sd: float
    """Standard deviation over the draws that carry a number."""
    without_number: float
    """Share of draws for which the model has no number; they are in no quantile."""


def quantiles(values: ArrayLike, probability: tuple[float, ...] = (0.05, 0.25, 0.5, 0.75, 0.95)) -> Quantiles:
    """Quantiles of a result; draws without a number (NaN) are counted apart, never dropped silently.

    Raises
    ------
    OutOfRange
        If no draw carries a number.
    """
    array = np.asarray(values, dtype=np.float64)
    good = array[np.isfinite(array)]
    if good.size == 0:
        raise OutOfRange(
            f"none of {array.size} draws carries a number.",
            where="quantiles",
            next_step="Look at the outcomes of the draws; the nail may not fit at all.",
        )
    return Quantiles(
        probability=probability,
        value=tuple(float(x) for x in np.quantile(good, probability)),
        mean=float(good.mean()),
        sd=float(good.std()),
        without_number=1.0 - good.size / array.size,
    )
