"""The parametric femur: its axis, sections, field and landmarks, before any deformity.

Femur frame: origin at the knee centre, y along the mechanical axis to the femoral head centre, x anterior,
z lateral, mm.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbwright.film.phantom.field import Bar, BoneField, Box, Ellipsoid, Shaft, without
from limbwright.film.phantom.leg import LegShape
from limbwright.film.phantom.section import FEMUR_LEVELS, profile

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FemurAxis:
    """Where the femoral shaft runs and where its joints lie; exact, before any deformity."""

    shape: LegShape

    @property
    def length_mm(self) -> float:
        """Mechanical length. [mm]"""
        return self.shape.femur_length_mm

    def shaft_centre(self, y_mm: Floats) -> Floats:
        """Centre of the shaft at heights above the knee centre. Shape (n, 3), mm."""
        width, length = self.shape.bone_width, self.length_mm
        share = y_mm / length
        bow = length**2 / (2.0 * self.shape.femoral_bow_radius_mm) * share * (1.0 - share)
        x = 2.0 * width - 12.0 * width * share + bow
        z = -10.0 * width + y_mm * np.tan(np.radians(self.shape.anatomic_mechanical_deg))
        return np.stack([x, y_mm + 0.0 * x, z], axis=-1)

    def at_level(self, level: float) -> Floats:
        """Shaft centre at a fraction of the length from the head. Shape (3,), mm."""
        return np.asarray(self.shaft_centre(np.array([self.length_mm * (1.0 - level)]))[0])

    @property
    def neck_base(self) -> Floats:
        """Where the neck's axis leaves the shaft's. Shape (3,), mm."""
        lean = np.radians(self.shape.anatomic_mechanical_deg)
        aside = (-10.0 * self.shape.bone_width + self.length_mm * np.tan(lean)) * np.cos(lean)
        foot = self.length_mm - aside * np.sin(lean)
        below = aside / np.tan(np.radians(180.0 - self.shape.neck_shaft_deg))
        return np.asarray(self.shaft_centre(np.array([foot - below * np.cos(lean)]))[0])

    @property
    def head_centre(self) -> Floats:
        """Centre of the femoral head. Shape (3,), mm."""
        return np.array([0.0, self.length_mm, 0.0])

    @property
    def trochanter_tip(self) -> Floats:
        """Tip of the greater trochanter. Shape (3,), mm."""
        base = self.neck_base
        lateral = base[2] + 17.0 * self.shape.bone_width
        rise = lateral / np.tan(np.radians(self.shape.mlpfa_deg))
        return np.array([base[0] - 8.0 * self.shape.bone_width, self.length_mm - rise, lateral])

    def joint_axes(self) -> Floats:
        """Rows: anterior, normal and lateral direction of the distal joint line. Shape (3, 3)."""
        tilt = np.radians(90.0 - self.shape.mldfa_deg)
        return np.array(
            [[1.0, 0.0, 0.0], [0.0, np.cos(tilt), -np.sin(tilt)], [0.0, np.sin(tilt), np.cos(tilt)]]
        )

    def on_joint(self, x: float, y: float, z: float) -> tuple[float, float, float]:
        """Point given in the joint's axes, in units of the bone's width, in the femur frame. [mm]"""
        at = self.shape.bone_width * np.array([x, y, z]) @ self.joint_axes()
        return float(at[0]), float(at[1]), float(at[2])

    def physis_line(self) -> tuple[Floats, Floats]:
        """Anterior and posterior end of the distal physis in the sagittal plane. Two of shape (3,), mm."""
        upper, lower = self.at_level(FEMUR_LEVELS.distal[0]), self.at_level(FEMUR_LEVELS.distal[1])
        lean = np.arctan2(upper[0] - lower[0], upper[1] - lower[1])
        turn = np.radians(self.shape.pdfa_deg)
        # The proximal shaft direction (sin, cos) turned by the angle toward the back.
        back = np.array([np.sin(lean - turn), np.cos(lean - turn), 0.0])
        width = self.shape.bone_width
        middle = np.array([-3.0, 27.0, 0.0]) * width
        return middle - 25.0 * width * back, middle + 25.0 * width * back


def femur_shaft(axis: FemurAxis) -> Shaft:
    """The shaft with both metaphyses, from the epicondyles to the base of the neck."""
    shape, width = axis.shape, axis.shape.bone_width
    top = float(axis.neck_base[1])
    # Rows: height, outer half widths (anteroposterior, mediolateral), inner half widths; at the ends of the
    # bone only, the middle comes from the shape. Engineering judgement.
    distal = [
        (24.0 * width, 24.5, 37.0, 23.2, 35.7),
        (36.0 * width, 23.0, 36.0, 21.6, 34.5),
        (52.0 * width, 20.5, 30.0, 18.9, 28.2),
    ]
    proximal = [
        (top - 12.0 * width, 15.5, 18.0, 12.5, 13.5),
        (top, 14.5, 19.0, 12.0, 15.5),
        (top + 12.0 * width, 13.0, 17.0, 11.2, 15.0),
    ]
    lean = np.cos(np.radians(shape.anatomic_mechanical_deg))
    y, rows = profile(
        sections=shape.femur_shaft,
        length_mm=axis.length_mm,
        top_mm=axis.length_mm,
        width=width,
        lower=distal,
        upper=proximal,
    )
    centre = axis.shaft_centre(y)
    slope = np.cos(np.arctan(np.gradient(centre[:, 0], y)))
    # Toward the condyles the section's centre leaves the shaft's line for the middle of the joint.
    near = np.clip((62.0 * width - y) / (45.0 * width), 0.0, 1.0)
    near = near * near * (3.0 - 2.0 * near)
    centre_x = centre[:, 0] * (1.0 - near) + near * (-3.0 * width)
    centre_z = centre[:, 2] * (1.0 - near)
    return Shaft(
        y_mm=y,
        centre_x=centre_x,
        centre_z=centre_z,
        outer_x=rows[0] / slope,
        outer_z=rows[1] / lean,
        inner_x=rows[2] / slope,
        inner_z=rows[3] / lean,
    )


def femur_field(shape: LegShape, step_mm: float, window: Box | None = None) -> BoneField:
    """Field of a femur on a grid; the whole bone unless a window is given."""
    axis, width = FemurAxis(shape), shape.bone_width
    tip, radius = axis.trochanter_tip, shape.head_radius_mm
    bow = float(np.max(axis.shaft_centre(np.linspace(0.0, axis.length_mm, 20))[:, 0]))
    field = BoneField(
        window
        or (
            (-55.0 * width, max(45.0 * width, bow + 25.0 * width, radius + 6.0)),
            (-6.0, axis.length_mm + radius + 8.0 + max(0.0, tip[1] - axis.length_mm)),
            (-58.0 * width, max(56.0 * width, tip[2] + 16.0 * width)),
        ),
        step_mm,
    )
    field.add(femur_shaft(axis))
    _add_condyles(field, axis)
    _add_proximal_end(field, axis)
    return field


def _add_condyles(field: BoneField, axis: FemurAxis) -> None:
    width, axes = axis.shape.bone_width, axis.joint_axes()

    def ellipsoid(x: float, y: float, z: float, half: tuple[float, float, float]) -> Ellipsoid:
        return Ellipsoid(axis.on_joint(x, y, z), tuple(width * h for h in half), axes)  # type: ignore[arg-type] # three stay three

    # What carries no load is joined smoothly with the metaphysis first; the bearing surfaces come last and
    # nearly without rounding, so that their lowest points stay where the joint line is.
    for part, blend in (
        (ellipsoid(-5.0, 27.0, 0.0, (24.0, 17.0, 35.0)), 10.0),
        (ellipsoid(-6.0, 32.0, -32.5, (15.0, 19.0, 9.0)), 16.0),
        (ellipsoid(-6.0, 31.0, 32.0, (15.0, 18.0, 9.0)), 16.0),
        (ellipsoid(11.0, 35.0, 14.0, (20.0, 25.0, 14.0)), 10.0),
        (ellipsoid(7.0, 34.0, -15.0, (20.0, 24.0, 14.0)), 10.0),
        (ellipsoid(-19.0, 27.0, -23.0, (19.0, 20.0, 13.0)), 12.0),
        (ellipsoid(-19.0, 26.0, 23.0, (18.0, 19.0, 13.0)), 12.0),
    ):
        field.add(part, part.box(16.0), blend_mm=blend * width)
    notch = Bar(axis.on_joint(-44.0, 2.0, 0.0), axis.on_joint(-2.0, 7.0, 0.0), 13.0 * width, 8.0 * width)
    field.keep(without(notch), notch.box(), blend_mm=6.0 * width)
    for side, half_x in ((-1.0, 27.0), (1.0, 28.0)):
        bearing = ellipsoid(-4.0, 23.0, side * 23.0, (half_x, 23.0, 15.0))
        field.add(bearing, bearing.box(), blend_mm=2.5 * width)


def _add_proximal_end(field: BoneField, axis: FemurAxis) -> None:
    width, radius = axis.shape.bone_width, axis.shape.head_radius_mm
    head, base, tip = axis.head_centre, axis.neck_base, axis.trochanter_tip

    def at(point: Floats) -> tuple[float, float, float]:
        return float(point[0]), float(point[1]), float(point[2])

    neck = Bar(at(base), at(head), 16.0 * width, 0.66 * radius, (1.12, 1.0, 1.0))
    greater = Ellipsoid(
        at(tip - np.array([0.0, 21.0 * width, 0.0])), (17.0 * width, 21.0 * width, 12.0 * width)
    )
    lesser_level = axis.shaft_centre(np.array([base[1] - 26.0 * width]))[0]
    lesser = Ellipsoid(
        at(lesser_level + np.array([-13.0, 0.0, -12.0]) * width), (8.0 * width, 12.0 * width, 9.0 * width)
    )
    ball = Ellipsoid(at(head), (radius, radius, radius))
    field.add(neck, neck.box(), cortex_mm=2.2 * width, blend_mm=9.0 * width)
    field.add(greater, greater.box(), cortex_mm=1.4 * width, blend_mm=8.0 * width)
    field.add(lesser, lesser.box(), cortex_mm=2.0 * width, blend_mm=7.0 * width)
    # The head stays a sphere: its seam with the neck is rounded only a little.
    field.add(ball, ball.box(), cortex_mm=1.1 * width, blend_mm=3.0 * width)


def landmarks(axis: FemurAxis) -> dict[str, Floats]:
    """Named points of the undeformed femur that are not on its shaft. Each of shape (3,), mm."""
    anterior, posterior = axis.physis_line()
    return {
        "femoral_head_centre": axis.head_centre,
        "greater_trochanter_tip": axis.trochanter_tip,
        "femoral_neck_centre": 0.5 * (axis.neck_base + axis.head_centre),
        "medial_femoral_condyle": np.array(axis.on_joint(-4.0, 0.0, -23.0)),
        "lateral_femoral_condyle": np.array(axis.on_joint(-4.0, 0.0, 23.0)),
        "femur_knee_centre": np.zeros(3),
        "distal_femoral_physis_anterior": anterior,
        "distal_femoral_physis_posterior": posterior,
    }
