"""Talus and foot. Ankle frame: origin at the ankle centre, x toward the toes, y up, z lateral, mm."""

import numpy as np

from limbwright.film.phantom.field import (
    Bar,
    Block,
    BoneField,
    Coordinates,
    Ellipsoid,
    Grid,
    smooth_max,
    without,
)
from limbwright.film.phantom.tibia import PLAFOND_RADIUS

GAP_MM = 3.0
"""Joint space of the ankle, for bone width 1; engineering judgement. [mm]"""


def talus_field(width: float, step_mm: float) -> BoneField:
    """Field of the talus."""
    field = BoneField(
        ((-36.0 * width, 52.0 * width), (-44.0 * width, 4.0), (-26.0 * width, 26.0 * width)), step_mm
    )
    radius = np.float32((PLAFOND_RADIUS - GAP_MM) * width)
    centre = np.float32(-PLAFOND_RADIUS * width)

    def dome(at: Coordinates) -> Grid:
        x, y, z = at
        # Wider in front than behind, as a real dome is.
        half = np.float32(14.5 * width) + np.float32(0.10) * x
        round_part = np.sqrt(x * x + (y - centre) ** 2) - radius
        sides = smooth_max(
            np.asarray(round_part, dtype=np.float32),
            np.asarray(np.abs(z) - half, dtype=np.float32),
            3.0 * width,
        )
        floor = np.asarray(np.float32(-26.0 * width) - y + 0.0 * z + 0.0 * x, dtype=np.float32)
        return smooth_max(sides, floor, 8.0 * width)

    field.add(dome, None, cortex_mm=1.3 * width)
    body = Ellipsoid((-2.0 * width, -22.0 * width, 0.0), (24.0 * width, 13.0 * width, 16.0 * width))
    neck = Bar(
        (12.0 * width, -18.0 * width, -2.0 * width),
        (28.0 * width, -22.0 * width, -6.0 * width),
        11.0 * width,
        11.5 * width,
    )
    head = Ellipsoid((32.0 * width, -23.5 * width, -8.0 * width), (11.0 * width, 12.0 * width, 14.5 * width))
    lateral = Bar(
        (0.0, -18.0 * width, 10.0 * width),
        (2.0 * width, -25.0 * width, 17.0 * width),
        8.0 * width,
        4.0 * width,
    )
    behind = Ellipsoid((-23.0 * width, -23.0 * width, -2.0 * width), (9.0 * width, 7.0 * width, 10.0 * width))
    for part in (body, neck, head, lateral, behind):
        field.add(part, part.box(14.0), cortex_mm=0.6 * width, blend_mm=9.0 * width)
    under = Ellipsoid((-6.0 * width, -44.0 * width, 3.0 * width), (24.0 * width, 12.0 * width, 40.0 * width))
    field.keep(without(under), under.box(), cortex_mm=1.2 * width, blend_mm=3.0 * width)
    return field


def hindfoot_field(width: float, step_mm: float) -> BoneField:
    """Field of the calcaneus."""
    field = BoneField(
        ((-64.0 * width, 46.0 * width), (-78.0 * width, -18.0 * width), (-30.0 * width, 32.0 * width)),
        step_mm,
    )

    def bar(start: tuple[float, ...], end: tuple[float, ...], first: float, last: float) -> Bar:
        at = [tuple(width * c for c in point) for point in (start, end)]
        return Bar(at[0], at[1], width * first, width * last, (1.0, 1.0, 1.18))  # type: ignore[arg-type] # three stay three

    parts = (
        bar((-40.0, -54.0, 1.0), (-6.0, -49.0, 5.0), 17.5, 14.5),
        bar((-6.0, -49.0, 5.0), (30.0, -46.0, 10.0), 14.5, 12.0),
        bar((-44.0, -60.0, 0.0), (-40.0, -46.0, 1.0), 13.0, 13.0),
        bar((-4.0, -40.0, 6.0), (4.0, -38.0, 6.0), 10.0, 8.0),
        bar((4.0, -39.0, -6.0), (8.0, -37.0, -15.0), 7.0, 5.5),
    )
    for part in parts:
        field.add(part, part.box(), cortex_mm=1.2 * width, blend_mm=7.0 * width)
    return field


RAYS = (
    # Start, middle and end of each metatarsal, then the tip of the toe; radii at those points.
    ((64, -36, -26), (92, -50, -27), (122, -65, -28), (164, -70, -24), 9.0, 6.5, 9.0),
    ((70, -33, -12), (98, -48, -12), (130, -66, -11), (164, -70, -9), 7.5, 4.2, 6.0),
    ((68, -34, 0), (95, -50, 2), (126, -66, 4), (158, -70, 6), 7.0, 4.0, 5.8),
    ((63, -38, 11), (90, -53, 14), (119, -67, 18), (149, -70, 20), 6.8, 4.0, 5.6),
    ((56, -46, 21), (82, -58, 26), (108, -68, 31), (134, -70, 33), 7.0, 4.4, 5.6),
)


def forefoot_field(width: float, step_mm: float) -> BoneField:
    """Field of the midfoot, metatarsals and toes."""
    field = BoneField(
        ((28.0 * width, 178.0 * width), (-82.0 * width, -10.0 * width), (-44.0 * width, 44.0 * width)),
        step_mm,
    )

    def at(point: tuple[float, ...]) -> tuple[float, float, float]:
        return width * point[0], width * point[1], width * point[2]

    blocks = (
        # Navicular, cuboid, three cuneiforms: centre, half sizes, tilt.
        ((48.5, -25.0, -11.0), (5.5, 12.5, 18.0), 22.0),
        ((47.0, -44.0, 14.0), (13.5, 10.5, 11.5), -14.0),
        ((60.5, -31.0, -23.0), (9.5, 12.0, 8.5), -22.0),
        ((60.0, -28.5, -9.0), (8.0, 10.0, 6.5), -22.0),
        ((60.0, -32.0, 3.0), (8.5, 10.0, 6.5), -20.0),
    )
    for centre, half, tilt in blocks:
        block = Block(at(centre), at(half), 4.5 * width, tilt)
        field.add(block, block.box(6.0), cortex_mm=1.0 * width, blend_mm=0.6 * width)
    for base, middle, head, toe, first, waist, last in RAYS:
        knuckle = tuple(0.55 * h + 0.45 * t for h, t in zip(head, toe, strict=True))
        start = tuple(0.8 * h + 0.2 * t for h, t in zip(head, toe, strict=True))
        for p, q, r, s in (
            (base, middle, first, waist),
            (middle, head, waist, last),
            (start, knuckle, 0.85 * last, 0.55 * last),
            (knuckle, toe, 0.6 * last, 0.6 * last),
        ):
            bar = Bar(at(p), at(q), width * r, width * s)
            field.add(bar, bar.box(6.0), cortex_mm=1.3 * width, blend_mm=2.0 * width)
    return field
