"""Figures of a forecast: angulation against length with bands, and the nail in its canal at three moments.

Told apart by line style and word, not by colour alone: with the planned screws solid, without dashed.
"""

import math
from collections.abc import Callable

from limbwright.mechanics import Plane
from limbwright.plan.forecast.drift_course import BoneForecast, CourseOfDrift
from limbwright.plan.forecast.forecast_finding import SENSES, said_deg
from limbwright.plan.forecast.picture import ContactPanel, contact_panels
from limbwright.report import svg

INK, QUIET, PLANNED, BARE, BAND = "#1c2430", "#8a8f98", "#16706d", "#a06a10", "#cfe6e4"
BONE, METAL, SCREW = "#8a7a5c", "#c8cdd4", "#1c2430"
TYPE = 8.0
ARROW = 11.0
ACROSS = 4.0  # offsets are drawn so many times too large: a gap of a millimetre must show
LEAST_SPAN_DEG = 4.0
_STEPS_MM = (5.0, 10.0, 20.0)


def angulation_figure(
    made: BoneForecast, *, limit_deg: float, width: float = 480.0, height: float = 210.0
) -> bytes:
    """Angulation against length gained in both planes, with bands, with and without the planned screws.

    Parameters
    ----------
    made : BoneForecast
        Forecast of one bone.
    limit_deg : float
        Drift limit of the practice, drawn in both directions.
    width, height : float
        Size of the figure in its own units; type is 8 of them.

    Returns
    -------
    bytes
        An SVG document.
    """
    half = width / 2
    content = [
        svg.group(
            _plot(made, plane, limit_deg=limit_deg, width=half, height=height),
            transform=f"translate({i * half:g} 0)",
        )
        for i, plane in enumerate(Plane)
    ]
    return svg.document(width, height, content)


def _plot(made: BoneForecast, plane: Plane, *, limit_deg: float, width: float, height: float) -> list[str]:
    left, right, top, bottom = 34.0, 8.0, 30.0, 30.0
    courses = [made.planned] + ([made.bare] if made.bare is not None else [])
    values = [0.0, limit_deg * 1.1, -limit_deg * 1.1]
    for course in courses:
        for m in course.moments:
            found = m.in_plane(plane)
            if found.angulation_deg is not None:
                values.append(found.angulation_deg)
            values += [x for b in (found.band, found.play) if b is not None for x in (b.low, b.high)]
    low, high = min(values), max(values)
    span = max(high - low, LEAST_SPAN_DEG)
    longest = made.planned.end.lengthening_mm

    def x(gained: float) -> float:
        return left + (width - left - right) * gained / longest

    def y(deg: float) -> float:
        return top + (height - top - bottom) * (high - deg) / span

    toward, away = SENSES[plane]
    drawn = [
        svg.words(
            left,
            12,
            f"{plane.value.capitalize()} plane: {toward} up, {away} down",
            font_size=TYPE + 1,
            fill=INK,
        ),
        *_axes(x, y, (low, high, span), longest=longest, limit_deg=limit_deg),
        *_course(made.planned, plane, x, y, colour=PLANNED, banded=True),
    ]
    if made.bare is not None:
        drawn += _course(made.bare, plane, x, y, colour=BARE, banded=False)
    key = [("solid, band of nine in ten: as planned", PLANNED)]
    if made.bare is not None:
        key.append(("dashed: without blocking screws", BARE))
    drawn += [
        svg.words(left + i * (width - left) * 0.56, 23, text, font_size=TYPE - 1.5, fill=colour)
        for i, (text, colour) in enumerate(key)
    ]
    return drawn


def _axes(
    x: Callable[[float], float],
    y: Callable[[float], float],
    scale: tuple[float, float, float],
    *,
    longest: float,
    limit_deg: float,
) -> list[str]:
    low, high, span = scale
    step = 1 if span <= 9 else 2
    drawn = []
    for deg in range(int(low) - 1, int(high) + 2):
        if deg % step or not low - 1e-9 <= deg <= high + 1e-9:
            continue
        drawn.append(
            svg.line(
                [(x(0), y(deg)), (x(longest), y(deg))], stroke=QUIET, stroke_width=1.0 if deg == 0 else 0.25
            )
        )
        drawn.append(
            svg.words(x(0) - 4, y(deg) + 3, f"{abs(deg)}°", font_size=TYPE, fill=INK, text_anchor="end")
        )
    for side in (1, -1):
        level = y(side * limit_deg)
        drawn.append(
            svg.line(
                [(x(0), level), (x(longest), level)], stroke=INK, stroke_width=0.7, stroke_dasharray="1 3"
            )
        )
    drawn.append(
        svg.words(
            x(longest),
            y(limit_deg) - 2,
            f"limit {limit_deg:g}°",
            font_size=TYPE - 1,
            fill=INK,
            text_anchor="end",
        )
    )
    every = next((s for s in _STEPS_MM if longest / s <= 8), _STEPS_MM[-1])
    for i in range(int(longest / every) + 1):
        drawn.append(
            svg.words(
                x(i * every),
                y(high - span) + 12,
                f"{i * every:g}",
                font_size=TYPE,
                fill=INK,
                text_anchor="middle",
            )
        )
    drawn.append(
        svg.words(
            x(longest / 2), y(high - span) + 23, "mm gained", font_size=TYPE, fill=INK, text_anchor="middle"
        )
    )
    return drawn


def _course(
    course: CourseOfDrift,
    plane: Plane,
    x: Callable[[float], float],
    y: Callable[[float], float],
    *,
    colour: str,
    banded: bool,
) -> list[str]:
    drawn = []
    banded_moments = [
        (m.lengthening_mm, b)
        for m in course.moments
        if (b := m.in_plane(plane).band or m.in_plane(plane).play)
    ]
    if banded and banded_moments:
        outline = [(x(g), y(b.high)) for g, b in banded_moments]
        outline += [(x(g), y(b.low)) for g, b in reversed(banded_moments)]
        drawn.append(svg.area(outline, fill=BAND, stroke="none"))
    known = [
        (x(m.lengthening_mm), y(a))
        for m in course.moments
        if (a := m.in_plane(plane).angulation_deg) is not None
    ]
    if known:
        dash = "none" if banded else "5 3"
        drawn.append(svg.line(known, stroke=colour, stroke_width=1.6, stroke_dasharray=dash))
    return drawn


def contact_figure(made: BoneForecast, *, width: float = 480.0, height: float = 330.0) -> bytes:
    """The nail in its canal at the first millimetre, half way and at full length, in both planes.

    Offsets are drawn up to four times too large; arrows are forces on the nail. Both planes are solved
    together.

    Returns
    -------
    bytes
        An SVG document.
    """
    panels = contact_panels(made)
    if not panels:
        told = "No picture of the contacts: no moment of the course has an answer."
        return svg.document(width, 24.0, [svg.words(4, 15, told, font_size=TYPE, fill=INK)])
    each = width / len(panels)
    deepest = max(z for p in panels for _x, z in p.nail)
    scale = (height - 54.0) / deepest
    widest = max(abs(x) for p in panels for line in (*p.walls, p.nail) for x, z in line)
    across = min(ACROSS * scale, (each / 2 - 6.0) / widest)
    drawn = [
        svg.group(
            _contacts(p, each=each, scale=scale, across=across), transform=f"translate({i * each:g} 36)"
        )
        for i, p in enumerate(panels)
    ]
    told = (
        f"offsets drawn {across / scale:.1f} times too large; both planes solved together; "
        "arrows: force on the nail"
    )
    drawn.append(svg.words(4, height - 3, told, font_size=TYPE - 1, fill=INK))
    return svg.document(width, height, drawn)


def _contacts(panel: ContactPanel, *, each: float, scale: float, across: float) -> list[str]:
    middle = each / 2

    def at(x: float, z: float) -> tuple[float, float]:
        return middle + across * x, scale * z

    sides = ("medial", "lateral") if panel.plane is Plane.FRONTAL else ("posterior", "anterior")
    head = f"{panel.plane.value}, {panel.lengthening_mm:.0f} mm"
    drawn = [
        svg.words(middle, -26, head, font_size=TYPE, fill=INK, text_anchor="middle"),
        svg.words(
            middle,
            -16,
            said_deg(panel.angulation_deg, panel.plane),
            font_size=TYPE - 1,
            fill=INK,
            text_anchor="middle",
        ),
        svg.words(2, -6, sides[0], font_size=TYPE - 2, fill=QUIET),
        svg.words(each - 2, -6, sides[1], font_size=TYPE - 2, fill=QUIET, text_anchor="end"),
        svg.area([at(*p) for p in panel.nail], fill=METAL, stroke=INK, stroke_width=0.4),
    ]
    drawn += [svg.line([at(*p) for p in wall], stroke=BONE, stroke_width=1.2) for wall in panel.walls]
    for x, z, diameter in panel.screws:
        cx, cy = at(x, z)
        drawn.append(
            svg.circle(cx, cy, max(scale * diameter / 2, 2.0), fill="none", stroke=SCREW, stroke_width=1.0)
        )
    for contact in panel.contacts:
        tip = at(contact.across_mm, contact.depth_mm)
        sign = 1.0 if contact.force_n > 0 else -1.0
        drawn.append(svg.line([(tip[0] - sign * ARROW, tip[1]), tip], stroke=INK, stroke_width=0.8))
        drawn.append(
            svg.area([tip, (tip[0] - sign * 3.5, tip[1] - 2), (tip[0] - sign * 3.5, tip[1] + 2)], fill=INK)
        )
    return drawn + _forces(panel, at, each)


def _forces(panel: ContactPanel, at: Callable[[float, float], tuple[float, float]], each: float) -> list[str]:
    """The force of every arrow behind its tail; those of one side that would lie on each other moved down."""
    drawn = []
    for sign in (1.0, -1.0):
        last = -math.inf
        for contact in sorted(panel.contacts, key=lambda c: c.depth_mm):
            if contact.force_n * sign <= 0:
                continue
            x, y = at(contact.across_mm, contact.depth_mm)
            last = max(y - 2.5, last + TYPE - 2)
            for stroke, halo in (("#ffffff", 2.0), ("none", 0.0)):  # a halo, then the letters
                drawn.append(
                    svg.words(
                        min(max(x - sign * ARROW, 13.0), each - 13.0),
                        last,
                        f"{abs(contact.force_n):.0f} N",
                        font_size=TYPE - 2,
                        fill=INK,
                        text_anchor="middle",
                        stroke=stroke,
                        stroke_width=halo,
                    )
                )
    return drawn
