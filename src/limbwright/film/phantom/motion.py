"""Bending, cutting and drawing apart: how points of an undeformed bone move to where they now are."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from limbwright.film.phantom.femur import FemurAxis
from limbwright.film.phantom.hardware import Hardware, Lengthening
from limbwright.film.phantom.leg import Angulation, LegShape
from limbwright.film.phantom.tibia import TibiaAxis
from limbwright.limb.anatomy import Bone

Floats = NDArray[np.float64]
BEND_MM = 9.0
"""Half height over which a healed deformity curves; beyond it both parts are exactly straight. [mm]"""


def turned(varus_deg: float, procurvatum_deg: float, external_deg: float) -> Floats:
    """Rotation vector of a distal part in a bone frame (x anterior, y proximal, z lateral). Shape (3,), rad.

    The distal axis, straight down before, then shows exactly `varus_deg` in the frontal plane and
    `procurvatum_deg` in the sagittal plane; the external turn is made about the shaft before it is bent.
    """
    from scipy.spatial.transform import Rotation

    aim = np.array([-np.tan(np.radians(procurvatum_deg)), -1.0, -np.tan(np.radians(varus_deg))])
    aim /= np.linalg.norm(aim)
    down = np.array([0.0, -1.0, 0.0])
    axis = np.cross(down, aim)
    size = np.linalg.norm(axis)
    bend = np.zeros(3) if size < 1e-12 else axis / size * np.arctan2(size, down @ aim)
    spin = Rotation.from_rotvec([0.0, -np.radians(external_deg), 0.0])
    return np.asarray((Rotation.from_rotvec(bend) * spin).as_rotvec(), dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Break:
    """A place where the distal part of a bone is turned and shifted against the proximal part."""

    pivot: Floats
    """Shaft centre at the break, undeformed. Shape (3,), mm."""
    along: Floats
    """Shaft direction at the break, toward distal, unit length. Shape (3,)."""
    rotation: Floats
    """Rotation vector of the distal part. Shape (3,), rad."""
    shift: Floats
    """Shift of the distal part, in the frame of the proximal part. Shape (3,), mm."""
    cut: bool
    """True for an osteotomy, False for a healed bend."""
    plane: Floats | None = None
    """A point of the cut's plane when that is not the pivot, as in a fibula. Shape (3,), mm."""

    def distance(self, points: Floats) -> Floats:
        """Distance beyond the break along the shaft, distal +. Shape (n,), mm."""
        return np.asarray((points - (self.pivot if self.plane is None else self.plane)) @ self.along)

    def carried(self, points: Floats, share: Floats) -> Floats:
        """Points carried along by a share of the turn and the shift. Shapes (n, 3) and (n,)."""
        from scipy.spatial.transform import Rotation

        out = points.copy()
        whole = share >= 1.0
        if whole.any():
            out[whole] = (
                Rotation.from_rotvec(self.rotation).apply(points[whole] - self.pivot)
                + self.pivot
                + self.shift
            )
        part = (share > 0.0) & ~whole
        if part.any():
            turns = Rotation.from_rotvec(share[part, None] * self.rotation)
            out[part] = turns.apply(points[part] - self.pivot) + self.pivot + share[part, None] * self.shift
        return out


def break_levels(shape: LegShape, hardware: Hardware, bone: Bone) -> tuple[float, ...]:
    """Levels of all bends and cuts of a bone, rising."""
    bends = {bend.level for bend in shape.deformities if bend.bone is bone}
    return tuple(sorted(bends | {cut.level for cut in hardware.cuts_of(bone)}))


def breaks_of(
    axis: FemurAxis | TibiaAxis, bends: tuple[Angulation, ...], cuts: tuple[Lengthening, ...]
) -> tuple[Break, ...]:
    """All breaks of one bone, from proximal to distal."""
    found: list[tuple[float, Break]] = []
    every: tuple[Angulation | Lengthening, ...] = (*bends, *cuts)
    for item in every:
        pivot = axis.at_level(item.level)
        along = np.subtract(axis.at_level(item.level + 0.01), axis.at_level(item.level - 0.01))
        along /= np.linalg.norm(along)
        shift = np.array([item.anterior_mm, 0.0, item.lateral_mm])
        if isinstance(item, Lengthening):
            shift = shift + item.gap_mm * along
        found.append(
            (
                # A cut through the apex of a bend comes first: the fragment it moves is the bent one, and
                # it is drawn apart along the shaft above.
                item.level - (1e-6 if isinstance(item, Lengthening) else 0.0),
                Break(
                    pivot=pivot,
                    along=along,
                    rotation=turned(item.varus_deg, item.procurvatum_deg, item.external_rotation_deg),
                    shift=shift,
                    cut=isinstance(item, Lengthening),
                ),
            )
        )
    return tuple(item for _, item in sorted(found, key=lambda pair: pair[0]))


def moved(points: Floats, breaks: tuple[Break, ...], *, beyond_cut: bool | None = None) -> Floats:
    """Where points of the undeformed bone are now.

    Parameters
    ----------
    points : (n, 3) float64
        Bone frame. [mm]
    breaks : tuple of Break
        From proximal to distal.
    beyond_cut : bool, optional
        Whether the points belong to the fragment beyond the cut; decided point by point unless given.
    """
    labels = np.asarray(points, dtype=np.float64)
    out = labels.copy()
    # From distal to proximal: each break moves everything beyond it, further breaks included.
    for item in reversed(breaks):
        distance = item.distance(labels)
        if item.cut:
            share = (
                (distance > 0.0).astype(np.float64)
                if beyond_cut is None
                else np.full(len(out), beyond_cut * 1.0)
            )
        else:
            share = np.clip((distance + BEND_MM) / (2.0 * BEND_MM), 0.0, 1.0)
        out = item.carried(out, share)
    return out


def flattened(points: Floats, cut: Break, *, keep_distal: bool) -> Floats:
    """Press everything on the wrong side of a cut flat into the cut's plane.

    The surface stays closed and encloses exactly the fragment that is kept: what was pressed flat encloses
    nothing. So a bone is cut without cutting any triangle.
    """
    distance = cut.distance(points)
    wrong = np.minimum(distance, 0.0) if keep_distal else np.maximum(distance, 0.0)
    return np.asarray(points - wrong[:, None] * cut.along)
