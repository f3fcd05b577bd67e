"""Both cortices of a shaft from rough clicks and pins, as a page shows them and a case keeps them."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbwright.error import Missing, OutOfRange, Refused
from limbwright.film.film import FilmWall
from limbwright.film.tracing import (
    EdgeTrace,
    Pin,
    ShaftTrace,
    borders,
    canal_centre_line_px,
    film_walls,
    isthmus,
    shaft_line,
    trace_shaft,
    walls_with,
    width_curve,
)
from limbwright.finding import Finding
from limbwright.limb.view import Border, Surface
from limbwright.web.assist.asked import Trace
from limbwright.web.assist.opened import OpenedFilm, record_plain
from limbwright.web.assist.proposal import POOR_SUPPORT, findings_plain
from limbwright.web.failure import said

LONGEST_MM = 700.0
"""No bone is longer; it bounds time and memory of a trace. [mm]"""
WIDTHS_EVERY_MM = 5


def trace_answer(film: OpenedFilm, asked: Trace) -> dict[str, Any]:
    """Walls, middle line, canal and isthmus; a refusal in words where the film shows no shaft.

    Raises
    ------
    OutOfRange
        When a click or pin lies outside the film, or the clicks lie farther apart than any bone is long.
    """
    plate = film.bone.plate
    clicks = tuple(asked.clicks_px)
    plate.require_on_film((*clicks, *((p.x_px, p.y_px) for p in asked.pins)))
    _require_length(film, clicks)
    sides = borders(film.film, asked.side)
    pins = tuple(_pin(film, asked, index, sides) for index in range(len(asked.pins)))
    head = {"bone": asked.bone.value, "side": asked.side.value}
    try:
        trace = trace_shaft(plate, clicks, blur_mm=asked.blur_mm, pins=pins)
        walls = film_walls(trace, film.film, side=asked.side, bone=asked.bone, pins=pins)
    except (Refused, Missing) as refusal:
        return {**head, **_NOTHING, "findings": findings_plain(film.bone.findings), "refused": said(refusal)}
    narrow, narrow_refused, narrow_findings = _isthmus(film, trace)
    return {
        **head,
        "support": round(trace.support, 3),
        "poor": trace.support < POOR_SUPPORT,
        "nail_in_canal": trace.nail is not None,
        "length_mm": _mm(film, float(trace.depth_mm[-1] - trace.depth_mm[0])),
        "edges": [
            {
                "surface": surface.value,
                "border": border.value,
                **_edge_plain(film, trace, edge),
                "pinned": any(w.pins for w in walls if (w.surface, w.border) == (surface, border)),
            }
            for surface in Surface
            for border, edge in zip(sides, trace.edge(surface), strict=True)
        ],
        **_walls_plain(film, walls),
        "mid_line_px": _middle_px(trace, trace.outer),
        "canal_line_px": _points_plain(canal_centre_line_px(trace)),
        "line": _line_plain(film, trace),
        "isthmus": narrow,
        "isthmus_refused": narrow_refused,
        "widths": _widths_plain(film, trace),
        "findings": findings_plain((*film.bone.findings, *narrow_findings)),
        "refused": None,
    }


_NOTHING: dict[str, Any] = {
    "support": None,
    "poor": False,
    "nail_in_canal": False,
    "length_mm": None,
    "edges": [],
    "walls": [],
    "film_walls": None,
    "mid_line_px": [],
    "canal_line_px": [],
    "line": None,
    "isthmus": None,
    "isthmus_refused": None,
    "widths": [],
}


def _require_length(film: OpenedFilm, clicks: tuple[tuple[float, float], ...]) -> None:
    plate = film.bone.plate
    points = plate.mm(np.array(clicks))
    length_mm = float(np.hypot(*np.diff(points, axis=0).T).sum())
    if length_mm > LONGEST_MM:
        raise OutOfRange(
            f"the clicks span {length_mm:.0f} mm, expected at most {LONGEST_MM:g} mm.",
            where="clicks_px",
            next_step="Click along one bone; check the scale of the film.",
        )


def _pin(film: OpenedFilm, asked: Trace, index: int, sides: tuple[Border, Border]) -> Pin:
    pin = asked.pins[index]
    if pin.border not in sides:
        raise OutOfRange(
            f"a pin on the {pin.border} wall, expected {sides[0]} or {sides[1]} on a "
            f"{film.film.projection} film.",
            where=f"pins[{index}].border",
            next_step="Name the wall that this film shows.",
        )
    return Pin(x_px=pin.x_px, y_px=pin.y_px, surface=pin.surface, viewer_left=pin.border is sides[0])


def _mm(film: OpenedFilm, value: float, digits: int = 2) -> float | None:
    """A length in the plane of the bone; None while the film has no scale."""
    return None if film.mm_per_px is None or not math.isfinite(value) else round(value, digits)


def _points_plain(points: NDArray[np.float64]) -> list[list[float]]:
    return [[round(float(x), 2), round(float(y), 2)] for x, y in points]


def _edge_plain(film: OpenedFilm, trace: ShaftTrace, edge: EdgeTrace) -> dict[str, Any]:
    sd_mm = float(np.nanmedian(edge.sd_mm)) if edge.found.any() else math.nan
    return {
        "points_px": _points_plain(trace.points_px(edge)),
        "sd_px": round(sd_mm / trace.column_mm, 3) if math.isfinite(sd_mm) else None,
        "sd_mm": _mm(film, sd_mm, 3),
        "found_percent": round(100 * edge.share_found, 1),
        "not_found": [
            {
                "from_mm": _mm(film, low, 1),
                "to_mm": _mm(film, high, 1),
                "points_px": _on_guide(trace, (low, high)),
            }
            for low, high in trace.not_found(edge)
        ],
    }


def _on_guide(trace: ShaftTrace, depths_mm: tuple[float, ...]) -> list[list[float]]:
    """Points of the bone's rough middle line at some depths. [px]"""
    x, y = trace.guide.at(np.array(depths_mm), np.zeros(len(depths_mm)))
    return _points_plain(np.stack([x / trace.column_mm, y / trace.row_mm], axis=1))


def _middle_px(trace: ShaftTrace, edges: tuple[EdgeTrace, EdgeTrace]) -> list[list[float]]:
    both = edges[0].found & edges[1].found
    x, y = trace.guide.at(trace.depth_mm[both], 0.5 * (edges[0].offset_mm[both] + edges[1].offset_mm[both]))
    return _points_plain(np.stack([x / trace.column_mm, y / trace.row_mm], axis=1))


def _walls_plain(film: OpenedFilm, walls: tuple[FilmWall, ...]) -> dict[str, Any]:
    """The traced walls, and all walls of the film with them, as a case document has them."""
    rounded = tuple(
        replace(
            wall,
            x_px=tuple(round(x, 2) for x in wall.x_px),
            y_px=tuple(round(y, 2) for y in wall.y_px),
            sd_px=round(wall.sd_px, 4),
        )
        for wall in walls
    )
    whole = walls_with(film.film.walls, rounded)
    return {
        "walls": record_plain(replace(film.film, walls=rounded))["walls"],
        "film_walls": record_plain(replace(film.film, walls=whole))["walls"],
    }


def _line_plain(film: OpenedFilm, trace: ShaftTrace) -> dict[str, Any] | None:
    try:
        line = shaft_line(trace)
    except Refused:
        return None
    return {
        "upper_px": [round(v, 2) for v in line.upper_px],
        "lower_px": [round(v, 2) for v in line.lower_px],
        "direction_deg": round(line.direction_deg, 3),
        "direction_sd_deg": round(line.direction_sd_deg, 3),
        "bow_mm": _mm(film, line.bow_mm),
        "length_mm": _mm(film, line.length_mm),
    }


def _isthmus(
    film: OpenedFilm, trace: ShaftTrace
) -> tuple[dict[str, Any] | None, dict[str, str] | None, tuple[Finding, ...]]:
    """The narrowest place of the canal, or why none is given; and what weakens it."""
    if film.mm_per_px is None:
        reason = Missing(
            "the film has no scale.",
            where="isthmus of the canal",
            next_step="Calibrate the film by a ball, a ruler or a nail, then trace again.",
        )
        return None, said(reason), ()
    try:
        found = isthmus(trace)
    except Refused as refusal:
        return None, said(refusal), ()
    spread = 1.96 * found.width.sd
    plain = {
        "x_px": round(found.x_px, 2),
        "y_px": round(found.y_px, 2),
        "width": {
            "mm": round(found.width.value, 2),
            "sd_mm": round(found.width.sd, 3),
            "low_mm": round(found.width.value - spread, 2),
            "high_mm": round(found.width.value + spread, 2),
        },
        "depth_mm": round(found.depth_mm, 1),
        "depth_interval_mm": [round(v, 1) for v in found.depth_interval_mm],
        "interval_px": _on_guide(trace, found.depth_interval_mm),
    }
    return plain, None, found.findings


def _widths_plain(film: OpenedFilm, trace: ShaftTrace) -> list[dict[str, Any]]:
    bone, canal = width_curve(trace, trace.outer), width_curve(trace, trace.inner)
    rows = range(0, len(trace.depth_mm), WIDTHS_EVERY_MM)
    places = _on_guide(trace, tuple(float(trace.depth_mm[row]) for row in rows))
    return [
        {
            "depth_mm": _mm(film, float(trace.depth_mm[row]), 1),
            "x_px": place[0],
            "y_px": place[1],
            "bone_mm": _mm(film, float(bone.width_mm[row])),
            "canal_mm": _mm(film, float(canal.width_mm[row])),
        }
        for row, place in zip(rows, places, strict=True)
    ]
