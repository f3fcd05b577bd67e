"""All bones of a leg and pelvis as meshes, built once per shape and kept in memory.

Meshes are in their bone's own frame, undeformed: bending, cutting and standing are done later by moving
vertices, so that one set of bones serves every deformity, every osteotomy and every follow-up film.
"""

from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache

import numpy as np

from limbwright.film.phantom.femur import FemurAxis, femur_field
from limbwright.film.phantom.field import BoneField, Ellipsoid
from limbwright.film.phantom.foot import forefoot_field, hindfoot_field, talus_field
from limbwright.film.phantom.leg import LegShape
from limbwright.film.phantom.materials import Material, difference_per_mm
from limbwright.film.phantom.mesh import Mesh, Texture, from_field, swept
from limbwright.film.phantom.pelvis import hemipelvis_field, sacrum_field
from limbwright.film.phantom.physis import physis_meshes
from limbwright.film.phantom.tibia import TibiaAxis, fibula_meshes, tibia_field


class Detail(StrEnum):
    """How finely bones are meshed; the shafts' exactness does not depend on it by more than the step says."""

    FINE = "fine"
    COARSE = "coarse"


STEP_MM = {Detail.FINE: 1.0, Detail.COARSE: 2.5}
"""Grid step of each detail; on a ball of 14 mm radius the surface is off by at most step^2 / 112. [mm]"""

CORTEX = difference_per_mm(Material.CORTICAL_BONE, Material.MUSCLE)
SPONGY = difference_per_mm(Material.SPONGY_BONE, Material.CORTICAL_BONE)
MARROW = difference_per_mm(Material.MARROW, Material.SPONGY_BONE)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class LegBones:
    """Meshes of one leg, each in its own frame."""

    femur: tuple[Mesh, ...]
    """Femur frame."""
    patella: tuple[Mesh, ...]
    """Femur frame, knee straight."""
    tibia: tuple[Mesh, ...]
    """Tibia frame, fibula included."""
    talus: tuple[Mesh, ...]
    """Ankle frame."""
    foot: tuple[Mesh, ...]
    """Ankle frame."""


def _pair(name: str, field: BoneField, inside: float = SPONGY) -> list[Mesh]:
    outer = from_field(
        name, field.outer, origin_mm=field.origin_mm, step_mm=field.step_mm, attenuation_per_mm=CORTEX
    )
    inner = from_field(
        f"spongy bone of the {name}",
        field.inner,
        origin_mm=field.origin_mm,
        step_mm=field.step_mm,
        attenuation_per_mm=inside,
        texture=Texture.SPONGY,
    )
    return [outer, inner]


def _marrow(name: str, axis: FemurAxis | TibiaAxis, shape: LegShape, ends: tuple[float, float]) -> list[Mesh]:
    """Marrow in the canal: three nested spindles, so that spongy bone fades into it instead of ending."""
    sections = shape.femur_shaft if isinstance(axis, FemurAxis) else shape.tibia_shaft
    top = axis.length_mm if isinstance(axis, FemurAxis) else 0.0
    levels = np.array([part.level for part in sections])
    meshes = []
    for share, reach in ((0.97, 0.0), (0.90, 0.03), (0.80, 0.06)):
        level = np.linspace(ends[0] + reach, ends[1] - reach, 120)
        half_x = np.interp(level, levels, [part.canal_anteroposterior_mm / 2 for part in sections])
        half_z = np.interp(level, levels, [part.canal_mediolateral_mm / 2 for part in sections])
        away = np.minimum(level - level[0], level[-1] - level) / 0.10
        taper = np.maximum(np.sqrt(np.clip(away, 0.0, 1.0)), 0.02) * share
        centre = axis.shaft_centre(top - level * axis.length_mm)
        meshes.append(
            swept(
                f"marrow of the {name}",
                centre,
                half_x * taper,
                half_z * taper,
                attenuation_per_mm=MARROW / 3.0,
                texture=Texture.SPONGY,
            )
        )
    return meshes


def _patella(width: float, step_mm: float) -> BoneField:
    field = BoneField(
        ((30.0 * width, 62.0 * width), (4.0 * width, 68.0 * width), (-30.0 * width, 30.0 * width)), step_mm
    )
    for part, blend in (
        (Ellipsoid((46.0 * width, 40.0 * width, 1.0), (9.5 * width, 19.0 * width, 22.0 * width)), 0.0),
        (Ellipsoid((45.0 * width, 28.0 * width, 0.0), (7.0 * width, 17.0 * width, 13.0 * width)), 8.0),
    ):
        field.add(part, None, cortex_mm=1.3 * width, blend_mm=blend * width)
    return field


@lru_cache(maxsize=12)
def _leg_bones(shape: LegShape, detail: Detail) -> LegBones:
    step, width = STEP_MM[detail], shape.bone_width
    small = min(step, 1.2) if detail is Detail.FINE else step
    around = 64 if detail is Detail.FINE else 24
    femoral, tibial = physis_meshes(shape, step)
    femur = [
        *_pair("femur", femur_field(shape, step)),
        *_marrow("femur", FemurAxis(shape), shape, (0.14, 0.86)),
        *femoral,
    ]
    tibia = [
        *_pair("tibia", tibia_field(shape, step)),
        *_marrow("tibia", TibiaAxis(shape), shape, (0.14, 0.90)),
        *tibial,
        *fibula_meshes(shape, bone_per_mm=CORTEX, inside_per_mm=0.85 * SPONGY, around=around),
    ]
    return LegBones(
        femur=tuple(femur),
        patella=tuple(_pair("patella", _patella(width, small))),
        tibia=tuple(tibia),
        talus=tuple(_pair("talus", talus_field(width, small))),
        foot=tuple(
            mesh
            for name, make in (("calcaneus", hindfoot_field), ("forefoot", forefoot_field))
            for mesh in _pair(name, make(width, small))
        ),
    )


def leg_bones(shape: LegShape, detail: Detail = Detail.FINE) -> LegBones:
    """Bones of a leg; deformities are left out, so that legs that differ only in them share one set."""
    return _leg_bones(replace(shape, deformities=()), detail)


@lru_cache(maxsize=12)
def pelvis_bones(head_radius_mm: float, hip_distance_mm: float, detail: Detail) -> tuple[Mesh, ...]:
    """One half of the pelvis, hip frame."""
    step = 1.5 if detail is Detail.FINE else 3.0
    return tuple(_pair("pelvis", hemipelvis_field(head_radius_mm, hip_distance_mm, step)))


@lru_cache(maxsize=12)
def sacrum_bones(hip_distance_mm: float, detail: Detail) -> tuple[Mesh, ...]:
    """Sacrum and last lumbar body, patient frame."""
    step = 2.0 if detail is Detail.FINE else 4.0
    return tuple(_pair("sacrum", sacrum_field(hip_distance_mm, step)))
