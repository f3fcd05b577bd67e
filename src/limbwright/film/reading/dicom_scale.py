"""Scale as a DICOM header states it: each statement checked alone, then against the others."""

from limbwright.film.film import CalibrationType, HeaderScale
from limbwright.film.reading import limits
from limbwright.film.reading.dicom_values import Values
from limbwright.film.reading.rules import remark
from limbwright.finding import Finding, Number


def header_scale(values: Values, *, name: str) -> tuple[HeaderScale, tuple[Finding, ...]]:
    """Pixel spacing, imager pixel spacing, magnification and distances that can be true.

    A spacing that is zero, negative, or not two numbers is refused as scale. Statements that contradict each
    other are kept as they stand, with a finding, except a source farther from the patient than from the
    detector: there both distances are refused.
    """
    findings: list[Finding] = []
    spacing = _spacing(values, "PixelSpacing", "Pixel Spacing (0028,0030)", name, findings)
    imager = _spacing(values, "ImagerPixelSpacing", "Imager Pixel Spacing (0018,1164)", name, findings)
    magnification = _magnification(values, name, findings)
    detector, patient = _distances(values, name, findings)
    scale = HeaderScale(
        pixel_spacing_mm=spacing,
        calibration_type=_calibration_type(values, name, findings),
        imager_pixel_spacing_mm=imager,
        magnification=magnification,
        source_to_detector_mm=detector,
        source_to_patient_mm=patient,
    )
    findings.extend(_contradictions(scale, name))
    return scale, tuple(findings)


def _spacing(
    values: Values, keyword: str, label: str, name: str, findings: list[Finding]
) -> tuple[float, float] | None:
    text = values.text(keyword)
    if text is None:
        return None
    try:
        row, column = (float(part) for part in text.split("\\"))
        usable = 0 < row < float("inf") and 0 < column < float("inf")
    except ValueError:
        usable = False
    if not usable:
        findings.append(
            remark(
                "film-spacing-unusable",
                f"{name}: {label} is '{text[:60]}' mm; two numbers above 0 are needed, so it is not used.",
            )
        )
        return None
    low, high = limits.PLAUSIBLE_SPACING_MM
    if not (low <= row <= high and low <= column <= high):
        findings.append(
            remark(
                "film-spacing-implausible",
                f"{name}: {label} is {row:g} by {column:g} mm, expected {low:g} to {high:g} mm.",
                numbers=(Number(name="row spacing", value=row, unit="mm"),),
            )
        )
    if abs(row - column) > 1e-3 * min(row, column):
        findings.append(
            remark(
                "film-pixels-not-square",
                f"{name}: {label} is {row:g} mm between rows and {column:g} mm between columns.",
            )
        )
    return row, column


def _magnification(values: Values, name: str, findings: list[Finding]) -> float | None:
    factor = values.number("EstimatedRadiographicMagnificationFactor")
    if factor is None:
        return None
    if factor < 1:
        findings.append(
            remark(
                "film-magnification-unusable",
                f"{name}: Estimated Radiographic Magnification Factor (0018,1114) is {factor:g}, expected 1 "
                "or more; it is not used.",
                numbers=(Number(name="magnification", value=factor, unit=""),),
            )
        )
        return None
    return factor


def _distances(values: Values, name: str, findings: list[Finding]) -> tuple[float | None, float | None]:
    detector = values.number("DistanceSourceToDetector")
    patient = values.number("DistanceSourceToPatient")
    # Zero is written for "not known"; it is no distance.
    detector = detector if detector else None
    patient = patient if patient else None
    bad = (detector is not None and detector < 0) or (patient is not None and patient < 0)
    if bad or (detector is not None and patient is not None and patient > detector):
        findings.append(
            remark(
                "film-magnification-unusable",
                f"{name}: the source is {detector or 0:g} mm from the detector (0018,1110) and "
                f"{patient or 0:g} mm from the patient (0018,1111); the distances are not used.",
            )
        )
        return None, None
    return detector, patient


def _calibration_type(values: Values, name: str, findings: list[Finding]) -> CalibrationType:
    word = values.word("PixelSpacingCalibrationType")
    if word is None:
        return CalibrationType.UNSTATED
    if word in (CalibrationType.GEOMETRY, CalibrationType.FIDUCIAL):
        return CalibrationType(word)
    findings.append(
        remark(
            "film-calibration-type-unknown",
            f"{name}: Pixel Spacing Calibration Type (0028,0A02) is '{word[:60]}', expected GEOMETRY or "
            "FIDUCIAL.",
        )
    )
    return CalibrationType.UNSTATED


def _contradictions(scale: HeaderScale, name: str) -> list[Finding]:
    found = []
    factor = scale.magnification
    detector, patient = scale.source_to_detector_mm, scale.source_to_patient_mm
    ratio = detector / patient if detector and patient else None
    if factor and ratio and abs(ratio / factor - 1) > limits.AGREEMENT:
        found.append(
            remark(
                "film-magnification-contradiction",
                f"{name}: the header gives a magnification of {factor:.3f}, but its distances "
                f"{detector:g} / {patient:g} mm give {ratio:.3f}.",
                numbers=(
                    Number(name="magnification factor", value=factor, unit=""),
                    Number(name="ratio of distances", value=ratio, unit=""),
                ),
            )
        )
    spacing, imager = scale.pixel_spacing_mm, scale.imager_pixel_spacing_mm
    if not (spacing and imager):
        return found
    if any(
        at_patient > at_detector * (1 + 1e-3) for at_patient, at_detector in zip(spacing, imager, strict=True)
    ):
        found.append(
            remark(
                "film-spacing-contradiction",
                f"{name}: Pixel Spacing {spacing[0]:g} by {spacing[1]:g} mm is larger than Imager Pixel "
                f"Spacing {imager[0]:g} by {imager[1]:g} mm.",
            )
        )
    elif scale.calibration_type is CalibrationType.GEOMETRY and (factor or ratio):
        stated = factor or ratio or 1.0
        implied = imager[0] / spacing[0]
        if abs(implied / stated - 1) > limits.AGREEMENT:
            found.append(
                remark(
                    "film-spacing-contradiction",
                    f"{name}: Imager Pixel Spacing {imager[0]:g} mm over Pixel Spacing {spacing[0]:g} mm "
                    f"implies a magnification of {implied:.3f}, but {stated:.3f} is stated.",
                )
            )
    return found
