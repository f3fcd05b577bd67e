"""From bones in their own frames to a leg that stands: joints, stance, landmarks in the patient frame.

Hip frame of a leg: origin at the femoral head centre, x anterior, y up, z lateral. Patient frame: origin
midway between the heads, x anterior, y up, z to the patient's right.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from limbwright.film.phantom import femur as femur_part
from limbwright.film.phantom import tibia as tibia_part
from limbwright.film.phantom.femur import FemurAxis
from limbwright.film.phantom.hardware import Hardware
from limbwright.film.phantom.leg import LegShape, Stance
from limbwright.film.phantom.motion import Break, break_levels, breaks_of, moved
from limbwright.film.phantom.section import FEMUR_LEVELS, TIBIA_LEVELS, shaft_pairs
from limbwright.film.phantom.tibia import TibiaAxis
from limbwright.limb.anatomy import Bone, Side

Floats = NDArray[np.float64]
JOINT_SPACE_MM = 5.0
"""Cartilage between femur and tibia for bone width 1; engineering judgement. [mm]"""
TOE_OUT_DEG = 8.0
"""External turn of the foot against the knee; engineering judgement. [deg]"""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Rigid:
    """A turn and a shift."""

    matrix: Floats
    """Shape (3, 3)."""
    offset: Floats
    """Shape (3,), mm."""

    def __call__(self, points: Floats) -> Floats:
        """Moved points. Shape (n, 3), mm."""
        return np.asarray(points @ self.matrix.T + self.offset)

    def after(self, first: "Rigid") -> "Rigid":
        """This motion following another."""
        return Rigid(matrix=self.matrix @ first.matrix, offset=self.matrix @ first.offset + self.offset)


def turn(axis: str, angle_deg: float, about: Floats | None = None) -> Rigid:
    """Turn about a coordinate axis through a point, right-handed."""
    from scipy.spatial.transform import Rotation

    matrix = np.asarray(Rotation.from_euler(axis, angle_deg, degrees=True).as_matrix())
    centre = np.zeros(3) if about is None else about
    return Rigid(matrix=matrix, offset=centre - matrix @ centre)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class PlacedLeg:
    """How each part of one leg gets from its own frame into the patient's."""

    shape: LegShape
    side: Side
    femur_breaks: tuple[Break, ...]
    tibia_breaks: tuple[Break, ...]
    fibula_breaks: tuple[Break, ...]
    femur: Rigid
    """Femur frame to hip frame."""
    patella: Rigid
    """Femur frame, knee straight, to hip frame."""
    tibia: Rigid
    """Tibia frame to hip frame."""
    talus: Rigid
    """Ankle frame to hip frame, for the talus."""
    foot: Rigid
    """Ankle frame to hip frame, for the foot flat on the floor."""
    hip_z_mm: float
    """Distance of the head centre from the midline. [mm]"""

    def into_patient(self, points: Floats) -> Floats:
        """Points of the hip frame in the patient frame. Shape (n, 3), mm."""
        hand = 1.0 if self.side is Side.RIGHT else -1.0
        return np.asarray((points + np.array([0.0, 0.0, self.hip_z_mm])) * np.array([1.0, 1.0, hand]))

    def femur_now(self, points: Floats) -> Floats:
        """Points of the undeformed femur in the patient frame."""
        return self.into_patient(self.femur(moved(points, self.femur_breaks)))

    def tibia_now(self, points: Floats) -> Floats:
        """Points of the undeformed tibia in the patient frame."""
        return self.into_patient(self.tibia(moved(points, self.tibia_breaks)))

    def fibula_now(self, points: Floats) -> Floats:
        """Points of the undeformed fibula in the patient frame."""
        return self.into_patient(self.tibia(moved(points, self.fibula_breaks)))


def placed_leg(
    shape: LegShape, hardware: Hardware, stance: Stance, *, side: Side, hip_distance_mm: float
) -> PlacedLeg:
    """Put a leg together and let it stand."""
    femur, tibia = FemurAxis(shape), TibiaAxis(shape)
    cuts = {
        bone: tuple(c for c in hardware.lengthenings if c.bone is bone) for bone in (Bone.FEMUR, Bone.TIBIA)
    }
    femur_breaks = breaks_of(femur, shape.deformities_of(Bone.FEMUR), cuts[Bone.FEMUR])
    tibia_breaks = breaks_of(tibia, shape.deformities_of(Bone.TIBIA), cuts[Bone.TIBIA])
    fibula_breaks = _fibula_breaks(tibia, tibia_breaks, hardware)
    distal = _end_motion(femur_breaks, np.array([0.0, 0.0, 0.0]))
    knee = distal.after(_knee(shape, stance))
    hinge = np.array([-8.0, 23.0, 0.0]) * shape.bone_width
    patella = distal.after(turn("z", -0.6 * stance.knee_flexion_deg, hinge))
    ankle = knee.after(_end_motion(tibia_breaks, tibia.ankle_centre))
    head = femur.head_centre
    target_z = stance.ankle_offset_mm - hip_distance_mm / 2.0
    stand = Rigid(matrix=np.eye(3), offset=-moved(head[None], femur_breaks)[0])
    stand = _stood(stand, distal, ankle(tibia.ankle_centre), target_z, stance)
    talus = (
        stand.after(ankle)
        .after(Rigid(matrix=tibia.plafond_axes().T, offset=tibia.ankle_centre))
        .after(turn("y", -TOE_OUT_DEG))
    )
    return PlacedLeg(
        shape=shape,
        side=side,
        femur_breaks=femur_breaks,
        tibia_breaks=tibia_breaks,
        fibula_breaks=fibula_breaks,
        femur=stand,
        patella=stand.after(patella),
        tibia=stand.after(knee),
        talus=talus,
        foot=_flat_foot(talus),
        hip_z_mm=hip_distance_mm / 2.0,
    )


def _fibula_breaks(tibia: TibiaAxis, breaks: tuple[Break, ...], hardware: Hardware) -> tuple[Break, ...]:
    """The tibia's breaks with the cut at the fibula's own level; what lies below moves with the tibia."""
    own = hardware.cuts_of(Bone.TIBIA)
    if not own:
        return breaks
    place = tibia.at_level(own[0].fibula_level)
    turns = []
    for item in breaks:
        if not item.cut:
            turns.append(item)
            continue
        # Same motion, decided at another level: the pivot stays, only the plane of the cut moves.
        turns.append(replace(item, plane=place))
    return tuple(turns)


def _end_motion(breaks: tuple[Break, ...], end: Floats) -> Rigid:
    """Rigid motion of the last fragment of a bone."""
    far = end + np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    out = far
    for item in reversed(breaks):
        out = item.carried(out, np.ones(4))
    matrix = (out[1:] - out[0]).T
    return Rigid(matrix=matrix, offset=out[0] - matrix @ end)


def _knee(shape: LegShape, stance: Stance) -> Rigid:
    """Tibia frame to femur frame: joint lines apart by the convergence angle, then bent."""
    width = shape.bone_width
    varus = shape.mldfa_deg - shape.mpta_deg + shape.jlca_deg
    offset = np.array([11.0 * width, -JOINT_SPACE_MM * width, 0.0])
    straight = Rigid(matrix=turn("x", varus).matrix, offset=offset)
    return turn("z", -stance.knee_flexion_deg, np.array([-8.0, 23.0, 0.0]) * width).after(straight)


def _stood(stand: Rigid, distal: Rigid, ankle: Floats, target_z: float, stance: Stance) -> Rigid:
    """Turn the leg about its hip until the patella looks forward and the ankle is where it should be."""
    for _ in range(12):
        lateral = stand.matrix @ distal.matrix @ np.array([0.0, 0.0, 1.0])
        stand = turn("y", -np.degrees(np.arctan2(lateral[0], lateral[2]))).after(stand)
        at = stand(ankle)
        reach = float(np.linalg.norm(at))
        stand = turn("z", -np.degrees(np.arctan2(at[0], -at[1]))).after(stand)
        at = stand(ankle)
        want = np.arcsin(np.clip(target_z / reach, -0.9, 0.9))
        stand = turn("x", np.degrees(np.arctan2(at[2], -at[1]) - want)).after(stand)
    axis = stand(ankle)
    from scipy.spatial.transform import Rotation

    # External + about the line from ankle to hip, lateral side turning backward.
    spin = Rotation.from_rotvec(np.radians(stance.rotation_deg) * axis / np.linalg.norm(axis))
    whole = Rigid(matrix=np.asarray(spin.as_matrix()), offset=np.array([stance.forward_mm, 0.0, 0.0]))
    return whole.after(stand)


def _flat_foot(talus: Rigid) -> Rigid:
    """Foot under the talus: same heading, sole level; the joint below the talus takes up the tilt."""
    forward = talus.matrix @ np.array([1.0, 0.0, 0.0])
    heading = np.array([forward[0], 0.0, forward[2]])
    heading /= np.linalg.norm(heading)
    up = np.array([0.0, 1.0, 0.0])
    flat = np.stack([heading, up, np.cross(heading, up)], axis=1)
    return Rigid(matrix=flat, offset=talus.offset)


def leg_landmarks(leg: PlacedLeg, hardware: Hardware) -> dict[str, Floats]:
    """Every landmark of one leg in the patient frame. Each of shape (3,), mm."""
    points: dict[str, Floats] = {}
    femur, tibia = FemurAxis(leg.shape), TibiaAxis(leg.shape)
    for name, place in femur_part.landmarks(femur).items():
        points[name] = leg.femur_now(place[None])[0]
    for name, place in tibia_part.landmarks(tibia).items():
        fibular = name in {"fibular_head_tip", "lateral_malleolus_tip"}
        points[name] = (leg.fibula_now if fibular else leg.tibia_now)(place[None])[0]
    for bone, axis, levels, now in (
        (Bone.FEMUR, femur, FEMUR_LEVELS, leg.femur_now),
        (Bone.TIBIA, tibia, TIBIA_LEVELS, leg.tibia_now),
    ):
        for pair, ends in shaft_pairs(levels, break_levels(leg.shape, hardware, bone)).items():
            for end, level in zip(("upper", "lower"), ends, strict=True):
                points[f"{bone}_{pair}_shaft_{end}"] = now(axis.at_level(level)[None])[0]
    return points
