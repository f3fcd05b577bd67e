"""Uncertainty of anything computed from a view.

Three independent causes are carried: the marking of each landmark coordinate, the scale of the film
(common to all points), and, for films laid over each other, how well the two were joined. The linear
rule is used: the variance is the sum of (derivative × standard uncertainty)², derivatives by central
differences. `drawn` gives the same causes as random copies, for what is not linear.
"""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from limbwright.limb.landmark import Landmark
from limbwright.limb.view import View
from limbwright.quantity import Measured, Value

_STEP_MM = 1e-3
_STEP_RELATIVE = 1e-5
_STEP_DEG = 1e-4

Quantity = Callable[[View], float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensitivity(Value):
    """How much a result changes when one landmark moves."""

    landmark: Landmark
    """The landmark."""
    per_across_mm: float
    """Change of the result for 1 mm across [unit of the result / mm]."""
    per_proximal_mm: float
    """Change of the result for 1 mm proximal [unit of the result / mm]."""


def sensitivities(
    view: View, quantity: Quantity, *, landmarks: Iterable[Landmark] | None = None
) -> tuple[Sensitivity, ...]:
    """Derivatives of a result with respect to the landmarks (all of the view unless some are named)."""

    def slope(landmark: Landmark, across: float, proximal: float) -> float:
        up = quantity(view.moved(landmark, across_mm=across, proximal_mm=proximal))
        down = quantity(view.moved(landmark, across_mm=-across, proximal_mm=-proximal))
        return (up - down) / (2 * _STEP_MM)

    return tuple(
        Sensitivity(
            landmark=landmark,
            per_across_mm=slope(landmark, _STEP_MM, 0.0),
            per_proximal_mm=slope(landmark, 0.0, _STEP_MM),
        )
        for landmark in (view.spots if landmarks is None else landmarks)
    )


def linear_sd(view: View, quantity: Quantity, *, landmarks: Iterable[Landmark] | None = None) -> float:
    """Standard uncertainty of a scalar function of a view [unit of the function].

    Parameters
    ----------
    view : View
    quantity : callable
        Takes a view, returns a number.
    landmarks : iterable of Landmark, optional
        The landmarks `quantity` reads; all of the view unless given. Naming them saves time only.
    """
    variance = sum(
        ((s.per_across_mm**2 + s.per_proximal_mm**2) * view.spots[s.landmark].sd_mm ** 2)
        for s in sensitivities(view, quantity, landmarks=landmarks)
    )
    if view.scaled and view.scale_relative_sd > 0:
        slope = quantity(view.rescaled(1 + _STEP_RELATIVE)) - quantity(view.rescaled(1 - _STEP_RELATIVE))
        variance += (slope / (2 * _STEP_RELATIVE) * view.scale_relative_sd) ** 2
    for join in view.joins:
        turn = quantity(view.refitted(join, rotation_deg=_STEP_DEG)) - quantity(
            view.refitted(join, rotation_deg=-_STEP_DEG)
        )
        across = quantity(view.refitted(join, across_mm=_STEP_MM)) - quantity(
            view.refitted(join, across_mm=-_STEP_MM)
        )
        proximal = quantity(view.refitted(join, proximal_mm=_STEP_MM)) - quantity(
            view.refitted(join, proximal_mm=-_STEP_MM)
        )
        variance += (turn / (2 * _STEP_DEG) * join.rotation_sd_deg) ** 2
        variance += ((across**2 + proximal**2) / (2 * _STEP_MM) ** 2) * join.shift_sd_mm**2
    return math.sqrt(variance)


def measured(
    view: View, quantity: Quantity, *, unit: str, landmarks: Iterable[Landmark] | None = None
) -> Measured:
    """A scalar function of a view with its standard uncertainty."""
    return Measured(value=quantity(view), sd=linear_sd(view, quantity, landmarks=landmarks), unit=unit)


def drawn(view: View, *, rng: np.random.Generator) -> View:
    """A random copy of a view: landmarks, scale and joins moved by their own uncertainties (normal)."""
    spots = {
        landmark: replace(
            spot,
            across_mm=spot.across_mm + spot.sd_mm * float(rng.standard_normal()),
            proximal_mm=spot.proximal_mm + spot.sd_mm * float(rng.standard_normal()),
        )
        for landmark, spot in view.spots.items()
    }
    copy = replace(view, spots=spots)
    for join in view.joins:
        turn, across, proximal = (float(x) for x in rng.standard_normal(3))
        copy = copy.refitted(
            join,
            rotation_deg=turn * join.rotation_sd_deg,
            across_mm=across * join.shift_sd_mm,
            proximal_mm=proximal * join.shift_sd_mm,
        )
    if view.scaled and view.scale_relative_sd > 0:
        copy = copy.rescaled(1.0 + view.scale_relative_sd * float(rng.standard_normal()))
    return copy
