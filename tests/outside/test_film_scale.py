"""Magnification by worked examples."""

import pytest

from limbwright.film.film import CalibrationBall, HeaderScale, KnownNail, Mark, ScaleEvidence
from limbwright.film.scale import magnification, scale_of, true_size_mm


@pytest.mark.parametrize(("source", "off", "expected"), [(3050, 150, 1.0517), (1800, 100, 1.0588)])
def test_magnification_by_distances(source: float, off: float, expected: float) -> None:
    """Projection from a point source, D/(D - o), worked by hand."""
    found = magnification(source_to_detector_mm=source, object_to_detector_mm=off)
    assert found == pytest.approx(expected, abs=1e-4)


def test_header_distances_give_the_same_magnification() -> None:
    """The same geometry through a film's header."""
    header = HeaderScale(
        imager_pixel_spacing_mm=(0.2, 0.2), source_to_detector_mm=3050.0, source_to_patient_mm=2900.0
    )
    scale = scale_of(ScaleEvidence(header=header), where="film").scale
    assert 0.2 / scale.column_mm == pytest.approx(1.0517, abs=1e-4)


def test_a_nail_of_known_diameter_as_scale() -> None:
    """Nail 10.7 mm read as 11.5, gap read as 54.0: 50.24 mm; reading it to 0.2 mm leaves 1.9 %; by hand."""
    assert true_size_mm(measured_mm=54.0, known_mm=10.7, known_measured_mm=11.5) == pytest.approx(
        50.24, abs=0.01
    )
    px_per_mm = 8.0
    nail = KnownNail(diameter_mm=10.7, diameter_px=11.5 * px_per_mm, diameter_sd_px=0.2 * px_per_mm)
    scale = scale_of(ScaleEvidence(nail=nail), where="film").scale
    assert 54.0 * px_per_mm * scale.column_mm == pytest.approx(50.24, abs=0.01)
    assert scale.relative_sd == pytest.approx(0.0174, abs=0.0002)  # 0.2 of the 11.5 read
    assert 50.24 * scale.relative_sd == pytest.approx(0.9, abs=0.05)


def test_one_centimetre_of_ball_height_is_about_one_third_of_a_percent_on_a_long_film() -> None:
    """Derived: an object 10 mm off the bone at 2.85 m from the source is 0.35 % off. A veterinary study
    (Thieme 2021) found about 1 % per centimetre, at the short distances used there: 1 m gives 1.0 %.
    """
    for bone_mm, percent in ((2850.0, 0.35), (1000.0, 1.0)):
        header = HeaderScale(source_to_detector_mm=bone_mm + 150, source_to_patient_mm=bone_mm)
        scales = [
            scale_of(
                ScaleEvidence(
                    ball=CalibrationBall(
                        diameter_mm=25.0,
                        centre=Mark(x_px=0, y_px=0),
                        radius_px=90.0,
                        depth_off_bone_mm=off,
                    ),
                    header=header,
                ),
                where="film",
            ).scale.column_mm
            for off in (0.0, 10.0)
        ]
        assert 100 * (scales[1] / scales[0] - 1) == pytest.approx(percent, abs=0.02)
