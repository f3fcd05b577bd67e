"""Alignment and lengths of the leg as pure functions of points."""

import math

from limbwright.limb.lines import Line, Point, angulation_deg, distance_mm, line_through, offset_mm
from limbwright.quantity import require_within


def mechanical_axis_deviation_mm(*, hip: Point, knee: Point, ankle: Point) -> float:
    """Distance of the knee centre from the hip-ankle line, perpendicular to that line; medial (varus) + [mm].

    Medial + says where the line runs: medial of the knee centre.
    """
    return offset_mm(knee, line_through(hip, ankle))


def hip_knee_ankle_deviation_deg(*, hip: Point, femur_knee: Point, tibia_knee: Point, ankle: Point) -> float:
    """Angle between the mechanical axes of femur and tibia; varus +, 0 is straight [deg]."""
    return angulation_deg(line_through(hip, femur_knee), line_through(tibia_knee, ankle))


def anatomic_femorotibial_deviation_deg(*, femur_shaft: Line, tibia_shaft: Line) -> float:
    """Angle between the shaft lines of distal femur and proximal tibia; varus + [deg]."""
    return angulation_deg(femur_shaft, tibia_shaft)


def bone_length_mm(*, proximal_centre: Point, distal_centre: Point) -> float:
    """Length of a bone or leg between two joint centres [mm]."""
    return distance_mm(proximal_centre, distal_centre)


def knee_height_mm(*, tibia_knee: Point, ankle: Point) -> float:
    """Height of the knee centre above the ankle centre, along the film's vertical [mm]."""
    return tibia_knee.proximal_mm - ankle.proximal_mm


def deviation_from_joint_angles_deg(*, mldfa_deg: float, mpta_deg: float, jlca_deg: float) -> float:
    """Hip-knee-ankle deviation from bone and joint angles: mLDFA - MPTA + JLCA; varus + [deg].

    JLCA counts opening lateral +. Exact by the definition of the three angles.
    """
    return mldfa_deg - mpta_deg + jlca_deg


def deviation_from_lengths_mm(*, femur_mm: float, tibia_mm: float, deviation_deg: float) -> float:
    """Mechanical axis deviation of a leg of two straight parts meeting at one knee centre; medial + [mm].

    Notes
    -----
    MAD = F·T·sin d / sqrt(F² + T² + 2·F·T·cos d), the height of the triangle hip-knee-ankle.
    """
    require_within(
        "femur length", femur_mm, 1.0, 1000.0, "mm", next_step="Check the scale of the femur film."
    )
    require_within(
        "tibia length", tibia_mm, 1.0, 1000.0, "mm", next_step="Check the scale of the tibia film."
    )
    return (
        femur_mm
        * tibia_mm
        * math.sin(math.radians(deviation_deg))
        / leg_from_lengths_mm(femur_mm=femur_mm, tibia_mm=tibia_mm, deviation_deg=deviation_deg)
    )


def leg_from_lengths_mm(*, femur_mm: float, tibia_mm: float, deviation_deg: float) -> float:
    """Hip-ankle distance of a leg of two straight parts meeting at one knee centre [mm]."""
    return math.sqrt(
        femur_mm**2 + tibia_mm**2 + 2 * femur_mm * tibia_mm * math.cos(math.radians(deviation_deg))
    )
