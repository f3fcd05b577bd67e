"""Half of the pelvis, and the sacrum. Hip frame: origin at the femoral head, x anterior, y up, z lateral.

The midline lies at z = -hip_distance / 2. Proportions are engineering judgement, chosen by eye beside atlas
drawings; only the acetabulum's centre and radius mean anything to a measurement.
"""

from collections.abc import Callable

import numpy as np

from limbwright.film.phantom.field import Bar, BoneField, Coordinates, Ellipsoid, Grid, without

CARTILAGE_MM = 3.5
"""Joint space of the hip; engineering judgement. [mm]"""


def hemipelvis_field(head_radius_mm: float, hip_distance_mm: float, step_mm: float) -> BoneField:
    """Field of one hip bone."""
    width = hip_distance_mm / 176.0
    midline = -hip_distance_mm / 2.0
    field = BoneField(
        ((-78.0 * width, 62.0 * width), (-92.0 * width, 148.0 * width), (midline - 1.0, 62.0 * width)),
        step_mm,
    )

    def bar(
        start: tuple[float, float, float],
        end: tuple[float, float, float],
        first: float,
        last: float,
        flatten: tuple[float, float, float] = (1.0, 1.0, 1.0),
    ) -> Bar:
        places = [(width * x, width * y, width * z) for x, y, z in (start, end)]
        return Bar(places[0], places[1], width * first, width * last, flatten)

    wing = _wing(width)
    field.add(wing, None, cortex_mm=1.3 * width)
    for part, blend in (
        # Body above the socket, then the brim from sacroiliac joint to pubis.
        (bar((-4.0, 28.0, -8.0), (-14.0, 62.0, -14.0), 19.0, 12.0), 14.0),
        (bar((-52.0, 62.0, -52.0), (-20.0, 38.0, -36.0), 10.0, 10.0), 10.0),
        (bar((-20.0, 38.0, -36.0), (8.0, 14.0, -28.0), 10.0, 11.0), 10.0),
        (bar((8.0, 14.0, -28.0), (34.0, -8.0, -56.0), 11.0, 7.5), 8.0),
        (bar((34.0, -8.0, -56.0), (42.0, -20.0, -82.0), 7.5, 9.5), 8.0),
        (bar((42.0, -20.0, -83.0), (36.0, -44.0, -80.0), 8.5, 6.5, (1.0, 1.0, 1.3)), 7.0),
        (bar((36.0, -44.0, -80.0), (6.0, -72.0, -54.0), 6.0, 6.5), 7.0),
        (bar((6.0, -72.0, -54.0), (-24.0, -74.0, -38.0), 6.5, 13.0), 8.0),
        (bar((-26.0, -72.0, -36.0), (-24.0, -40.0, -26.0), 14.5, 13.0), 8.0),
        (bar((-24.0, -40.0, -26.0), (-20.0, -6.0, -18.0), 13.0, 17.0), 10.0),
        (bar((-26.0, -20.0, -28.0), (-38.0, -28.0, -44.0), 7.0, 3.0), 6.0),
        # Crest with its thick rim, from the back to the anterior superior spine, and the lower spine.
        (bar((-66.0, 92.0, -52.0), (-40.0, 132.0, -8.0), 8.0, 5.5), 7.0),
        (bar((-40.0, 132.0, -8.0), (6.0, 128.0, 34.0), 5.5, 6.0), 7.0),
        (bar((6.0, 128.0, 34.0), (40.0, 88.0, 44.0), 6.0, 5.5), 7.0),
        (bar((40.0, 88.0, 44.0), (30.0, 52.0, 18.0), 4.5, 5.5), 7.0),
        (bar((30.0, 52.0, 18.0), (12.0, 30.0, 6.0), 6.5, 13.0), 9.0),
    ):
        field.add(part, part.box(14.0), cortex_mm=1.5 * width, blend_mm=blend * width)
    _socket(field, head_radius_mm, width)
    return field


def _wing(width: float) -> Callable[[Coordinates], Grid]:
    """The iliac wing: a curved blade, thin in its middle, with the outline of a fan."""

    def blade(at: Coordinates) -> Grid:
        x, y, z = at
        x, y, z = x / np.float32(width), y / np.float32(width), z / np.float32(width)
        up = np.clip((y - 30.0) / 100.0, 0.0, 1.2)
        # Rising, the blade leans outward in front and stays inward behind.
        centre = -16.0 + up * (18.0 + 0.62 * (x + 20.0)) + 0.10 * (x + 10.0)
        thickness = 2.6 + 5.5 * np.clip(1.0 - up * 1.6, 0.0, 1.0) + 3.0 * np.clip((up - 0.75) * 3.0, 0.0, 1.0)
        # Outline in the plane of the blade: narrow above the socket, a broad fan above.
        front = (
            20.0 + 26.0 * np.clip((y - 40.0) / 45.0, 0.0, 1.0) - 30.0 * np.clip((y - 95.0) / 38.0, 0.0, 1.0)
        )
        back = (
            -18.0 - 48.0 * np.clip((y - 38.0) / 30.0, 0.0, 1.0) + 26.0 * np.clip((y - 98.0) / 36.0, 0.0, 1.0)
        )
        outline = np.maximum(np.maximum(x - front, back - x), np.maximum(y - 134.0, 18.0 - y))
        blade_field = np.maximum(0.8 * (np.abs(z - centre) - thickness), 0.8 * outline)
        return np.asarray(np.float32(width) * blade_field, dtype=np.float32)

    return blade


def _socket(field: BoneField, head_radius_mm: float, width: float) -> None:
    radius = head_radius_mm + CARTILAGE_MM
    # The cup opens outward, down and forward.
    opening = np.array([np.sin(np.radians(16.0)), -np.cos(np.radians(43.0)), np.sin(np.radians(43.0))])
    opening = (opening / np.linalg.norm(opening)).astype(np.float32)

    def cup(at: Coordinates) -> Grid:
        x, y, z = at
        shell = np.sqrt(x * x + y * y + z * z) - np.float32(radius + 7.0 * width)
        rim = opening[0] * x + opening[1] * y + opening[2] * z - np.float32(2.0 * width)
        return np.asarray(np.maximum(shell, rim), dtype=np.float32)

    hollow = Ellipsoid((0.0, 0.0, 0.0), (radius, radius, radius))
    box = hollow.box(16.0)
    field.add(cup, box, cortex_mm=2.2 * width, blend_mm=8.0 * width)
    field.keep(without(hollow), box, cortex_mm=2.2 * width, blend_mm=1.5 * width)
    # Nothing of the rim may stand in front of the opening.
    reach = np.float32(radius + 9.0 * width)

    def mouth(at: Coordinates) -> Grid:
        x, y, z = at
        out = opening[0] * x + opening[1] * y + opening[2] * z
        aside = np.sqrt(np.maximum(x * x + y * y + z * z - out * out, 0.0))
        return np.asarray(-np.maximum(aside - reach, np.float32(3.0 * width) - out), dtype=np.float32)

    field.keep(mouth, hollow.box(24.0), cortex_mm=1.5 * width, blend_mm=2.0 * width)


def sacrum_field(hip_distance_mm: float, step_mm: float) -> BoneField:
    """Field of the sacrum and the last lumbar body; patient frame, origin midway between the heads."""
    width = hip_distance_mm / 176.0
    field = BoneField(
        ((-100.0 * width, 10.0 * width), (6.0 * width, 168.0 * width), (-62.0 * width, 62.0 * width)), step_mm
    )
    wedge = Bar(
        (-50.0 * width, 98.0 * width, 0.0),
        (-72.0 * width, 26.0 * width, 0.0),
        24.0 * width,
        9.0 * width,
        (1.15, 1.0, 0.75),
    )
    field.add(wedge, None, cortex_mm=1.0 * width)
    for side in (-1.0, 1.0):
        wing = Ellipsoid(
            (-52.0 * width, 92.0 * width, side * 30.0 * width), (16.0 * width, 22.0 * width, 22.0 * width)
        )
        field.add(wing, None, cortex_mm=1.0 * width, blend_mm=10.0 * width)
    body = Bar(
        (-34.0 * width, 132.0 * width, 0.0),
        (-34.0 * width, 146.0 * width, 0.0),
        16.0 * width,
        16.0 * width,
        (1.0, 1.0, 0.72),
    )
    field.add(body, None, cortex_mm=1.2 * width, blend_mm=2.0 * width)
    for side in (-1.0, 1.0):
        for height, place in ((88.0, 17.0), (70.0, 15.0), (54.0, 12.5)):
            hole = Bar(
                (-40.0 * width, (height - 4) * width, side * place * width),
                (-96.0 * width, (height + 6) * width, side * place * width),
                4.5 * width,
                4.5 * width,
            )
            field.keep(without(hole), hole.box(), cortex_mm=1.0 * width, blend_mm=2.0 * width)
    return field
