"""Angulation, rotation and translation as one turn about one axis in space.

Frame: lateral, anterior, proximal, counted from where the proximal axis meets the level of the cut. Written
for the right leg, where this frame is right-handed; the left leg is its mirror image, so magnitudes and
words are the same.
"""

import math
from dataclasses import dataclass

from limbwright.limb.apex import Apex, translation_at
from limbwright.limb.oblique import Direction, require_pair, true_angulation_deg
from limbwright.limb.view import View
from limbwright.quantity import Value, require_within

_NO_TURN_DEG = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn(Value):
    """A turn about an axis through a point, with a slide along that axis."""

    angle_deg: float
    """Angle of the turn, 0 to 180 [deg]."""
    axis: Direction | None
    """Unit vector of the axis, right-hand rule on a right leg; absent for pure translation."""
    inclination_deg: float
    """Angle of the axis out of the transverse plane, proximal + [deg]; 0 for pure angulation."""
    point_mm: Direction | None
    """Point of the axis nearest to where the proximal axis meets the cut [mm]; absent without a turn."""
    slide_mm: float
    """Displacement along the axis that no turn explains [mm]; all of it for pure translation."""


def combined_turn_deg(*, angulation_deg: float, rotation_deg: float) -> float:
    """Size of one turn that stands for an angulation and a rotation about the bone's axis [deg].

    cos(total/2) = cos(A/2)·cos(R/2), exact because the two axes are perpendicular.
    """
    half = math.cos(math.radians(angulation_deg) / 2) * math.cos(math.radians(rotation_deg) / 2)
    return math.degrees(2 * math.acos(min(1.0, half)))


def equivalent_turn(
    *,
    frontal_deg: float,
    sagittal_deg: float,
    external_deg: float = 0.0,
    lateral_mm: float = 0.0,
    anterior_mm: float = 0.0,
    proximal_mm: float = 0.0,
) -> Turn:
    """The one turn that takes a straight bone to the deformed one.

    Parameters
    ----------
    frontal_deg, sagittal_deg : float
        Varus + and procurvatum +. [deg]
    external_deg : float
        Rotation of the distal part about its own axis, external +. [deg]
    lateral_mm, anterior_mm, proximal_mm : float
        Translation of the distal part at the level of the cut. [mm]

    Returns
    -------
    Turn
        Correcting means turning back by the same angle about the same axis, and sliding back.

    Notes
    -----
    The rotation is taken first, about the bone's own axis, then the tilt in the plane of the deformity. A
    rigid motion x → R·x + t is a turn about the axis u of R through p = (t' + cot(θ/2)·u × t')/2, with t' the
    part of t perpendicular to u, and a slide t·u (Chasles). Slide 0: the hinge alone corrects everything.
    """
    require_within(
        "rotation", external_deg, -170.0, 170.0, "deg", next_step="Check the rotation profile of the leg."
    )
    tilt = math.radians(true_angulation_deg(frontal_deg=frontal_deg, sagittal_deg=sagittal_deg))
    f, s = math.tan(math.radians(frontal_deg)), math.tan(math.radians(sagittal_deg))
    size = math.hypot(f, s)
    # Varus turns the distal part about anterior, procurvatum about medial, external about distal.
    across, along = (0.0, 0.0) if size == 0 else (-s / size, f / size)
    half_tilt, half_spin = tilt / 2, -math.radians(external_deg) / 2
    ct, st, cs, ss = math.cos(half_tilt), math.sin(half_tilt), math.cos(half_spin), math.sin(half_spin)
    # Product of the two unit quaternions (ct, st·(across, along, 0)) and (cs, 0, 0, ss).
    w = ct * cs
    x, y, z = st * (across * cs + along * ss), st * (along * cs - across * ss), ct * ss
    norm = math.sqrt(x * x + y * y + z * z)
    angle = 2 * math.atan2(norm, w)
    shift = (lateral_mm, anterior_mm, proximal_mm)
    if math.degrees(angle) < _NO_TURN_DEG:
        return Turn(angle_deg=0.0, axis=None, inclination_deg=0.0, point_mm=None, slide_mm=math.hypot(*shift))
    u = (x / norm, y / norm, z / norm)
    slide = sum(a * b for a, b in zip(shift, u, strict=True))
    across_shift = tuple(a - slide * b for a, b in zip(shift, u, strict=True))
    turned = _cross(u, across_shift)
    cot = 1 / math.tan(angle / 2)
    point = Direction(*(0.5 * (a + cot * b) for a, b in zip(across_shift, turned, strict=True)))
    return Turn(
        angle_deg=math.degrees(angle),
        axis=Direction(*u),
        inclination_deg=math.degrees(math.asin(max(-1.0, min(1.0, u[2])))),
        point_mm=point,
        slide_mm=slide,
    )


def turn_of_apexes(
    frontal_view: View,
    frontal: Apex,
    sagittal_view: View,
    sagittal: Apex,
    *,
    from_proximal_joint_mm: float,
    external_deg: float = 0.0,
) -> Turn:
    """The one turn that stands for what two films show of a bone, seen from a level of it.

    Parameters
    ----------
    frontal_view, sagittal_view : View
        Both views of the leg, with scale.
    frontal, sagittal : Apex
        The deformity of one bone on each of them.
    from_proximal_joint_mm : float
        Level of the cut, along the proximal axis. [mm]
    external_deg : float
        Rotation of the distal part, external +; films do not show it. [deg]

    Raises
    ------
    Refused
        If the apexes are not the frontal and sagittal one of one bone, or a film has no scale.

    Notes
    -----
    Films show where the distal axis runs, not how far the bone was shortened along it: the level is taken to
    have kept its distance from the proximal joint.
    """
    require_pair(frontal, sagittal)
    return equivalent_turn(
        frontal_deg=frontal.angulation.value,
        sagittal_deg=sagittal.angulation.value,
        external_deg=external_deg,
        lateral_mm=translation_at(frontal_view, frontal, from_proximal_joint_mm=from_proximal_joint_mm).value,
        anterior_mm=translation_at(
            sagittal_view, sagittal, from_proximal_joint_mm=from_proximal_joint_mm
        ).value,
    )


def _cross(a: tuple[float, ...], b: tuple[float, ...]) -> tuple[float, float, float]:
    return (
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    )
