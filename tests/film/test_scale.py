import math
from dataclasses import replace

import pytest

from limbwright.error import OutOfRange
from limbwright.film.film import (
    CalibrationBall,
    CalibrationType,
    HeaderScale,
    KnownNail,
    Mark,
    Ruler,
    ScaleEvidence,
    TypedMagnification,
)
from limbwright.film.scale import ScaleMethod, bone_distance_mm, magnification, scale_of, true_size_mm
from limbwright.finding import Severity

BALL = CalibrationBall(
    diameter_mm=25.0, centre=Mark(x_px=10, y_px=10), radius_px=100.0, depth_off_bone_sd_mm=0.0
)
RULER = Ruler(
    start=Mark(x_px=0, y_px=0), end=Mark(x_px=0, y_px=800), length_mm=100.0, depth_off_bone_sd_mm=0.0
)
NAIL = KnownNail(diameter_mm=10.7, diameter_px=85.6)
DETECTOR = HeaderScale(pixel_spacing_mm=(0.14, 0.14), imager_pixel_spacing_mm=(0.14, 0.14))


def read(**evidence):
    return scale_of(ScaleEvidence(**evidence), where="standing")


def ids(result):
    return [finding.id for finding in result.findings]


def test_the_most_trusted_evidence_is_used_and_the_others_check_it():
    header = HeaderScale(
        pixel_spacing_mm=(0.126, 0.126),
        calibration_type=CalibrationType.FIDUCIAL,
        imager_pixel_spacing_mm=(0.132, 0.132),
        magnification=1.05,
        source_to_detector_mm=3000.0,
        source_to_patient_mm=2850.0,
    )
    result = read(
        ball=BALL, ruler=RULER, nail=NAIL, header=header, typed=TypedMagnification(magnification=1.05)
    )
    assert result.scale.method is ScaleMethod.BALL
    assert [s.method for s in result.others] == list(ScaleMethod)[1:]
    assert result.findings == ()
    assert result.scale.column_mm == pytest.approx(0.125)
    assert [s.column_mm for s in result.others] == [
        pytest.approx(0.125),
        pytest.approx(0.125),
        pytest.approx(0.126),
        pytest.approx(0.132 / 1.05),
        pytest.approx(0.132 * 0.95),
        pytest.approx(0.132 / 1.05),
    ]


def test_reading_error_of_ball_ruler_and_nail():
    assert read(ball=BALL).scale.relative_sd == pytest.approx(0.005)
    assert read(ruler=RULER).scale.relative_sd == pytest.approx(math.sqrt(2) / 800)
    assert read(nail=NAIL).scale.relative_sd == pytest.approx(0.5 / 85.6)


def test_a_ball_off_the_bone_is_corrected_and_its_depth_error_carried():
    header = HeaderScale(source_to_detector_mm=3000.0, source_to_patient_mm=2850.0)
    ball = CalibrationBall(
        diameter_mm=25.0,
        centre=Mark(x_px=0, y_px=0),
        radius_px=100.0,
        radius_sd_px=1e-9,
        depth_off_bone_mm=30.0,
        depth_off_bone_sd_mm=20.0,
    )
    scale = read(ball=ball, header=header).scale
    # Nearer to the source the ball looks larger, so a pixel shows more of the bone than of the ball.
    assert scale.column_mm == pytest.approx(0.125 * 2850 / 2820)
    assert scale.relative_sd == pytest.approx(20 / 2820, rel=0.01)


def test_an_absurd_depth_is_refused_as_scale():
    ball = CalibrationBall(
        diameter_mm=25.0, centre=Mark(x_px=0, y_px=0), radius_px=100.0, depth_off_bone_mm=400.0
    )
    header = HeaderScale(source_to_detector_mm=1000.0, source_to_patient_mm=900.0)
    result = read(ball=ball, header=header)
    assert result.scale is None
    assert ids(result) == ["scale-evidence-refused", "film-without-scale"]
    assert "distance of the scale object from the bone is 400 mm, expected -270 to 270 mm" in (
        result.findings[0].words
    )


def test_equal_spacings_without_type_are_the_detectors():
    result = read(header=DETECTOR)
    assert result.scale is None
    assert result.detector_mm == 0.14
    (finding,) = result.findings
    assert finding.id == "film-without-scale"
    assert finding.severity is Severity.CAUTION
    assert "pixel spacing of the detector only" in finding.words


def test_a_lone_pixel_spacing_without_type_is_not_trusted():
    assert read(header=HeaderScale(pixel_spacing_mm=(0.14, 0.14))).scale is None


def test_a_spacing_that_differs_from_the_detectors_is_used_with_a_note():
    result = read(header=HeaderScale(pixel_spacing_mm=(0.13, 0.13), imager_pixel_spacing_mm=(0.14, 0.14)))
    assert result.scale.column_mm == 0.13
    assert result.scale.relative_sd == 0.05
    assert ids(result) == ["scale-calibration-unstated"]


def test_an_equal_spacing_with_type_is_believed():
    header = HeaderScale(
        pixel_spacing_mm=(0.14, 0.14),
        imager_pixel_spacing_mm=(0.14, 0.14),
        calibration_type=CalibrationType.GEOMETRY,
    )
    assert read(header=header).scale.relative_sd == 0.03


def test_typed_magnification_needs_the_detectors_spacing():
    typed = TypedMagnification(magnification=1.1)
    assert read(header=DETECTOR, typed=typed).scale.column_mm == pytest.approx(0.14 / 1.1)
    result = read(typed=typed)
    assert result.scale is None
    assert "the header does not say how large a pixel of the detector is" in result.findings[0].words


def test_nothing_at_all_is_no_scale():
    result = read()
    assert result.scale is None
    assert "nothing on it or in its header tells its size" in result.findings[0].words


def test_scales_that_disagree_are_reported_and_those_that_agree_are_not():
    large = KnownNail(diameter_mm=12.5, diameter_px=85.6)
    result = read(ball=BALL, nail=large)
    assert ids(result) == ["scales-disagree"]
    assert "scale by nail of known diameter (0.1460 mm per pixel)" in result.findings[0].words
    assert "by +16.8 %; their uncertainties explain 1.5 %" in result.findings[0].words
    assert read(ball=BALL, nail=NAIL).findings == ()


def test_an_image_smaller_than_the_bone_is_reported():
    result = read(ball=BALL, header=HeaderScale(imager_pixel_spacing_mm=(0.1, 0.1)))
    assert ids(result) == ["scale-above-detector"]


def test_pixels_that_are_not_square():
    header = HeaderScale(
        pixel_spacing_mm=(0.28, 0.14),
        calibration_type=CalibrationType.FIDUCIAL,
    )
    scale = read(header=header).scale
    assert (scale.row_mm, scale.column_mm) == (0.28, 0.14)
    # 400 rows of double height are as long as 800 columns.
    ruler = Ruler(
        start=Mark(x_px=0, y_px=0), end=Mark(x_px=600, y_px=400), length_mm=100.0, depth_off_bone_sd_mm=0.0
    )
    scale = read(ruler=ruler, header=header).scale
    assert scale.column_mm == pytest.approx(0.1)
    assert scale.row_mm == pytest.approx(0.2)


def test_a_scale_far_from_any_film_is_refused():
    ball = CalibrationBall(diameter_mm=25.0, centre=Mark(x_px=0, y_px=0), radius_px=2.0)
    result = read(ball=ball)
    assert result.scale is None
    assert "scale by calibration ball is 6.25 mm per pixel, expected 0.03 to 2 mm per pixel" in (
        result.findings[0].words
    )


def test_source_distances_that_contradict_each_other_are_refused():
    header = HeaderScale(
        imager_pixel_spacing_mm=(0.14, 0.14), source_to_detector_mm=1000.0, source_to_patient_mm=1100.0
    )
    result = read(header=header)
    assert result.scale is None
    assert "source to patient 1100 mm and source to detector 1000 mm" in result.findings[0].words


def test_a_magnification_below_one_in_the_header_is_refused():
    header = HeaderScale(imager_pixel_spacing_mm=(0.14, 0.14), magnification=0.9)
    result = read(header=header)
    assert result.scale is None
    assert "magnification is 0.9" in result.findings[0].words
    # The distances of the same header are still good.
    distances = replace(header, source_to_detector_mm=3000.0, source_to_patient_mm=2850.0)
    assert read(header=distances).scale.method is ScaleMethod.DISTANCES


def test_distance_of_the_bone_from_the_source_when_the_header_is_silent():
    assert bone_distance_mm(HeaderScale())[0] == 2600
    assert bone_distance_mm(HeaderScale(source_to_detector_mm=3000.0)) == (2850, 50)
    assert bone_distance_mm(HeaderScale())[1] > 50


def test_impossible_geometry_is_refused():
    with pytest.raises(OutOfRange, match=r"distance from object to detector is 3000 mm"):
        magnification(source_to_detector_mm=3000, object_to_detector_mm=3000)
    with pytest.raises(OutOfRange, match="measured size of the known object is 0 mm"):
        true_size_mm(measured_mm=50, known_mm=10.7, known_measured_mm=0)
