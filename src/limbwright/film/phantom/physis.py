"""Growth plates: open ones as sheets of cartilage, closed ones as the thin dense scar they leave."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbwright.film.phantom.femur import FemurAxis, femur_field
from limbwright.film.phantom.field import BoneField, Box, Coordinates, Grid
from limbwright.film.phantom.leg import LegShape
from limbwright.film.phantom.materials import Material, difference_per_mm
from limbwright.film.phantom.mesh import Mesh, Texture, from_field
from limbwright.film.phantom.tibia import TibiaAxis, tibia_field

Floats = NDArray[np.float64]
OPEN_MM = 2.6
"""Thickness of an open growth plate; engineering judgement. [mm]"""
SCAR_MM = 1.1
"""Thickness of the scar of a closed one; engineering judgement. [mm]"""
SCAR_SHARE = 0.16
"""How far the scar is from spongy toward cortical bone; engineering judgement."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Plate:
    """Where a growth plate lies in its bone."""

    name: str
    centre: Floats
    """A point of it. Shape (3,), bone frame, mm."""
    normal: Floats
    """Unit normal. Shape (3,)."""
    wave_mm: float
    """Height of its waves. [mm]"""
    window: Box
    """The part of the bone it crosses."""


def _plate(name: str, centre: Floats, normal: Floats, wave_mm: float, reach: Floats) -> Plate:
    low, high = centre - reach, centre + reach
    return Plate(
        name=name,
        centre=centre,
        normal=normal / np.linalg.norm(normal),
        wave_mm=wave_mm,
        window=((low[0], high[0]), (low[1], high[1]), (low[2], high[2])),
    )


def femoral_plates(shape: LegShape) -> tuple[Plate, ...]:
    """Distal femoral plate, and that of the head while it is open."""
    axis, width = FemurAxis(shape), shape.bone_width
    anterior, posterior = axis.physis_line()
    lateral = axis.joint_axes()[2]
    normal = np.cross(lateral, anterior - posterior)
    middle = 0.5 * (anterior + posterior)
    plates = [
        _plate("distal femoral physis", middle, normal, 2.2 * width, np.array([50.0, 22.0, 52.0]) * width)
    ]
    if shape.physes_open:
        neck = axis.head_centre - axis.neck_base
        neck = neck / np.linalg.norm(neck)
        radius = shape.head_radius_mm
        reach = np.full(3, radius + 6.0)
        plates.append(
            _plate("capital physis", axis.head_centre - 0.25 * radius * neck, neck, 0.8 * width, reach)
        )
    return tuple(plates)


def tibial_plates(shape: LegShape) -> tuple[Plate, ...]:
    """Proximal and distal tibial plate."""
    axis, width = TibiaAxis(shape), shape.bone_width
    top = axis.on_plateau(-15.0 * width, 0.0) - np.array([0.0, 16.0 * width, 0.0])
    side = np.array([0.0, 1.0 / np.tan(np.radians(shape.mpta_deg)), 1.0])
    front = np.array([1.0, 0.5 / np.tan(np.radians(shape.ppta_deg)), 0.0])
    low = axis.on_plafond(0.0, 15.0, 0.0)
    return (
        _plate(
            "proximal tibial physis", top, np.cross(side, front), 1.5 * width, np.array([46, 14, 46]) * width
        ),
        _plate(
            "distal tibial physis",
            low,
            axis.plafond_axes()[1],
            1.0 * width,
            np.array([32.0, 10.0, 32.0]) * width,
        ),
    )


def _sheet(plate: Plate, thickness_mm: float) -> Callable[[Coordinates], Grid]:
    centre, normal = plate.centre.astype(np.float32), plate.normal.astype(np.float32)
    scale = np.float32(2.0 * np.pi / 42.0)

    def field(at: Coordinates) -> Grid:
        x, y, z = (a - c for a, c in zip(at, centre, strict=True))
        height = normal[0] * x + normal[1] * y + normal[2] * z
        wave = np.float32(0.5 * plate.wave_mm) * (np.cos(scale * 1.1 * z) * np.cos(scale * 0.9 * x) - 0.6)
        return np.asarray(np.abs(height - wave) - np.float32(thickness_mm / 2.0), dtype=np.float32)

    return field


def _plate_meshes(bone: BoneField, plate: Plate, *, is_open: bool) -> list[Mesh]:
    def surface(values: Grid, attenuation: float) -> Mesh:
        return from_field(
            plate.name,
            values,
            origin_mm=bone.origin_mm,
            step_mm=bone.step_mm,
            attenuation_per_mm=attenuation,
            texture=Texture.PLAIN,
        )

    sheet = _sheet(plate, OPEN_MM if is_open else SCAR_MM)(bone.coordinates())
    inner = np.maximum(bone.inner, sheet)
    spongy = difference_per_mm(Material.SPONGY_BONE, Material.CORTICAL_BONE)
    if not is_open:
        return [surface(inner, -SCAR_SHARE * spongy)]
    whole = np.maximum(bone.outer, sheet)
    return [
        surface(whole, difference_per_mm(Material.CARTILAGE, Material.CORTICAL_BONE)),
        # Within the shell the spongy bone's own difference has to be taken back.
        surface(inner, -spongy),
    ]


def physis_meshes(shape: LegShape, step_mm: float) -> tuple[list[Mesh], list[Mesh]]:
    """Growth plates of the femur and of the tibia, each in its bone's frame."""
    step = min(step_mm, 1.0)
    femoral = [
        mesh
        for plate in femoral_plates(shape)
        for mesh in _plate_meshes(femur_field(shape, step, plate.window), plate, is_open=shape.physes_open)
    ]
    tibial = [
        mesh
        for plate in tibial_plates(shape)
        for mesh in _plate_meshes(tibia_field(shape, step, plate.window), plate, is_open=shape.physes_open)
    ]
    return femoral, tibial
