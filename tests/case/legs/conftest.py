"""A case whose legs were drawn on a film of 1 mm per pixel: one straight, one bent and short."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from limbwright.case.case import Case
from limbwright.case.patient import Patient
from limbwright.film.film import CalibrationType, Film, HeaderScale, Mark, ScaleEvidence
from limbwright.growth.growth import Sex
from limbwright.limb.anatomy import Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.plan.circumstances import Examination

MM = ScaleEvidence(header=HeaderScale(pixel_spacing_mm=(1.0, 1.0), calibration_type=CalibrationType.FIDUCIAL))


def drawn_leg(tibia_mm: float, *, bent_mm: float = 0.0) -> dict[str, tuple[float, float]]:
    """Frontal landmarks (lateral, proximal) of a straight leg whose tibia turns 130 mm below the knee."""
    slope = bent_mm / (tibia_mm - 130.0)

    def tibia(depth: float) -> tuple[float, float]:
        return (-4.0 + max(0.0, depth - 130.0) * slope, -depth)

    ankle = tibia(tibia_mm)
    return {
        "femoral_head_centre": (0.0, 430.0),
        "greater_trochanter_tip": (55.0, 430.0),
        "femur_proximal_shaft_upper": (38.0, 330.0),
        "femur_proximal_shaft_lower": (29.0, 250.0),
        "femur_distal_shaft_upper": (20.0, 170.0),
        "femur_distal_shaft_lower": (11.0, 90.0),
        "femur_knee_centre": (0.0, 0.0),
        "tibia_knee_centre": (0.0, 0.0),
        "medial_femoral_condyle": (-22.0, -5.0),
        "lateral_femoral_condyle": (22.0, -3.5),
        "medial_plateau": (-22.0, -11.0),
        "lateral_plateau": (22.0, -9.0),
        "tibia_proximal_shaft_upper": tibia(60.0),
        "tibia_proximal_shaft_lower": tibia(120.0),
        "tibia_distal_shaft_upper": tibia(150.0),
        "tibia_distal_shaft_lower": tibia(tibia_mm - 40.0),
        "medial_plafond": (ankle[0] - 12.0, ankle[1] - 12.0 * slope),
        "lateral_plafond": (ankle[0] + 12.0, ankle[1] + 12.0 * slope),
        "ankle_centre": (ankle[0] + 4.0, ankle[1]),
    }


def drawn(
    treated_mm: float = 315.0, bent_mm: float = -36.0, *, other_shown: bool = True, **changes: Any
) -> Case:
    def marks(points: dict[str, tuple[float, float]], x0: float, sign: float) -> dict[Landmark, Mark]:
        return {
            Landmark(n): Mark(x_px=x0 + sign * a, y_px=500 - p, sd_px=0.3) for n, (a, p) in points.items()
        }

    film = Film(
        name="frontal",
        projection=Projection.FRONTAL,
        width_px=800,
        height_px=1000,
        scale=MM,
        right=marks(drawn_leg(treated_mm, bent_mm=bent_mm), 250.0, -1.0),
        left=marks(drawn_leg(350.0), 550.0, 1.0) if other_shown else {},
    )
    case = Case(
        id="c",
        side=Side.RIGHT,
        patient=Patient(id="P", sex=Sex.FEMALE, age_years=28.0),
        films=(film,),
        examination=Examination(block_test_mm=36.0),
    )
    return replace(case, **changes)


@pytest.fixture
def case_of() -> Callable[..., Case]:
    """Draws a case: length of the treated tibia, bend at its ankle, and changed fields."""
    return drawn


@pytest.fixture
def drawn_case() -> Case:
    """A right tibia short and in varus."""
    return drawn()
