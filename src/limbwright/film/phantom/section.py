"""Shaft sections between the given levels, and the levels where landmarks lie."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from limbwright.film.phantom.leg import ShaftSection

Floats = NDArray[np.float64]
Pair = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShaftLevels:
    """Levels (fraction of the length from proximal) of the mid-shaft points of an undeformed bone."""

    proximal: Pair
    middle: Pair
    distal: Pair


FEMUR_LEVELS = ShaftLevels(proximal=(0.22, 0.38), middle=(0.42, 0.58), distal=(0.62, 0.78))
TIBIA_LEVELS = ShaftLevels(proximal=(0.24, 0.40), middle=(0.42, 0.58), distal=(0.62, 0.82))
CLEAR = 0.035
"""Distance of a mid-shaft point from a bend or a cut, as a fraction of the length."""
SHORTEST = 0.06
"""Shortest piece of shaft that carries a pair of mid-shaft points, as a fraction of the length."""


def shaft_pairs(levels: ShaftLevels, breaks: tuple[float, ...]) -> dict[str, Pair]:
    """Levels of the upper and lower point of each pair such that no pair spans a bend or a cut.

    A fragment whose shaft is too short for a pair has none, as on a film.
    """
    if not breaks:
        return {"proximal": levels.proximal, "middle": levels.middle, "distal": levels.distal}
    top, bottom = levels.proximal[0], levels.distal[1]
    limits = [top, *sorted(breaks), bottom]
    pieces = [
        (upper + (CLEAR if i > 0 else 0.0), lower - (CLEAR if i < len(limits) - 2 else 0.0))
        for i, (upper, lower) in enumerate(pairwise(limits))
    ]
    pairs: dict[str, Pair] = {}
    if pieces[0][1] - pieces[0][0] >= SHORTEST:
        pairs["proximal"] = pieces[0]
    if pieces[-1][1] - pieces[-1][0] >= SHORTEST:
        pairs["distal"] = pieces[-1]
    between = pieces[1:-1]
    if between:
        longest = max(between, key=lambda piece: piece[1] - piece[0])
        if longest[1] - longest[0] >= SHORTEST:
            pairs["middle"] = longest
    else:
        # One bend: the middle pair lies on the longer of the two straight pieces, next to the bend.
        upper, lower = max(pieces, key=lambda piece: piece[1] - piece[0])
        half = 0.5 * (upper + lower)
        pairs["middle"] = (half, lower) if (upper, lower) == pieces[0] else (upper, half)
    return pairs


def profile(
    *,
    sections: tuple[ShaftSection, ...],
    length_mm: float,
    top_mm: float,
    width: float,
    lower: list[tuple[float, float, float, float, float]],
    upper: list[tuple[float, float, float, float, float]],
) -> tuple[Floats, Floats]:
    """Half widths of outer and inner wall along a bone, smooth through all given levels.

    Parameters
    ----------
    sections : tuple of ShaftSection
        The shaft. Levels become heights `top_mm - level * length_mm`.
    length_mm, top_mm : float
        Length of the bone and height of its level 0. [mm]
    width : float
        Factor on the half widths of `lower` and `upper`.
    lower, upper : list of rows
        Height [mm], then half widths outer x, outer z, inner x, inner z, before the factor. Rows that would
        come too close to the shaft's own levels are left out, so that short bones stay smooth.

    Returns
    -------
    y_mm : (n,) float64
        Heights, rising. [mm]
    half_widths : (4, n) float64
        Outer x, outer z, inner x, inner z. [mm]
    """
    from scipy.interpolate import PchipInterpolator

    shaft = [
        (
            top_mm - part.level * length_mm,
            part.outer_anteroposterior_mm / 2,
            part.outer_mediolateral_mm / 2,
            part.canal_anteroposterior_mm / 2,
            part.canal_mediolateral_mm / 2,
        )
        for part in sections
    ]
    low, high = min(row[0] for row in shaft), max(row[0] for row in shaft)
    scaled = [(row[0], *(width * half for half in row[1:])) for row in (*lower, *upper)]
    ends = [row for row in scaled if row[0] < low - 6.0 * width or row[0] > high + 6.0 * width]
    rows = np.array(sorted([*ends, *shaft]))
    y = np.linspace(rows[0, 0], rows[-1, 0], max(64, round(rows[-1, 0] - rows[0, 0])))
    return y, np.asarray(PchipInterpolator(rows[:, 0], rows[:, 1:])(y).T)
