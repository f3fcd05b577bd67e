"""The parametric tibia and fibula: axes, fields and landmarks, before any deformity.

Tibia frame: origin at the knee centre of the frontal plane, -y along the mechanical axis to the ankle centre,
x anterior with the shaft at x = 0, z lateral, mm.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbwright.film.phantom.field import Bar, BoneField, Box, Coordinates, Ellipsoid, Grid, Shaft
from limbwright.film.phantom.leg import LegShape
from limbwright.film.phantom.mesh import Mesh, swept
from limbwright.film.phantom.section import profile

Floats = NDArray[np.float64]
PLATEAU_X = -15.0
"""Middle of the plateau behind the shaft's line, for bone width 1: the line meets the plateau one fifth of
its depth from the front. Paley, Principles of Deformity Correction, 2002 (value from memory). [mm]"""
PLAFOND_RADIUS = 30.0
"""Radius of the ankle's dome in the sagittal plane, for bone width 1; engineering judgement. [mm]"""

RIDGE_END = 104.0
"""How far below the knee the ridge from tuberosity to crest reaches into the shaft, for bone width 1. [mm]"""


@dataclass(frozen=True, slots=True)
class TibiaAxis:
    """Where the tibial shaft runs and where its joints lie; exact, before any deformity."""

    shape: LegShape

    @property
    def length_mm(self) -> float:
        """Mechanical length. [mm]"""
        return self.shape.tibia_length_mm

    def shaft_centre(self, y_mm: Floats) -> Floats:
        """Centre of the shaft at heights below the knee centre (negative). Shape (n, 3), mm."""
        return np.stack([0.0 * y_mm, y_mm, 0.0 * y_mm - 4.0 * self.shape.bone_width], axis=-1)

    def at_level(self, level: float) -> Floats:
        """Shaft centre at a fraction of the length from the knee. Shape (3,), mm."""
        return np.asarray(self.shaft_centre(np.array([-self.length_mm * level]))[0])

    def on_plateau(self, x_mm: float, z_mm: float) -> Floats:
        """Point of the subchondral plane of the plateau. Shape (3,), mm."""
        slope = (x_mm - PLATEAU_X * self.shape.bone_width) / np.tan(np.radians(self.shape.ppta_deg))
        return np.array([x_mm, slope + z_mm / np.tan(np.radians(self.shape.mpta_deg)), z_mm])

    def plafond_axes(self) -> Floats:
        """Rows: anterior, normal and lateral direction of the plafond. Shape (3, 3)."""
        front = np.array([1.0, 1.0 / np.tan(np.radians(self.shape.adta_deg)), 0.0])
        side = np.array([0.0, 1.0 / np.tan(np.radians(self.shape.ldta_deg)), 1.0])
        normal = np.cross(side, front)
        normal /= np.linalg.norm(normal)
        side /= np.linalg.norm(side)
        return np.array([np.cross(normal, side), normal, side])

    @property
    def ankle_centre(self) -> Floats:
        """Middle of the plafond. Shape (3,), mm."""
        return np.array([0.0, -self.length_mm, 0.0])

    def on_plafond(self, x: float, y: float, z: float) -> Floats:
        """Tibia-frame point given in the plafond's axes in units of the bone's width. Shape (3,), mm."""
        return np.asarray(
            self.ankle_centre + self.shape.bone_width * np.array([x, y, z]) @ self.plafond_axes()
        )


def _triple(point: Floats) -> tuple[float, float, float]:
    return float(point[0]), float(point[1]), float(point[2])


def _scaled(point: tuple[float, float, float], width: float) -> tuple[float, float, float]:
    return width * point[0], width * point[1], width * point[2]


def tibia_shaft(axis: TibiaAxis) -> Shaft:
    """The shaft with both metaphyses, from above the plateau to below the plafond."""
    shape, width, length = axis.shape, axis.shape.bone_width, axis.length_mm
    # Rows as in the femur: height, outer half widths (anteroposterior, mediolateral), inner. Judgement.
    knee = [
        (14.0 * width, 25.0, 37.5, 24.0, 36.4),
        (-5.0 * width, 25.5, 38.5, 24.3, 37.2),
        (-16.0 * width, 25.0, 36.0, 23.7, 34.6),
        (-32.0 * width, 23.0, 28.5, 21.4, 26.7),
        (-48.0 * width, 20.5, 22.5, 18.2, 20.0),
    ]
    ankle = [
        (-length - 14.0 * width, 18.5, 23.5, 17.3, 22.2),
        (-length + 4.0 * width, 19.0, 23.5, 17.8, 22.2),
        (-length + 16.0 * width, 18.0, 21.5, 16.6, 20.0),
        (-length + 34.0 * width, 15.0, 17.0, 13.2, 14.9),
    ]
    y, rows = profile(
        sections=shape.tibia_shaft, length_mm=length, top_mm=0.0, width=width, lower=ankle, upper=knee
    )
    centre = axis.shaft_centre(y)
    top = np.clip((y + 70.0 * width) / (62.0 * width), 0.0, 1.0)
    foot = np.clip((-length + 40.0 * width - y) / (36.0 * width), 0.0, 1.0)
    top, foot = top * top * (3.0 - 2.0 * top), foot * foot * (3.0 - 2.0 * foot)
    return Shaft(
        y_mm=y,
        centre_x=top * PLATEAU_X * width,
        centre_z=centre[:, 2] * (1.0 - top) * (1.0 - foot),
        outer_x=rows[0],
        outer_z=rows[1],
        inner_x=rows[2],
        inner_z=rows[3],
        corner=0.05,
    )


def tibia_field(shape: LegShape, step_mm: float, window: Box | None = None) -> BoneField:
    """Field of a tibia on a grid; the whole bone unless a window is given."""
    axis, width, length = TibiaAxis(shape), shape.bone_width, shape.tibia_length_mm
    tilt = 40.0 * abs(np.tan(np.radians(90.0 - shape.mpta_deg))) * width
    low = 40.0 * abs(np.tan(np.radians(90.0 - shape.ldta_deg))) * width
    field = BoneField(
        window
        or (
            (-46.0 * width, 38.0 * width),
            (-length - 24.0 * width - low, 16.0 * width + tilt),
            (-44.0 * width, 44.0 * width),
        ),
        step_mm,
    )
    shaft = tibia_shaft(axis)
    field.add(shaft)
    # The front slopes from the plateau to the tuberosity and runs out into the crest.
    for start, end, first, last in (
        ((2.0, -16.0, 1.0), (15.5, -46.0, 2.0), 11.0, 11.0),
        ((15.5, -46.0, 2.0), (1.0, -84.0, -1.0), 11.0, 4.0),
    ):
        ridge = Bar(_scaled(start, width), _scaled(end, width), first * width, last * width, (1.0, 1.0, 0.85))
        field.add(ridge, ridge.box(16.0), cortex_mm=2.2 * width, blend_mm=10.0 * width)
    _cut_plateau(field, axis)
    for z, front in ((-5.0, 2.0), (5.5, -2.0)):
        foot = axis.on_plateau((PLATEAU_X + front) * width, z * width)
        spine = Ellipsoid(_triple(foot), (9.0 * width, 8.5 * width, 3.6 * width))
        field.add(spine, spine.box(8.0), cortex_mm=1.2 * width, blend_mm=5.0 * width)
    _cut_plafond(field, axis)
    return field


def _cut_plateau(field: BoneField, axis: TibiaAxis) -> None:
    width = axis.shape.bone_width
    back, side = 1.0 / np.tan(np.radians(axis.shape.ppta_deg)), 1.0 / np.tan(np.radians(axis.shape.mpta_deg))
    scale = 1.0 / np.sqrt(1.0 + back * back + side * side)

    def above(at: Coordinates) -> Grid:
        x, y, z = at
        # Shallow bowl medially, flat laterally; both touch the plane in their middle.
        bowl = np.where(z < 0, 1.0, 0.35) * (
            ((x - PLATEAU_X * width) / (24.0 * width)) ** 2
            + ((np.abs(z) - 24.0 * width) / (14.0 * width)) ** 2
        )
        height = y - back * (x - PLATEAU_X * width) - side * z - np.minimum(1.3 * width * bowl, 1.8 * width)
        return np.asarray(scale * height, dtype=np.float32)

    top = (-60.0 * width, 60.0 * width)
    field.keep(above, (top, (-40.0 * width, 60.0 * width), top), cortex_mm=1.8 * width, blend_mm=9.0 * width)


def _cut_plafond(field: BoneField, axis: TibiaAxis) -> None:
    width, length = axis.shape.bone_width, axis.length_mm
    rows = axis.plafond_axes().astype(np.float32)
    radius = np.float32(PLAFOND_RADIUS * width)

    def local(at: Coordinates) -> tuple[Grid, Grid, Grid]:
        x, y, z = at
        y = y + np.float32(length)
        first, second, third = (row[0] * x + row[1] * y + row[2] * z for row in rows)
        return first, second, third

    def below(at: Coordinates) -> Grid:
        x, y, _ = local(at)
        dome = np.asarray(radius - np.sqrt(x * x + (y + radius) ** 2), dtype=np.float32)
        lips = np.asarray(np.float32(-4.9 * width) - y, dtype=np.float32)
        return np.asarray(np.maximum(dome, lips), dtype=np.float32)

    wide = (-60.0 * width, 60.0 * width)
    box = (wide, (-length - 60.0 * width, -length + 40.0 * width), wide)
    field.keep(below, box, cortex_mm=1.5 * width, blend_mm=2.0 * width)
    malleolus = Bar(
        _triple(axis.on_plafond(0.0, 10.0, -19.5)),
        _triple(axis.on_plafond(2.0, -9.0, -22.0)),
        7.0 * width,
        5.2 * width,
        (0.62, 1.0, 1.0),
    )
    field.add(malleolus, malleolus.box(), cortex_mm=1.3 * width, blend_mm=4.0 * width)


def fibula_line(axis: TibiaAxis) -> tuple[Floats, Floats]:
    """Centre line and half widths (x, z) of the fibula, tip of the head to tip of the malleolus."""
    from scipy.interpolate import PchipInterpolator

    width, length = axis.shape.bone_width, axis.length_mm
    lateral_ankle = axis.on_plafond(0.0, 0.0, 21.0)[1] + length
    lateral_knee = axis.on_plateau(PLATEAU_X * width, 30.0 * width)[1]
    rows = np.array(
        [
            (-26.5, -11.0, 34.5, 0.4, 0.4),
            (-26.4, -12.0, 34.3, 2.6, 2.2),
            (-26.2, -14.5, 33.9, 5.4, 4.9),
            (-25.6, -19.0, 33.2, 8.6, 8.2),
            (-24.8, -25.0, 32.8, 9.2, 9.4),
            (-24.0, -32.0, 32.3, 7.6, 7.6),
            (-22.5, -42.0, 31.0, 6.3, 5.8),
            (-19.0, -80.0, 28.5, 6.2, 5.8),
        ]
    )
    low = np.array(
        [
            (-13.0, 70.0, 20.5, 6.4, 6.0),
            (-9.0, 30.0, 21.2, 7.5, 7.0),
            (-7.0, 8.0, 23.0, 9.5, 8.0),
            (-6.5, -8.0, 24.5, 10.5, 8.0),
            (-6.5, -16.0, 25.0, 8.4, 6.4),
            (-6.8, -21.5, 25.3, 5.6, 4.2),
            (-7.0, -24.2, 25.4, 3.0, 2.2),
            (-7.0, -25.2, 25.5, 0.4, 0.4),
        ]
    )
    rows, low = rows * width, low * width
    rows[:, 1] += lateral_knee
    low[:, 1] += lateral_ankle - length
    middle = np.array(
        [[-15.5 * width, 0.5 * (rows[-1, 1] + low[0, 1]), 22.5 * width, 6.9 * width, 6.3 * width]]
    )
    rows = np.concatenate([rows, middle, low])
    y = rows[:, 1]
    smooth = PchipInterpolator(-y, rows)
    fine = np.unique(
        np.concatenate(
            [
                np.linspace(-y[0], -y[-1], 240),
                np.linspace(-y[0], -y[0] + 12, 24),
                np.linspace(-y[-1] - 12, -y[-1], 24),
            ]
        )
    )
    values = smooth(fine)
    return values[:, :3], values[:, 3:]


def fibula_meshes(shape: LegShape, *, bone_per_mm: float, inside_per_mm: float, around: int) -> list[Mesh]:
    """Fibula with its canal: attenuation of cortex against soft tissue, and of the inside against cortex."""
    axis, width = TibiaAxis(shape), shape.bone_width
    line, half = fibula_line(axis)
    outer = swept("fibula", line, half[:, 0], half[:, 1], attenuation_per_mm=bone_per_mm, around=around)
    share = (line[0, 1] - line[:, 1]) / (line[0, 1] - line[-1, 1])
    wall = width * np.interp(share, [0, 0.06, 0.14, 0.5, 0.86, 0.95, 1], [0.9, 1.0, 2.4, 3.3, 2.6, 1.0, 0.9])
    inner = np.maximum(half - wall[:, None], 0.15)
    keep = (share > 0.006) & (share < 0.994)
    canal = swept(
        "fibular canal",
        line[keep],
        inner[keep, 0],
        inner[keep, 1],
        attenuation_per_mm=inside_per_mm,
        around=around,
    )
    return [outer, canal]


def landmarks(axis: TibiaAxis) -> dict[str, Floats]:
    """Named points of the undeformed tibia and fibula that are not on the shaft. Each of shape (3,), mm."""
    width = axis.shape.bone_width
    fibula, _ = fibula_line(axis)
    half = PLATEAU_X * width
    lip = width * np.sqrt(PLAFOND_RADIUS**2 - (PLAFOND_RADIUS - 4.9) ** 2)
    # The lips lie in the sagittal plane, on a line at the given angle, below the top of the dome.
    front = np.array([np.sin(np.radians(axis.shape.adta_deg)), np.cos(np.radians(axis.shape.adta_deg)), 0.0])
    under = axis.on_plafond(0.0, -4.9, 0.0)
    return {
        "tibia_knee_centre": axis.on_plateau(half, 0.0),
        "medial_plateau": axis.on_plateau(half, -24.0 * width),
        "lateral_plateau": axis.on_plateau(half, 24.0 * width),
        "plateau_anterior": axis.on_plateau(half + 22.0 * width, 0.0),
        "plateau_posterior": axis.on_plateau(half - 22.0 * width, 0.0),
        "tibial_tuberosity": np.array([29.0, -45.8, 2.0]) * width,
        "medial_plafond": axis.on_plafond(0.0, 0.0, -13.5),
        "lateral_plafond": axis.on_plafond(0.0, 0.0, 13.5),
        "plafond_anterior": under + lip * front,
        "plafond_posterior": under - lip * front,
        "ankle_centre": axis.ankle_centre,
        "fibular_head_tip": fibula[0],
        "lateral_malleolus_tip": fibula[-1],
    }
