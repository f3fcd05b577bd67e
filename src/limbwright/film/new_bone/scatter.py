"""Scattered light behind a limb: it thins dense bone more than new bone."""

import numpy as np

from limbwright.film.reading.development import Development
from limbwright.film.tracing.plate import Floats, Plate, Point

USUAL_SHARE = (0.10, 0.03)
"""Scatter, after the grid, behind what lets half the light through, over a quarter of the open field's light,
and its standard uncertainty; engineering judgement."""
REACH_MM = 45.0
"""Standard deviation of the spread of scattered light at the detector; engineering judgement. [mm]"""
LEAST_LIGHT = 0.25
"""Share of the light behind a place that is left to it at least."""


def scattered_light(plate: Plate, at_px: Point, development: Development) -> float:
    """Scattered light about a place for a share of 1, in open fields.

    Scatter is made where the beam is weakened but not used up, p (1 - p) of it, and spreads over some
    centimetres: behind a limb it is nearly even over a gap in a bone.
    """
    grey, first_x, first_y = plate.window(at_px, 2.0 * REACH_MM)
    every = max(1, round(2.0 / plate.pixel_mm))
    grey = grey[::every, ::every]
    light = np.clip(np.exp(-development.attenuation(grey)), 0.0, 1.0)
    column = (first_x + every * np.arange(grey.shape[1]) - at_px[0]) * plate.column_mm
    row = (first_y + every * np.arange(grey.shape[0]) - at_px[1]) * plate.row_mm
    weight = np.exp(-0.5 * (row[:, None] ** 2 + column[None, :] ** 2) / REACH_MM**2)
    return float((weight * light * (1.0 - light)).sum() / weight.sum())


def without_scatter(attenuation: Floats, scattered: float) -> Floats:
    """Attenuation of the straight beam alone; as given where there is no scatter, whatever its unit."""
    if scattered == 0.0:
        return attenuation
    light = np.exp(-attenuation)
    return np.asarray(-np.log(np.maximum(light - scattered, LEAST_LIGHT * light)))
