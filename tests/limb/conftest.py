"""Legs built by hand from wanted angles, with complex numbers and without any code of the package's geometry.

A direction is a complex number, real part lateral (or anterior), imaginary part proximal. Turning
counter-clockwise goes from lateral over proximal to medial.
"""

import cmath
import math
from collections.abc import Callable

import pytest

from limbwright.limb.anatomy import Bone, Projection, Side
from limbwright.limb.apex import Apex
from limbwright.limb.deformity import deformity
from limbwright.limb.landmark import Landmark
from limbwright.limb.template import templates
from limbwright.limb.view import Spot, View

Build = Callable[..., View]


def turn(deg: float) -> complex:
    return cmath.exp(1j * math.radians(deg))


def frontal_points(
    *,
    mldfa: float = 88.0,
    mpta: float = 87.0,
    jlca: float = 1.0,
    ldta: float = 89.0,
    mlpfa: float = 90.0,
    ama: float = 7.0,
    neck_shaft: float = 130.0,
    femur_mm: float = 430.0,
    tibia_mm: float = 360.0,
    femur_lean: float = 2.0,
    hip: complex = 0 + 900j,
) -> dict[Landmark, complex]:
    femur_down = -1j * turn(femur_lean)
    knee = hip + femur_mm * femur_down
    condyles_lateral = -femur_down * turn(-mldfa)
    plateau_lateral = condyles_lateral * turn(-jlca)
    tibia_down = -plateau_lateral * turn(mpta)
    ankle = knee + tibia_mm * tibia_down
    plafond_lateral = -tibia_down * turn(-ldta)
    trochanter = femur_down * turn(mlpfa)
    shaft_down = femur_down * turn(-ama)
    shaft = knee - 10 * condyles_lateral
    neck = shaft_down * turn(neck_shaft)
    tibia_shaft = knee - 4 * plateau_lateral
    return {
        Landmark.FEMORAL_HEAD_CENTRE: hip,
        Landmark.GREATER_TROCHANTER_TIP: hip + 45 * trochanter,
        Landmark.FEMORAL_NECK_CENTRE: hip - 30 * neck,
        Landmark.FEMUR_PROXIMAL_SHAFT_UPPER: shaft - 330 * shaft_down,
        Landmark.FEMUR_PROXIMAL_SHAFT_LOWER: shaft - 250 * shaft_down,
        Landmark.FEMUR_DISTAL_SHAFT_UPPER: shaft - 180 * shaft_down,
        Landmark.FEMUR_DISTAL_SHAFT_LOWER: shaft - 100 * shaft_down,
        Landmark.MEDIAL_FEMORAL_CONDYLE: knee - 24 * condyles_lateral,
        Landmark.LATERAL_FEMORAL_CONDYLE: knee + 26 * condyles_lateral,
        Landmark.FEMUR_KNEE_CENTRE: knee,
        Landmark.TIBIA_KNEE_CENTRE: knee,
        Landmark.MEDIAL_PLATEAU: knee - 5j - 30 * plateau_lateral,
        Landmark.LATERAL_PLATEAU: knee - 5j + 32 * plateau_lateral,
        Landmark.TIBIA_PROXIMAL_SHAFT_UPPER: tibia_shaft + 80 * tibia_down,
        Landmark.TIBIA_PROXIMAL_SHAFT_LOWER: tibia_shaft + 140 * tibia_down,
        Landmark.TIBIA_DISTAL_SHAFT_UPPER: tibia_shaft + 220 * tibia_down,
        Landmark.TIBIA_DISTAL_SHAFT_LOWER: tibia_shaft + 300 * tibia_down,
        Landmark.MEDIAL_PLAFOND: ankle - 14 * plafond_lateral,
        Landmark.LATERAL_PLAFOND: ankle + 15 * plafond_lateral,
        Landmark.ANKLE_CENTRE: ankle,
    }


def sagittal_points(
    *,
    pdfa: float = 83.0,
    ppta: float = 81.0,
    adta: float = 80.0,
    femur_lean: float = 4.0,
    tibia_lean: float = 6.0,
) -> dict[Landmark, complex]:
    femur_down, tibia_down = -1j * turn(femur_lean), -1j * turn(tibia_lean)
    knee = 20 + 470j
    ankle = knee + 360 * tibia_down
    physis_posterior = -femur_down * turn(pdfa)
    plateau_posterior = tibia_down * turn(-ppta)
    plafond_anterior = -tibia_down * turn(-adta)
    plateau = knee - 20j
    return {
        Landmark.FEMUR_DISTAL_SHAFT_UPPER: knee - 180 * femur_down,
        Landmark.FEMUR_DISTAL_SHAFT_LOWER: knee - 90 * femur_down,
        Landmark.DISTAL_FEMORAL_PHYSIS_ANTERIOR: knee - 20 * physis_posterior,
        Landmark.DISTAL_FEMORAL_PHYSIS_POSTERIOR: knee + 30 * physis_posterior,
        # One fifth of a plateau of 50 mm lies before the shaft line.
        Landmark.PLATEAU_ANTERIOR: plateau - 10 * plateau_posterior,
        Landmark.PLATEAU_POSTERIOR: plateau + 40 * plateau_posterior,
        Landmark.TIBIA_PROXIMAL_SHAFT_UPPER: plateau + 70 * tibia_down,
        Landmark.TIBIA_PROXIMAL_SHAFT_LOWER: plateau + 140 * tibia_down,
        Landmark.TIBIA_DISTAL_SHAFT_UPPER: plateau + 200 * tibia_down,
        Landmark.TIBIA_DISTAL_SHAFT_LOWER: plateau + 300 * tibia_down,
        Landmark.PLAFOND_ANTERIOR: ankle + 16 * plafond_anterior,
        Landmark.PLAFOND_POSTERIOR: ankle - 16 * plafond_anterior,
    }


def view_from(
    points: dict[Landmark, complex],
    *,
    projection: Projection = Projection.FRONTAL,
    side: Side = Side.RIGHT,
    sd_mm: float = 1.0,
    scaled: bool = True,
    scale_relative_sd: float = 0.01,
    patch: str = "film",
) -> View:
    return View(
        side=side,
        projection=projection,
        spots={
            landmark: Spot(across_mm=z.real, proximal_mm=z.imag, sd_mm=sd_mm, patch=patch)
            for landmark, z in points.items()
        },
        scaled=scaled,
        scale_relative_sd=scale_relative_sd if scaled else 0.0,
    )


def bent(
    points: dict[Landmark, complex], at: complex, deg: float, moving: Callable[[Landmark], bool]
) -> dict[Landmark, complex]:
    """Turn some landmarks about a point; `deg` varus or procurvatum + of the part below it."""
    return {k: at + (z - at) * turn(-deg) if moving(k) else z for k, z in points.items()}


@pytest.fixture(scope="session")
def bend() -> Callable[..., dict[Landmark, complex]]:
    """Turn some landmarks about a point."""
    return bent


BELOW_TIBIA_BEND = {
    Landmark.TIBIA_DISTAL_SHAFT_UPPER,
    Landmark.TIBIA_DISTAL_SHAFT_LOWER,
    Landmark.MEDIAL_PLAFOND,
    Landmark.LATERAL_PLAFOND,
    Landmark.ANKLE_CENTRE,
    Landmark.PLAFOND_ANTERIOR,
    Landmark.PLAFOND_POSTERIOR,
}


@pytest.fixture(scope="session")
def bent_tibia() -> Callable[[float, float], tuple[tuple[View, Apex], tuple[View, Apex]]]:
    """A tibia bent in both planes, at two levels: frontal and sagittal view with their apexes."""

    def build(varus: float, procurvatum: float) -> tuple[tuple[View, Apex], tuple[View, Apex]]:
        known = templates(None, age_years=30)
        result = []
        for projection, marks, below_shaft, angle in (
            (
                Projection.FRONTAL,
                frontal_points(mldfa=87.0, mpta=87.0, jlca=0.0, femur_lean=0.0),
                40,
                varus,
            ),
            (Projection.SAGITTAL, sagittal_points(tibia_lean=0.0), 30, procurvatum),
        ):
            at = marks[Landmark.TIBIA_PROXIMAL_SHAFT_LOWER] - 1j * below_shaft
            points = bent(marks, at, angle, BELOW_TIBIA_BEND.__contains__)
            view = view_from(points, projection=projection, sd_mm=0.2)
            result.append((view, deformity(view, Bone.TIBIA, known).apexes[0]))
        return result[0], result[1]

    return build


@pytest.fixture(scope="session")
def sagittal_marks() -> Callable[..., dict[Landmark, complex]]:
    """Complex points of a sagittal leg."""
    return sagittal_points


@pytest.fixture(scope="session")
def frontal() -> Build:
    """Build a frontal view from wanted angles."""

    def build(*, side: Side = Side.RIGHT, sd_mm: float = 1.0, scaled: bool = True, **angles: float) -> View:
        return view_from(frontal_points(**angles), side=side, sd_mm=sd_mm, scaled=scaled)

    return build


@pytest.fixture(scope="session")
def sagittal() -> Build:
    """Build a sagittal view from wanted angles."""

    def build(**angles: float) -> View:
        return view_from(sagittal_points(**angles), projection=Projection.SAGITTAL)

    return build


@pytest.fixture(scope="session")
def of_points() -> Build:
    """Build a view from complex points."""
    return view_from


@pytest.fixture(scope="session")
def frontal_marks() -> Callable[..., dict[Landmark, complex]]:
    """Complex points of a frontal leg."""
    return frontal_points
