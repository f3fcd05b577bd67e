"""Where spongy bone has a grain of its own direction, on one film."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from limbwright.film.phantom.ray import Beam

if TYPE_CHECKING:
    from limbwright.film.phantom.patient import PosedPatient

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Grain:
    """A round patch of film in which trabeculae run one way."""

    centre_px: tuple[float, float]
    """Column and row. [px]"""
    radius_px: float
    """Reach; the grain fades out toward it. [px]"""
    turned_deg: float
    """Direction: 0 is down the film, + leans the upper end to the viewer's right. [deg]"""


def _lean_deg(direction: Floats) -> float:
    """Lean of an upward direction on the film (column, row). [deg]"""
    return float(np.degrees(np.arctan2(direction[0], -direction[1])))


def grains(posed: "PosedPatient", beam: Beam) -> tuple[Grain, ...]:
    """Grain of the bone ends on a film: along the load, as trabeculae run.

    Head and neck follow the compressive bundle from the calcar to the top of the head, the trochanter the
    tensile arcade across it, the heel the line from the ankle to the ground. The other ends follow
    their shafts.
    """
    found = []
    for leg, places in zip(posed.legs, posed.landmarks, strict=True):
        width = leg.shape.bone_width
        flat = {name: beam.project(place[None])[0] for name, place in places.items()}
        head, neck = flat["femoral_head_centre"], flat["femoral_neck_centre"]
        up = np.array([0.0, -1.0])
        toward = (head - neck) / max(float(np.linalg.norm(head - neck)), 1e-9)
        bundle = _lean_deg(0.45 * toward + 0.55 * up)
        femur = _lean_deg(flat["femoral_head_centre"] - flat["femur_knee_centre"])
        tibia = _lean_deg(flat["tibia_knee_centre"] - flat["ankle_centre"])
        # Patches must not overlap: where two meet, the texture would be counted twice.
        below = np.array([0.0, 31.0 * beam.px_per_mm * width])
        heel = leg.into_patient(leg.foot(width * np.array([[-26.0, -54.0, 0.0], [-44.0, -72.0, 0.0]])))
        heel_px = beam.project(heel)
        for centre, reach_mm, lean in (
            (head, 1.25 * leg.shape.head_radius_mm, bundle),
            (
                flat["greater_trochanter_tip"] + np.array([0.0, 18.0 * beam.px_per_mm * width]),
                24.0,
                -1.6 * bundle,
            ),
            (flat["femur_knee_centre"] - below, 31.0 * width, femur),
            (flat["tibia_knee_centre"] + below, 31.0 * width, tibia),
            (flat["ankle_centre"] + np.array([0.0, -14.0 * beam.px_per_mm * width]), 26.0 * width, tibia),
            (heel_px[0], 34.0 * width, _lean_deg(heel_px[0] - heel_px[1])),
        ):
            found.append(
                Grain(
                    centre_px=(float(centre[0]), float(centre[1])),
                    radius_px=reach_mm * beam.px_per_mm,
                    turned_deg=lean,
                )
            )
    return tuple(found)
