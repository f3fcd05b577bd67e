"""First-order and total Sobol indices of a vectorised model: which uncertain input matters most."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbwright.error import OutOfRange
from limbwright.mechanics.sampling import Spread, unit_draws
from limbwright.quantity import Value

Reals = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class SobolIndices(Value):
    """Shares of the variance of a result."""

    name: tuple[str, ...]
    """Inputs."""
    first_order: tuple[float, ...]
    """Share each input explains alone."""
    total: tuple[float, ...]
    """Share that would go if the input were known, with all its interactions."""
    variance: float
    """Variance of the result."""
    evaluations: int
    """Model evaluations spent."""


def sobol_indices(
    model: Callable[[Reals], Reals], spreads: tuple[Spread, ...], *, count: int, seed: int
) -> SobolIndices:
    """Estimate first-order and total Sobol indices.

    Parameters
    ----------
    model : callable
        Takes inputs (n, d), columns in the order of `spreads`, and returns (n,); called once.
    spreads : tuple of Spread
        Independent inputs.
    count : int
        Base draws, best a power of two; the model is evaluated count (d + 2) times.
    seed : int
        Seed of the scrambling.

    Returns
    -------
    SobolIndices
        Estimates; small negative first-order values are noise of the estimate.

    Raises
    ------
    OutOfRange
        If the model returns something that is not a number, or a constant.

    References
    ----------
    Saltelli et al. 2010, Variance based sensitivity analysis of model output, Comput Phys Commun 181:259
    (first-order estimator, from memory). Jansen 1999, Analysis of variance designs for model output, Comput
    Phys Commun 117:35 (total estimator, from memory).
    """
    d = len(spreads)
    unit = unit_draws(dimensions=2 * d, count=count, seed=seed)
    a = np.column_stack([s.value_at(unit[:, i]) for i, s in enumerate(spreads)])
    b = np.column_stack([s.value_at(unit[:, d + i]) for i, s in enumerate(spreads)])
    blocks = [a, b]
    for i in range(d):
        mixed = a.copy()
        mixed[:, i] = b[:, i]
        blocks.append(mixed)
    y = np.asarray(model(np.concatenate(blocks)), dtype=np.float64).reshape(d + 2, count)
    variance = float(np.var(y[:2]))
    if not np.isfinite(y).all() or variance <= 0.0:
        raise OutOfRange(
            f"{int(np.sum(~np.isfinite(y)))} of {y.size} draws carry no number, variance {variance:g}.",
            where="sensitivity indices",
            next_step="Narrow the spreads until every draw has an answer, and vary an input that matters.",
        )
    y = y - y[:2].mean()
    first = [float(np.mean(y[1] * (y[2 + i] - y[0]))) / variance for i in range(d)]
    total = [float(0.5 * np.mean((y[0] - y[2 + i]) ** 2)) / variance for i in range(d)]
    return SobolIndices(
        name=tuple(s.name for s in spreads),
        first_order=tuple(first),
        total=tuple(total),
        variance=variance,
        evaluations=y.size,
    )
