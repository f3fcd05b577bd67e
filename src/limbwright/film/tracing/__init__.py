"""Cortices of a shaft from a few rough clicks: pure functions of grey values, spacing and clicks.

`trace_shaft` finds outer and inner walls; `shaft_line`, `isthmus`, `width_curve` and `canal_centre_line_px`
read them; `film_walls`, `walls_with` and `shaft_marks` turn them into what a case keeps.
"""

from limbwright.film.tracing.canal import (
    Isthmus,
    ShaftLine,
    WidthCurve,
    canal_centre_line_px,
    canal_centre_sd_mm,
    isthmus,
    shaft_line,
    width_curve,
)
from limbwright.film.tracing.case_walls import borders, film_walls, shaft_marks, walls_with
from limbwright.film.tracing.film_plate import FilmPlate, film_plate
from limbwright.film.tracing.plate import Plate
from limbwright.film.tracing.shaft import NailEdges, Pin, ShaftTrace, trace_shaft
from limbwright.film.tracing.wall import EdgeTrace

__all__ = [
    "EdgeTrace",
    "FilmPlate",
    "Isthmus",
    "NailEdges",
    "Pin",
    "Plate",
    "ShaftLine",
    "ShaftTrace",
    "WidthCurve",
    "borders",
    "canal_centre_line_px",
    "canal_centre_sd_mm",
    "film_plate",
    "film_walls",
    "isthmus",
    "shaft_line",
    "shaft_marks",
    "trace_shaft",
    "walls_with",
    "width_curve",
]
