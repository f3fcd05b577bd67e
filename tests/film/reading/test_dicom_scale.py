import film_files as files
import pytest

from limbwright.film.film import CalibrationType
from limbwright.film.reading import read_facts


def _read(**elements):
    return read_facts(files.film(**elements), name="film")


def test_row_spacing_comes_first():
    scale = _read(PixelSpacing=[0.14, 0.2], ImagerPixelSpacing=[0.15, 0.21]).facts.scale
    assert scale.pixel_spacing_mm == (0.14, 0.2)
    assert scale.imager_pixel_spacing_mm == (0.15, 0.21)


def test_a_consistent_header_is_kept_whole_without_a_finding():
    read = _read(
        PixelSpacing=[0.1336, 0.1336],
        PixelSpacingCalibrationType="GEOMETRY",
        PixelSpacingCalibrationDescription="corrected for the distance of the knee",
        ImagerPixelSpacing=[0.143, 0.143],
        EstimatedRadiographicMagnificationFactor="1.07",
        DistanceSourceToDetector="3000",
        DistanceSourceToPatient="2804",
    )
    scale = read.facts.scale
    assert read.findings == ()
    assert scale.calibration_type is CalibrationType.GEOMETRY
    assert scale.magnification == 1.07
    assert (scale.source_to_detector_mm, scale.source_to_patient_mm) == (3000.0, 2804.0)
    assert read.facts.calibration_description == "corrected for the distance of the knee"


@pytest.mark.parametrize("keyword", ["PixelSpacing", "ImagerPixelSpacing"])
@pytest.mark.parametrize(
    "spacing", [["0.000", "0.000"], ["-0.1", "-0.1"], ["0.1"], ["0.1", "0"], ["0.1", "0.1", "0.1"]]
)
def test_a_spacing_that_cannot_be_is_refused_as_scale(keyword, spacing):
    read = _read(**{keyword: spacing})
    scale = read.facts.scale
    assert scale.pixel_spacing_mm is None
    assert scale.imager_pixel_spacing_mm is None
    assert files.ids(read) == {"film-spacing-unusable"}
    assert "lengths are refused" in read.findings[0].next_step


@pytest.mark.parametrize("text", [b"0,14\\0,14", b"a.bc\\d.ef", b"nan1\\nan2", b"1e999\\0.1"])
def test_a_spacing_that_is_no_number_is_refused_with_its_words(text):
    content = files.film(PixelSpacing=["0.14", "0.14"]).replace(b"0.14\\0.14", text, 1)
    read = read_facts(content, name="film")
    assert read.facts.scale.pixel_spacing_mm is None
    assert files.ids(read) & {"film-spacing-unusable", "film-header-value-unreadable"}


def test_an_implausible_spacing_is_kept_and_questioned():
    read = _read(PixelSpacing=[14.3, 14.3])
    assert read.facts.scale.pixel_spacing_mm == (14.3, 14.3)
    assert files.ids(read) == {"film-spacing-implausible"}


def test_oblong_pixels_are_noted():
    assert files.ids(_read(PixelSpacing=[0.14, 0.16])) == {"film-pixels-not-square"}


@pytest.mark.parametrize("factor", ["0.9", "0", "-1"])
def test_a_magnification_below_one_is_refused(factor):
    read = _read(EstimatedRadiographicMagnificationFactor=factor)
    assert read.facts.scale.magnification is None
    assert files.ids(read) == {"film-magnification-unusable"}


@pytest.mark.parametrize(("detector", "patient"), [("1800", "2000"), ("-1800", "1600"), ("1800", "-1")])
def test_impossible_distances_are_refused_together(detector, patient):
    read = _read(DistanceSourceToDetector=detector, DistanceSourceToPatient=patient)
    scale = read.facts.scale
    assert scale.source_to_detector_mm is scale.source_to_patient_mm is None
    assert files.ids(read) == {"film-magnification-unusable"}


def test_a_distance_of_zero_means_unknown():
    read = _read(DistanceSourceToDetector="1800", DistanceSourceToPatient="0")
    assert (read.facts.scale.source_to_detector_mm, read.facts.scale.source_to_patient_mm) == (1800.0, None)
    assert read.findings == ()


def test_a_magnification_that_contradicts_the_distances_is_said():
    read = _read(
        EstimatedRadiographicMagnificationFactor="1.20",
        DistanceSourceToDetector="3000",
        DistanceSourceToPatient="2850",
    )
    (finding,) = read.findings
    assert finding.id == "film-magnification-contradiction"
    assert "1.200" in finding.words
    assert "1.053" in finding.words


def test_pixels_larger_at_the_patient_than_at_the_detector_are_said():
    read = _read(PixelSpacing=[0.15, 0.15], ImagerPixelSpacing=[0.143, 0.143])
    assert files.ids(read) == {"film-spacing-contradiction"}


def test_a_geometric_calibration_must_agree_with_the_magnification():
    stated = {"ImagerPixelSpacing": [0.143, 0.143], "EstimatedRadiographicMagnificationFactor": "1.10"}
    read = _read(PixelSpacing=[0.1336, 0.1336], PixelSpacingCalibrationType="GEOMETRY", **stated)
    assert files.ids(read) == {"film-spacing-contradiction"}
    # A fiducial calibration is a measurement of its own and may differ from the geometry.
    read = _read(PixelSpacing=[0.1336, 0.1336], PixelSpacingCalibrationType="FIDUCIAL", **stated)
    assert read.findings == ()


def test_an_unknown_calibration_type_is_said():
    read = _read(PixelSpacing=[0.14, 0.14], PixelSpacingCalibrationType="GUESSED")
    assert read.facts.scale.calibration_type is CalibrationType.UNSTATED
    assert files.ids(read) == {"film-calibration-type-unknown"}
