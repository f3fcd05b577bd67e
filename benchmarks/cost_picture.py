"""A picture of how cost grows, for the docs."""

import math
from collections.abc import Mapping, Sequence
from pathlib import Path

from limbwright.report import svg

IMAGES = Path(__file__).parent.parent / "docs" / "images"
COLOURS = ("#16706d", "#a06a10", "#3b4a7a")


def cost_picture(measured: Mapping[str, Sequence[tuple[float, float]]], *, counted: str) -> bytes:
    """Seconds against count, both logarithmic; the dotted line beside each curve is cost in proportion.

    Parameters
    ----------
    measured : mapping
        Name of each curve to its pairs of count and seconds, by growing count; at most three curves.
    counted : str
        What is counted, in words.
    """
    width, height, left, top, right, bottom = 640.0, 360.0, 56.0, 20.0, 200.0, 44.0
    every = [p for points in measured.values() for p in points]
    x0, x1 = math.log10(min(n for n, _ in every)), math.log10(max(n for n, _ in every))
    y0, y1 = math.floor(math.log10(min(t for _, t in every))), math.ceil(math.log10(max(t for _, t in every)))

    def at(n: float, t: float) -> tuple[float, float]:
        return (
            left + (width - left - right) * (math.log10(n) - x0) / (x1 - x0),
            top + (height - top - bottom) * (y1 - math.log10(t)) / (y1 - y0),
        )

    ticks = [10**x0 * (10 ** (x1 - x0)) ** (k / 5) for k in range(6)]
    drawn = [svg.box(x=0, y=0, width=width, height=height, fill="#ffffff")]
    ends: list[tuple[float, str, str]] = []
    for power in range(y0, y1 + 1):
        y = at(10**x0, 10.0**power)[1]
        drawn.append(svg.line([(left, y), (width - right, y)], stroke="#d5d8dd", stroke_width=0.8))
        drawn.append(svg.words(left - 6, y + 4, f"{10.0**power:g} s", font_size=12, text_anchor="end"))
    for n in ticks:
        x = at(n, 1.0)[0]
        drawn.append(svg.line([(x, top), (x, height - bottom)], stroke="#eceef1", stroke_width=0.8))
        drawn.append(svg.words(x, height - bottom + 16, f"{n:,.0f}", font_size=12, text_anchor="middle"))
    drawn.append(svg.words(left, height - 8, f"{counted}; processor time, one core", font_size=12))
    for colour, (name, points) in zip(COLOURS, measured.items(), strict=False):
        n, t = points[-1]
        ideal = [at(m, t * m / n) for m, _ in points]
        drawn.append(svg.line(ideal, stroke="#8a8f98", stroke_width=1.0, stroke_dasharray="2 3"))
        drawn.append(svg.line([at(*p) for p in points], stroke=colour, stroke_width=2.0))
        drawn += [svg.circle(*at(*p), 3.0, fill=colour) for p in points]
        ends.append((at(*points[-1])[1], name, colour))
    free = top
    for y, name, colour in sorted(ends):
        free = max(free + 16.0, y + 4.0)
        drawn.append(svg.words(width - right + 8, free, name, font_size=12, fill=colour))
    drawn.append(svg.words(width - right + 8, height - 8, "dotted: cost in proportion", font_size=12))
    return svg.document(width, height, drawn)
