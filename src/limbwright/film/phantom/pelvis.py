"""Half of the pelvis, and the sacrum. Hip frame: origin at the femoral head, x anterior, y up, z lateral.

The midline lies at z = -hip_distance / 2. Proportions are engineering judgement, chosen by eye beside atlas
drawings; only the acetabulum's centre and radius mean anything to a measurement.
"""

from collections.abc import Callable

import numpy as np

from limbwright.film.phantom.field import Bar, BoneField, Coordinates, Ellipsoid, Grid, smooth_max, without

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
        (bar((-2.0, 26.0, -6.0), (-14.0, 58.0, -16.0), 20.0, 9.0), 16.0),
        (bar((-56.0, 74.0, -54.0), (-28.0, 44.0, -38.0), 7.0, 7.0), 12.0),
        (bar((-28.0, 44.0, -38.0), (6.0, 16.0, -28.0), 7.0, 11.0), 14.0),
        (bar((6.0, 16.0, -28.0), (34.0, -8.0, -56.0), 11.0, 7.5), 10.0),
        (bar((34.0, -8.0, -56.0), (42.0, -20.0, -82.0), 7.5, 9.5), 8.0),
        (bar((42.0, -18.0, -82.0), (36.0, -44.0, -79.0), 8.5, 6.5, (1.0, 1.0, 1.25)), 8.0),
        (bar((36.0, -44.0, -79.0), (6.0, -72.0, -54.0), 6.0, 6.5), 8.0),
        (bar((6.0, -72.0, -54.0), (-22.0, -76.0, -40.0), 6.5, 12.0), 9.0),
        (bar((-26.0, -72.0, -38.0), (-26.0, -40.0, -26.0), 14.0, 12.5), 9.0),
        (bar((-26.0, -40.0, -26.0), (-20.0, -6.0, -20.0), 12.5, 17.0), 12.0),
        (bar((-28.0, -14.0, -28.0), (-40.0, -26.0, -44.0), 7.0, 2.5), 8.0),
        # Crest with its thick rim, from the back to the anterior superior spine, and the lower spine.
        (bar((-66.0, 88.0, -53.0), (-58.0, 112.0, -36.0), 7.5, 6.0), 9.0),
        (bar((-58.0, 112.0, -36.0), (-30.0, 132.0, -2.0), 6.0, 5.0), 9.0),
        (bar((-30.0, 132.0, -2.0), (8.0, 126.0, 33.0), 5.0, 5.5), 9.0),
        (bar((8.0, 126.0, 33.0), (30.0, 106.0, 43.0), 5.5, 5.5), 9.0),
        (bar((30.0, 106.0, 43.0), (40.0, 86.0, 45.0), 5.5, 5.0), 9.0),
        (bar((36.0, 72.0, 38.0), (30.0, 52.0, 20.0), 3.5, 6.0), 9.0),
        (bar((30.0, 52.0, 20.0), (14.0, 30.0, 7.0), 6.5, 13.0), 12.0),
    ):
        field.add(part, part.box(18.0), cortex_mm=1.4 * width, blend_mm=blend * width)
    _socket(field, head_radius_mm, width)
    return field


def _wing(width: float) -> Callable[[Coordinates], Grid]:
    """The iliac wing: a curved blade, thin in its middle, with the outline of a fan."""

    def blade(at: Coordinates) -> Grid:
        x, y, z = at
        x, y, z = x / np.float32(width), y / np.float32(width), z / np.float32(width)
        height = y.ravel()

        def along(values: list[float]) -> Grid:
            steps = [24.0, 44.0, 62.0, 90.0, 112.0, 134.0]
            return np.interp(height, steps, values).astype(np.float32)[None, :, None]

        # Seen from above the blade runs obliquely: its back at the sacrum, its front at the anterior spines.
        centre = along([-10.0, -11.0, -8.0, -4.0, 4.0, 15.0]) + along([0.4, 0.75, 0.92, 0.92, 0.92, 0.92]) * (
            x + 13.0
        )
        middle = np.abs(x - along([0.0, -4.0, -8.0, -12.0, -14.0, -12.0])) / 40.0
        thickness = along([9.0, 6.0, 3.8, 3.2, 3.6, 5.0]) + 2.5 * np.clip(middle, 0.0, 1.0) ** 2
        front = along([18.0, 27.0, 34.0, 41.0, 26.0, -4.0])
        back = along([-24.0, -34.0, -54.0, -68.0, -58.0, -26.0])
        outline = smooth_max(
            np.asarray(np.maximum(x - front, back - x), dtype=np.float32),
            np.asarray(np.maximum(y - 134.0, 20.0 - y), dtype=np.float32),
            6.0,
        )
        blade_field = np.maximum(0.72 * (np.abs(z - centre) - 1.3 * thickness), 0.8 * outline)
        return np.asarray(np.float32(width) * blade_field, dtype=np.float32)

    return blade


def _socket(field: BoneField, head_radius_mm: float, width: float) -> None:
    radius = head_radius_mm + CARTILAGE_MM
    # The cup opens outward, down and forward.
    opening = np.array([np.sin(np.radians(22.0)), -np.cos(np.radians(43.0)), np.sin(np.radians(43.0))])
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
    half = step_mm * float(np.ceil(62.0 * width / step_mm))
    field = BoneField(((-100.0 * width, 10.0 * width), (6.0 * width, 168.0 * width), (-half, half)), step_mm)
    spine = ((-38.0, 112.0), (-50.0, 92.0), (-66.0, 68.0), (-72.0, 46.0), (-66.0, 26.0), (-54.0, 10.0))
    for (x, y), (x2, y2), first, last in zip(
        spine, spine[1:], (23.0, 22.0, 17.0, 13.0, 7.0), (22.0, 17.0, 13.0, 7.0, 4.0), strict=False
    ):
        part = Bar(
            (x * width, y * width, 0.0),
            (x2 * width, y2 * width, 0.0),
            first * width,
            last * width,
            (1.5, 1.0, 0.72),
        )
        field.add(part, part.box(14.0), cortex_mm=0.8 * width, blend_mm=8.0 * width)
    for side in (-1.0, 1.0):
        wing = Bar(
            (-46.0 * width, 104.0 * width, side * 12.0 * width),
            (-54.0 * width, 82.0 * width, side * 40.0 * width),
            18.0 * width,
            12.0 * width,
        )
        field.add(wing, None, cortex_mm=0.8 * width, blend_mm=12.0 * width)
    body = Bar(
        (-34.0 * width, 132.0 * width, 0.0),
        (-34.0 * width, 146.0 * width, 0.0),
        16.0 * width,
        16.0 * width,
        (1.0, 1.0, 0.72),
    )
    field.add(body, None, cortex_mm=1.2 * width, blend_mm=2.0 * width)
    for side in (-1.0, 1.0):
        for height, place in ((90.0, 21.0), (72.0, 18.0), (55.0, 14.5)):
            hole = Bar(
                (-40.0 * width, (height - 4) * width, side * place * width),
                (-96.0 * width, (height + 6) * width, side * place * width),
                3.6 * width,
                3.6 * width,
            )
            field.keep(without(hole), hole.box(), cortex_mm=0.05 * width, blend_mm=4.0 * width)
    return field
