"""A whole patient as closed meshes in the patient frame, ready for the beam; kept in memory."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from limbwright.film.phantom.bones import Detail, leg_bones, pelvis_bones, sacrum_bones
from limbwright.film.phantom.hardware import Hardware, Treatment
from limbwright.film.phantom.implants import hardware_meshes, regenerate_meshes
from limbwright.film.phantom.leg import PatientShape, Stance
from limbwright.film.phantom.mesh import Mesh
from limbwright.film.phantom.motion import Break, flattened, moved
from limbwright.film.phantom.placement import PlacedLeg, leg_landmarks, placed_leg
from limbwright.film.phantom.soft_tissue import soft_tissue
from limbwright.limb.anatomy import Side

Floats = NDArray[np.float64]
SOFT_STEP_MM = {Detail.FINE: 4.0, Detail.COARSE: 8.0}
"""Grid step of skin and muscle. [mm]"""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class PosedPatient:
    """Everything the beam meets, and where the landmarks are."""

    meshes: tuple[Mesh, ...]
    """Patient frame."""
    legs: tuple[PlacedLeg, ...]
    """The legs on the film; both on a frontal film, one on a sagittal film."""
    hardware: tuple[Hardware, ...]
    """Hardware of each of `legs`."""
    landmarks: tuple[dict[str, Floats], ...]
    """Landmarks of each of `legs`, patient frame, mm."""
    detail: Detail
    """How finely the bones are meshed."""


def _fragments(meshes: tuple[Mesh, ...], breaks: tuple[Break, ...]) -> list[Mesh]:
    """Meshes of an undeformed bone bent, cut and moved; one mesh per fragment."""
    cuts = [item for item in breaks if item.cut]
    if not cuts:
        return [mesh.moved(lambda at: moved(at, breaks)) for mesh in meshes]
    (cut,) = cuts
    out = []
    for mesh in meshes:
        beyond = cut.distance(mesh.points) > 0
        for distal in (False, True):
            # A mesh that lies wholly on the other side is pressed to nothing: leave it out.
            if (beyond if distal else ~beyond).any():

                def change(at: Floats, distal: bool = distal) -> Floats:
                    return moved(flattened(at, cut, keep_distal=distal), breaks, beyond_cut=distal)

                out.append(mesh.moved(change))
    return out


def _leg_meshes(leg: PlacedLeg, hardware: Hardware, detail: Detail, hip_distance_mm: float) -> list[Mesh]:
    bones = leg_bones(leg.shape, detail)
    fibula = tuple(mesh for mesh in bones.tibia if "fibula" in mesh.name)
    tibia = tuple(mesh for mesh in bones.tibia if "fibula" not in mesh.name)
    pelvis = pelvis_bones(leg.shape.head_radius_mm, hip_distance_mm, detail)
    parts = [
        *(mesh.moved(leg.femur) for mesh in _fragments(bones.femur, leg.femur_breaks)),
        *(mesh.moved(leg.patella) for mesh in bones.patella),
        *(mesh.moved(leg.tibia) for mesh in _fragments(tibia, leg.tibia_breaks)),
        *(mesh.moved(leg.tibia) for mesh in _fragments(fibula, leg.fibula_breaks)),
        *(mesh.moved(leg.talus) for mesh in bones.talus),
        *(mesh.moved(leg.foot) for mesh in bones.foot),
        *pelvis,
        *regenerate_meshes(leg, hardware),
        *hardware_meshes(leg, hardware),
    ]
    aside = np.array([0.0, 0.0, leg.hip_z_mm])
    placed = [mesh.moved(lambda at: at + aside) for mesh in parts]
    return placed if leg.side is Side.RIGHT else [mesh.mirrored() for mesh in placed]


@lru_cache(maxsize=6)
def posed_patient(
    patient: PatientShape,
    treatment: Treatment,
    stances: tuple[Stance, Stance],
    only: Side | None,
    detail: Detail,
) -> PosedPatient:
    """Meshes and landmarks of a patient who stands as told.

    Parameters
    ----------
    patient, treatment
        Legs and what was done to them.
    stances : tuple of Stance
        Right leg, left leg.
    only : Side, optional
        The one leg that is in the beam (a sagittal film); both unless given.
    detail : Detail
        How finely the bones are meshed.
    """
    legs, hardware = [], []
    meshes: list[Mesh] = []
    for side, stance in zip((Side.RIGHT, Side.LEFT), stances, strict=True):
        if only not in (None, side):
            continue
        leg = placed_leg(
            patient.leg(side), treatment.leg(side), stance, side=side, hip_distance_mm=patient.hip_distance_mm
        )
        legs.append(leg)
        hardware.append(treatment.leg(side))
        meshes.extend(_leg_meshes(leg, treatment.leg(side), detail, patient.hip_distance_mm))
    meshes.extend(sacrum_bones(patient.hip_distance_mm, detail))
    meshes.extend(soft_tissue(tuple(legs), patient.hip_distance_mm, SOFT_STEP_MM[detail]))
    return PosedPatient(
        meshes=tuple(meshes),
        legs=tuple(legs),
        hardware=tuple(hardware),
        landmarks=tuple(leg_landmarks(leg, own) for leg, own in zip(legs, hardware, strict=True)),
        detail=detail,
    )
