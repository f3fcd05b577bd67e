"""Mechanical axis deviation, and what lengthening a femur along its shaft does to it, on measured legs."""

import cmath
import math

import pytest

from limbwright.limb.alignment import deviation_from_lengths_mm
from limbwright.limb.anatomy import Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.measure import readings
from limbwright.limb.reading import Measure
from limbwright.limb.view import Spot, View


def turn(deg: float) -> complex:
    return cmath.exp(1j * math.radians(deg))


def measured(points: dict[Landmark, complex]) -> dict[Measure, float]:
    view = View(
        side=Side.LEFT,
        projection=Projection.FRONTAL,
        spots={k: Spot(across_mm=z.real, proximal_mm=z.imag, sd_mm=0.0) for k, z in points.items()},
        scaled=True,
        scale_relative_sd=0.0,
    )
    return {r.measure: r.value.value for r in readings(view, age_years=40).values}


@pytest.mark.parametrize(
    ("femur", "tibia", "varus", "mad"),
    [(430, 360, 10, 34.16), (430, 360, 1, 3.42), (450, 370, 5, 17.71)],
)
def test_mad_of_two_straight_parts(femur: float, tibia: float, varus: float, mad: float) -> None:
    """Height of a triangle, worked by hand to 0.01 mm; derived."""
    assert deviation_from_lengths_mm(femur_mm=femur, tibia_mm=tibia, deviation_deg=varus) == pytest.approx(
        mad, abs=0.01
    )
    knee = 30 + 500j
    leg = {
        Landmark.FEMORAL_HEAD_CENTRE: knee + femur * 1j * turn(3),
        Landmark.FEMUR_KNEE_CENTRE: knee,
        Landmark.TIBIA_KNEE_CENTRE: knee,
        Landmark.ANKLE_CENTRE: knee - tibia * 1j * turn(3 - varus),
    }
    found = measured(leg)
    assert found[Measure.HKA] == pytest.approx(varus, abs=0.01)
    assert found[Measure.MAD] == pytest.approx(mad, abs=0.01)


def test_about_three_and_a_half_millimetres_per_degree() -> None:
    """Common practice, no source: 3 to 4 mm of MAD for each degree in an adult leg."""
    assert 3 < deviation_from_lengths_mm(femur_mm=430, tibia_mm=360, deviation_deg=1) < 4


def femur_lengthened(ama: float, femur: float, tibia: float, by: float) -> dict[Landmark, complex]:
    """A straight leg whose femur was lengthened along a shaft leaning `ama` medially."""
    shaft = -1j * turn(-ama)
    shift = by * shaft
    hip = 0 + 1000j
    knee = hip - 1j * femur
    condyle = turn(-2)  # mLDFA 88 before
    return {
        Landmark.FEMORAL_HEAD_CENTRE: hip,
        Landmark.FEMUR_DISTAL_SHAFT_UPPER: knee - 10 - 200 * shaft + shift,
        Landmark.FEMUR_DISTAL_SHAFT_LOWER: knee - 10 - 100 * shaft + shift,
        Landmark.MEDIAL_FEMORAL_CONDYLE: knee - 25 / condyle + shift,
        Landmark.LATERAL_FEMORAL_CONDYLE: knee + 25 / condyle + shift,
        Landmark.FEMUR_KNEE_CENTRE: knee + shift,
        Landmark.TIBIA_KNEE_CENTRE: knee + shift,
        Landmark.ANKLE_CENTRE: knee - 1j * tibia + shift,
    }


@pytest.mark.parametrize(
    ("ama", "by", "mad", "mldfa"),
    [(5, 50, 1.85, 0.50), (6, 50, 2.22, 0.60), (7, 50, 2.59, 0.70), (7, 80, 4.01, 1.06)],
)
def test_lengthening_a_femur_along_its_shaft(ama: float, by: float, mad: float, mldfa: float) -> None:
    """Rigid geometry, F 450, T 370 mm: lateral shift of the mechanical axis, fall of mLDFA; derived.

    Burghardt et al. 2012 (J Bone Joint Surg Br, abstract) observed 1.0 mm per 10 mm in patients; that
    includes play of the nail and is not expected here.
    """
    before, after = (measured(femur_lengthened(ama, 450, 370, d)) for d in (0, by))
    assert after[Measure.MAD] - before[Measure.MAD] == pytest.approx(-mad, abs=0.01)
    assert after[Measure.MLDFA] - before[Measure.MLDFA] == pytest.approx(-mldfa, abs=0.01)


def test_emara_2017() -> None:
    """Emara et al., Effect of lengthening along the anatomical axis of the femur and its clinical impact,
    World J Orthop 8(5):431-435, 2017: 10 % of lengthening lowers the angle between the axes by 0.57
    degrees (the angle of 6.3 degrees before is chosen here).
    """
    before, after = (measured(femur_lengthened(6.3, 450, 370, d)) for d in (0, 45))
    assert before[Measure.AMA] == pytest.approx(6.3)
    assert after[Measure.AMA] - before[Measure.AMA] == pytest.approx(-0.57, abs=0.01)
