"""Deformities as plain JSON objects: each plane with its apexes, and both planes together."""

from limbwright.case.situation import BoneDeformity
from limbwright.case.space import SpatialDeformity
from limbwright.interop.plain import Plain, measured_plain
from limbwright.limb.anatomy import Projection
from limbwright.limb.apex import Apex
from limbwright.limb.deformity import Deformity
from limbwright.quantity import (
    ANTERIOR_POSTERIOR,
    LATERAL_MEDIAL,
    PROCURVATUM_RECURVATUM,
    VARUS_VALGUS,
    Sense,
)

_PLANES = {Projection.FRONTAL: VARUS_VALGUS, Projection.SAGITTAL: PROCURVATUM_RECURVATUM}


def deformities_plain(seen: tuple[BoneDeformity, ...]) -> list[Plain]:
    """Every plane of every bone that could be drawn."""
    return [_deformity(plane) for bone in seen for plane in bone.planes()]


def spatial_plain(found: tuple[SpatialDeformity, ...]) -> list[Plain]:
    """Bones with both planes known, in space."""
    return [
        {
            "bone": item.bone.value,
            "true_angulation": {
                "deg": round(item.oblique.magnitude.value, 4),
                "sd_deg": round(item.oblique.magnitude.sd, 4),
                "apex": item.oblique.words,
            },
            "plane_from_frontal": None
            if item.oblique.from_frontal is None
            else {
                "deg": round(item.oblique.from_frontal.value, 4),
                "sd_deg": round(item.oblique.from_frontal.sd, 4),
            },
            "one_turn": None
            if item.turn is None
            else {
                "angle_deg": round(item.turn.angle_deg, 4),
                "axis_inclination_deg": round(item.turn.inclination_deg, 4),
                "slide_mm": round(item.turn.slide_mm, 4),
                "axis_point": None
                if item.turn.point_mm is None
                else {
                    "lateral_mm": round(item.turn.point_mm.lateral, 2),
                    "anterior_mm": round(item.turn.point_mm.anterior, 2),
                    "proximal_mm": round(item.turn.point_mm.proximal, 2),
                },
            },
        }
        for item in found
    ]


def _deformity(plane: Deformity) -> Plain:
    return {
        "bone": plane.bone.value,
        "projection": plane.projection.value,
        "pattern": plane.pattern.value,
        "total": measured_plain(plane.total, _PLANES[plane.projection]),
        "apexes": [_apex(apex) for apex in plane.apexes],
        "alternatives": [_apex(apex) for apex in plane.alternatives],
    }


def _apex(apex: Apex) -> Plain:
    shift = LATERAL_MEDIAL if apex.projection is Projection.FRONTAL else ANTERIOR_POSTERIOR
    return {
        "outcome": apex.outcome.value,
        "angulation": measured_plain(apex.angulation, _PLANES[apex.projection]),
        "from_proximal_joint": measured_plain(apex.from_proximal_joint, (Sense.DISTAL, Sense.PROXIMAL)),
        "from_distal_joint": measured_plain(apex.from_distal_joint, (Sense.PROXIMAL, Sense.DISTAL)),
        "translation": measured_plain(apex.translation, shift),
        "proximal_axis": apex.proximal.construction.value,
        "distal_axis": apex.distal.construction.value,
    }
