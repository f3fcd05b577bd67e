"""Uncertainty stated for an adult leg read with the default errors, against what observers differ by."""

from dataclasses import replace

import pytest

from limbwright.film.film import CalibrationType, Film, HeaderScale, Mark, ScaleEvidence
from limbwright.film.leg import views_of
from limbwright.limb.anatomy import Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.measure import readings
from limbwright.limb.reading import Measure, Readings

LEG_MM = {
    Landmark.FEMORAL_HEAD_CENTRE: (200, 100),
    Landmark.FEMUR_KNEE_CENTRE: (185, 530),
    Landmark.MEDIAL_FEMORAL_CONDYLE: (210, 532),
    Landmark.LATERAL_FEMORAL_CONDYLE: (160, 531),
    Landmark.TIBIA_KNEE_CENTRE: (185, 534),
    Landmark.MEDIAL_PLATEAU: (216, 540),
    Landmark.LATERAL_PLATEAU: (154, 538),
    Landmark.ANKLE_CENTRE: (190, 895),
}


@pytest.fixture(scope="module")
def stated() -> Readings:
    px = 0.15
    film = Film(
        name="standing",
        projection=Projection.FRONTAL,
        width_px=3000,
        height_px=7000,
        scale=ScaleEvidence(
            header=HeaderScale(pixel_spacing_mm=(px, px), calibration_type=CalibrationType.FIDUCIAL)
        ),
        right={k: Mark(x_px=x / px, y_px=y / px) for k, (x, y) in LEG_MM.items()},
    )
    view = views_of((film,), Side.RIGHT).need(Projection.FRONTAL)
    # Observers read the same film, so its scale is common to them and not part of their difference.
    return readings(replace(view, scale_relative_sd=0.0), age_years=40)


@pytest.mark.parametrize(
    ("measure", "sem95"),
    [
        (Measure.HKA, 1.39),
        (Measure.MLDFA, 1.06),
        (Measure.MPTA, 1.29),
        (Measure.MAD, 3.31),
        (Measure.FEMUR_LENGTH, 4.53),
        (Measure.TIBIA_LENGTH, 3.12),
    ],
)
def test_braun_2023(stated: Readings, measure: Measure, sem95: float) -> None:
    """Braun et al., Intra- and interobserver reliability analysis of pediatric lower limb parameters,
    J Orthop Surg Res 18:69, 2023, abstract: 95 % standard error of measurement. (HKA is the femorotibial
    angle there.) Ours must be of the same order: between half and twice.
    """
    assert 0.5 < 1.96 * stated.need(measure).value.sd / sem95 < 2.0


def test_gordon_2009(stated: Readings) -> None:
    """Gordon et al. 2009, reliability of mechanical axis deviation (author and year from memory, figures from
    the abstract): within observers 1.4 degrees and 1.9 mm, between them 1.6 degrees and 3.1 mm.
    """
    assert 0.5 * 1.9 < stated.need(Measure.MAD).value.sd < 3.1
    for measure in (Measure.MLDFA, Measure.MPTA):
        assert 0.4 * 1.4 < stated.need(measure).value.sd < 1.6


def test_the_joint_line_angle_is_the_least_certain(stated: Readings) -> None:
    """Braun et al. 2023: the relative error of the JLCA was 138 %, far above that of the bone angles."""
    jlca = stated.need(Measure.JLCA).value
    assert jlca.sd > stated.need(Measure.MLDFA).value.sd
    assert jlca.sd / abs(jlca.value) > 20 * stated.need(Measure.MLDFA).value.sd / 88
