"""Joint-orientation angles of landmarks, for the truth only: in space and as they fall on the film.

Kept apart from the room that measures patients on purpose: a yardstick must not be made by what it measures.
"""

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flat = Mapping[str, Floats]
"""Landmark name to (away from the midline or anterior, up), any unit of length."""


def _between_deg(first: Floats, second: Floats) -> float:
    cross = first[0] * second[1] - first[1] * second[0]
    return float(np.degrees(np.arctan2(abs(cross), first @ second)))


def _line_deg(line: Floats) -> float:
    """Rise of a line toward its lateral or anterior end. [deg]"""
    return float(np.degrees(np.arctan2(line[1], line[0])))


def _to(points: Flat, start: str, end: str) -> Floats:
    return np.asarray(points[end] - points[start])


Rule = Callable[[Flat], float]


def _angle(first: tuple[str, str], second: tuple[str, str]) -> Rule:
    return lambda p: _between_deg(_to(p, *first), _to(p, *second))


_FEMUR_LINE = ("medial_femoral_condyle", "lateral_femoral_condyle")
_PLATEAU = ("medial_plateau", "lateral_plateau")
_FEMUR_UP = ("femur_knee_centre", "femoral_head_centre")
_TIBIA_DOWN = ("tibia_knee_centre", "ankle_centre")

FEMUR_FRONTAL: dict[str, Rule] = {
    "mLPFA": _angle(
        ("femoral_head_centre", "greater_trochanter_tip"), ("femoral_head_centre", "femur_knee_centre")
    ),
    "mLDFA": _angle(_FEMUR_LINE, _FEMUR_UP),
    "aLDFA": _angle(_FEMUR_LINE, ("femur_distal_shaft_lower", "femur_distal_shaft_upper")),
    "aMPFA": _angle(
        ("greater_trochanter_tip", "femoral_head_centre"),
        ("femur_proximal_shaft_upper", "femur_proximal_shaft_lower"),
    ),
    "NSA": _angle(
        ("femoral_neck_centre", "femoral_head_centre"),
        ("femur_proximal_shaft_upper", "femur_proximal_shaft_lower"),
    ),
}
TIBIA_FRONTAL: dict[str, Rule] = {
    "MPTA": _angle(("lateral_plateau", "medial_plateau"), _TIBIA_DOWN),
    "LDTA": _angle(("medial_plafond", "lateral_plafond"), ("ankle_centre", "tibia_knee_centre")),
    "JLCA": lambda p: _line_deg(_to(p, *_FEMUR_LINE)) - _line_deg(_to(p, *_PLATEAU)),
}
FEMUR_SAGITTAL: dict[str, Rule] = {
    "PDFA": _angle(
        ("distal_femoral_physis_anterior", "distal_femoral_physis_posterior"),
        ("femur_distal_shaft_lower", "femur_distal_shaft_upper"),
    ),
}
TIBIA_SAGITTAL: dict[str, Rule] = {
    "PPTA": _angle(
        ("plateau_anterior", "plateau_posterior"),
        ("tibia_proximal_shaft_upper", "tibia_proximal_shaft_lower"),
    ),
    "ADTA": _angle(
        ("plafond_posterior", "plafond_anterior"), ("tibia_distal_shaft_lower", "tibia_distal_shaft_upper")
    ),
}


def _applied(rules: dict[str, Rule], points: Flat) -> dict[str, float]:
    found = {}
    for name, rule in rules.items():
        try:
            found[name] = rule(points)
        except KeyError:
            # A fragment without a straight piece of shaft has no shaft line, and so no such angle.
            continue
    return found


def _in_plane(points: Mapping[str, Floats], across: Floats, up: Floats) -> Flat:
    return {name: np.array([place @ across, place @ up]) for name, place in points.items()}


def _own_axes(
    points: Mapping[str, Floats], up: tuple[str, str], side: tuple[str, str]
) -> tuple[Floats, Floats, Floats]:
    """Anterior, proximal and lateral direction of a bone, from its own landmarks."""
    y = points[up[1]] - points[up[0]]
    y = y / np.linalg.norm(y)
    z = points[side[1]] - points[side[0]]
    z = z - (z @ y) * y
    z = z / np.linalg.norm(z)
    return np.cross(y, z), y, z


def angles_in_space(points: Mapping[str, Floats]) -> dict[str, float]:
    """Angles in the frontal and sagittal plane of each bone itself, whichever way the leg is turned. [deg]

    `points` are in a right-handed frame with x anterior, y up, z lateral, mm. JLCA is + when opening lateral.
    HKA is the varus of the tibia against the femur in the femur's frontal plane, MAD the distance of the
    femur's knee centre from the line from hip to ankle, medial +. [deg; MAD mm]
    """
    fx, fy, fz = _own_axes(points, _FEMUR_UP, _FEMUR_LINE)
    tx, ty, tz = _own_axes(points, ("ankle_centre", "tibia_knee_centre"), _PLATEAU)
    return {
        **_applied(FEMUR_FRONTAL, _in_plane(points, fz, fy)),
        **_applied(TIBIA_FRONTAL, _in_plane(points, tz, ty)),
        **_applied(FEMUR_SAGITTAL, _in_plane(points, fx, fy)),
        **_applied(TIBIA_SAGITTAL, _in_plane(points, tx, ty)),
        **_alignment(_in_plane(points, fz, fy)),
    }


def angles_on_film(points: Flat, *, frontal: bool) -> dict[str, float]:
    """Angles as a reader measures them on a film. [deg; MAD in the unit of `points`]"""
    if not frontal:
        return {**_applied(FEMUR_SAGITTAL, points), **_applied(TIBIA_SAGITTAL, points)}
    return {**_applied(FEMUR_FRONTAL, points), **_applied(TIBIA_FRONTAL, points), **_alignment(points)}


def _alignment(points: Flat) -> dict[str, float]:
    femur = _to(points, "femoral_head_centre", "femur_knee_centre")
    tibia = _to(points, "tibia_knee_centre", "ankle_centre")
    leg = _to(points, "femoral_head_centre", "ankle_centre")
    # Directions from straight down toward lateral; varus is a tibia that points medially of the femur.
    swing = [np.degrees(np.arctan2(line[0], -line[1])) for line in (femur, tibia)]
    aside = femur[0] * leg[1] - femur[1] * leg[0]
    # Knee lateral of the hip-ankle line means the line passes medial of the knee.
    return {"HKA": float(swing[0] - swing[1]), "MAD": float(-aside / np.linalg.norm(leg))}
