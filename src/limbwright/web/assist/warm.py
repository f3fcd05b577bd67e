"""Loads what the first assisted reading would wait for, while nobody waits yet."""

import numpy as np

from limbwright.error import LimbwrightError
from limbwright.film.snap import find_head
from limbwright.film.tracing import Plate, trace_shaft


def warm_up() -> None:
    """Read a small drawn shaft: compiled kernels and libraries are loaded by it."""
    across = np.abs(np.arange(160.0) - 80.0) * 0.5
    tube = 2.0 * np.sqrt(np.clip(13.0**2 - across**2, 0.0, None))
    tube -= 2.0 * np.sqrt(np.clip(6.0**2 - across**2, 0.0, None))
    plate = Plate(grey=np.tile(100.0 * tube, (200, 1)), row_mm=0.5, column_mm=0.5)
    for read in (
        lambda: trace_shaft(plate, ((80.0, 10.0), (80.0, 190.0))),
        lambda: find_head(plate, (80.0, 100.0)),
    ):
        try:
            read()
        except LimbwrightError:  # what a drawing shows does not matter here
            continue
