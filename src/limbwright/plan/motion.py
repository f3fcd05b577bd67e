"""Rigid motions of a fragment in the leg frame.

Columns are (anterior, proximal, lateral): the ISB order of a right leg, right-handed. A left leg uses the
same numbers, because its side was resolved when its films became views; nothing here knows left from right.

Right-handed turns of the part below, seen as deformities: about the anterior axis = varus +, about the
lateral axis = recurvatum, about the proximal axis = internal rotation. `turn` and `turned_deg` hold these
signs in one place.
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from limbwright.error import OutOfRange
from limbwright.quantity import Value

Floats = npt.NDArray[np.float64]
Triple = tuple[float, float, float]

ANTERIOR, PROXIMAL, LATERAL = 0, 1, 2
_UNIT = np.eye(3)
_SIGN = np.array([1.0, -1.0, -1.0])  # varus, external rotation, procurvatum against right-handed turns


def triple(vector: npt.ArrayLike) -> Triple:
    """Three plain numbers of an array of three."""
    a, b, c = np.asarray(vector, dtype=float)
    return float(a), float(b), float(c)


def unit(vector: npt.ArrayLike) -> Floats:
    """Unit vectors along the last axis; a zero vector has no direction and gives nan."""
    v = np.asarray(vector, dtype=float)
    length: Floats = np.linalg.norm(v, axis=-1, keepdims=True)
    with np.errstate(invalid="ignore", divide="ignore"):
        result: Floats = v / length
    return result


def rotation_about(axis: npt.ArrayLike, angle_deg: npt.ArrayLike) -> Floats:
    """Rotation matrices about unit axes, right-handed (Rodrigues' formula).

    Parameters
    ----------
    axis : (..., 3) array
        Unit vectors.
    angle_deg : (...) array
        Right-handed angles. [deg]

    Returns
    -------
    (..., 3, 3) array
    """
    x = np.asarray(axis, dtype=float)
    angle = np.radians(np.asarray(angle_deg, dtype=float))[..., None, None]
    k = _cross_matrix(x)
    result: Floats = np.eye(3) + np.sin(angle) * k + (1 - np.cos(angle)) * (k @ k)
    return result


def rotation_between(start: npt.ArrayLike, end: npt.ArrayLike) -> Floats:
    """Smallest rotation that brings unit vectors `start` onto `end`, shapes (..., 3) to (..., 3, 3).

    It adds no twist about the line itself. Opposite vectors have no smallest rotation and give nan.
    """
    a, b = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    k = _cross_matrix(np.cross(a, b))
    cosine = np.sum(a * b, axis=-1)[..., None, None]
    with np.errstate(invalid="ignore", divide="ignore"):
        result: Floats = np.eye(3) + k + (k @ k) / np.where(cosine > -1 + 1e-12, 1 + cosine, np.nan)
    return result


def rotation_vector_deg(rotation: npt.ArrayLike) -> Floats:
    """Axis times right-handed angle of rotation matrices, shapes (..., 3, 3) to (..., 3). [deg]

    Valid for turns below 180 deg, which no reduction comes near.
    """
    r = np.asarray(rotation, dtype=float)
    skew = np.stack(
        [
            r[..., 2, 1] - r[..., 1, 2],
            r[..., 0, 2] - r[..., 2, 0],
            r[..., 1, 0] - r[..., 0, 1],
        ],
        axis=-1,
    )
    twice_sine = np.linalg.norm(skew, axis=-1)
    angle = np.arctan2(twice_sine, np.trace(r, axis1=-2, axis2=-1) - 1)
    factor = np.where(twice_sine > 1e-12, angle / np.where(twice_sine > 1e-12, twice_sine, 1.0), 0.5)
    vector: Floats = np.degrees(skew * factor[..., None])
    return vector


def turn(*, varus_deg: npt.ArrayLike, procurvatum_deg: npt.ArrayLike, external_deg: npt.ArrayLike) -> Floats:
    """Rotation of the part below whose rotation vector has these anatomical components, (..., 3, 3).

    Parameters
    ----------
    varus_deg, procurvatum_deg, external_deg : (...) array
        Components about the anterior, lateral and proximal axis; varus +, procurvatum +, external +. [deg]
    """
    vector = _SIGN * np.stack(np.broadcast_arrays(varus_deg, external_deg, procurvatum_deg), axis=-1)
    angle = np.linalg.norm(vector, axis=-1)
    axis = vector / np.where(angle > 0, angle, 1.0)[..., None]
    return rotation_about(axis, angle)


def turned_deg(rotation: npt.ArrayLike) -> tuple[Floats, Floats, Floats]:
    """Varus +, procurvatum + and external rotation + components of the rotation vector, inverse of `turn`."""
    vector = _SIGN * rotation_vector_deg(rotation)
    return vector[..., ANTERIOR], vector[..., LATERAL], vector[..., PROXIMAL]


def _cross_matrix(vector: Floats) -> Floats:
    """Matrix of the cross product with a vector, (..., 3) to (..., 3, 3)."""
    x, y, z = vector[..., 0], vector[..., 1], vector[..., 2]
    zero = np.zeros_like(x)
    rows = [[zero, -z, y], [z, zero, -x], [-y, x, zero]]
    return np.stack([np.stack(row, axis=-1) for row in rows], axis=-2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion(Value):
    """A rigid motion: a point x goes to rotation · x + translation, in the leg frame."""

    rotation: tuple[Triple, Triple, Triple] = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    """Rotation matrix, row by row; columns and rows in the order anterior, proximal, lateral."""
    translation_mm: Triple = (0.0, 0.0, 0.0)
    """Translation after the rotation [mm]."""

    def __post_init__(self) -> None:
        r = np.array(self.rotation)
        # Built many times in a search: compared by hand, because np.allclose takes ten times as long.
        off = np.abs(r @ r.T - _UNIT).max()
        handed = r[0] @ np.array(
            (
                r[1, 1] * r[2, 2] - r[1, 2] * r[2, 1],
                r[1, 2] * r[2, 0] - r[1, 0] * r[2, 2],
                r[1, 0] * r[2, 1] - r[1, 1] * r[2, 0],
            )
        )
        if not (off <= 1e-6 and handed > 0 and all(map(math.isfinite, self.translation_mm))):
            raise OutOfRange(
                "the matrix is not a rotation, or the translation is not finite.",
                where="motion of a fragment",
                next_step="Check the points that the nail path was drawn through.",
            )

    def matrix(self) -> Floats:
        """Rotation matrix, (3, 3)."""
        return np.array(self.rotation)

    def offset_mm(self) -> Floats:
        """Translation, (3,). [mm]"""
        return np.array(self.translation_mm)

    def moved(self, points_mm: npt.ArrayLike) -> Floats:
        """Points carried by the motion, (..., 3). [mm]"""
        moved: Floats = np.asarray(points_mm, dtype=float) @ self.matrix().T + self.offset_mm()
        return moved

    def turned(self, directions: npt.ArrayLike) -> Floats:
        """Directions carried by the motion, (..., 3)."""
        turned: Floats = np.asarray(directions, dtype=float) @ self.matrix().T
        return turned

    def then(self, later: "Motion") -> "Motion":
        """This motion followed by a later one."""
        return motion(later.matrix() @ self.matrix(), later.moved(self.translation_mm))

    def inverse(self) -> "Motion":
        """The motion that takes everything back."""
        back = self.matrix().T
        return motion(back, -back @ self.offset_mm())

    def angle_deg(self) -> float:
        """Size of the turn, 0 to 180. [deg]"""
        return float(np.linalg.norm(rotation_vector_deg(self.matrix())))


STAY = Motion()


def motion(rotation: npt.ArrayLike, translation_mm: npt.ArrayLike) -> Motion:
    """A motion from a rotation matrix (3, 3) and a translation (3,). [mm]"""
    rows = np.asarray(rotation, dtype=float)
    return Motion(
        rotation=(triple(rows[0]), triple(rows[1]), triple(rows[2])), translation_mm=triple(translation_mm)
    )


def shift(vector_mm: npt.ArrayLike) -> Motion:
    """A motion without turn. [mm]"""
    return Motion(translation_mm=triple(vector_mm))


def motion_about(rotation: npt.ArrayLike, centre_mm: npt.ArrayLike) -> Motion:
    """A turn that leaves one point where it is."""
    centre = np.asarray(centre_mm, dtype=float)
    return motion(rotation, centre - np.asarray(rotation, dtype=float) @ centre)
