"""What a reader must weigh about a film's scale, each as a finding."""

from limbwright.error import LimbwrightError
from limbwright.finding import Finding, Number, Severity
from limbwright.published import Source, Status

_OBJECT = "Mark a calibration ball, a ruler or a nail of known diameter on the film."
_STANDARD = Source(
    text="DICOM PS3.3, Pixel Spacing Calibration Macro (10.7.1.3): equal spacings without type are "
    "those of the detector",
    status=Status.MEMORY,
)
_GEOMETRY = Source(text="projection from a point source", status=Status.DERIVED)
_PRACTICE = Source(text="common practice, no source", status=Status.COMMON_PRACTICE)


def no_scale(*, where: str, detector_spacing_only: bool) -> Finding:
    """The film tells no scale of the bone's plane."""
    why = (
        "its header gives the pixel spacing of the detector only, without magnification"
        if detector_spacing_only
        else "nothing on it or in its header tells its size"
    )
    return Finding(
        id="film-without-scale",
        severity=Severity.CAUTION,
        words=f"Film '{where}' has no scale: {why}. Angles are measured, lengths are not.",
        next_step=_OBJECT,
        rule="A length needs the scale of the bone's plane; the detector's is 5 to 20 % off.",
        source=_STANDARD if detector_spacing_only else _PRACTICE,
    )


def refused(error: LimbwrightError, *, where: str) -> Finding:
    """Evidence of scale that cannot be true."""
    return Finding(
        id="scale-evidence-refused",
        severity=Severity.CAUTION,
        words=f"Film '{where}': {error.found} It is not used as scale.",
        next_step=error.next_step,
        rule="Evidence of scale outside its possible range is left out.",
        source=_GEOMETRY,
    )


def disagree(
    *, where: str, used: str, used_mm: float, other: str, other_mm: float, limit_percent: float
) -> Finding:
    """Two scales of one film differ by more than their uncertainties allow."""
    percent = 100 * (other_mm / used_mm - 1)
    return Finding(
        id="scales-disagree",
        severity=Severity.CAUTION,
        words=(
            f"Film '{where}': scale by {other} ({other_mm:.4f} mm per pixel) differs from the one used, by "
            f"{used} ({used_mm:.4f} mm per pixel), by {percent:+.1f} %; their uncertainties explain "
            f"{limit_percent:.1f} %."
        ),
        next_step="Check both; mark the scale object again, or correct its distance from the bone.",
        numbers=(
            Number(name="difference", value=percent, unit="%"),
            Number(name="explained by uncertainty", value=limit_percent, unit="%"),
        ),
        rule="Two scales agree within 1.96 times their joint standard uncertainty.",
        source=_GEOMETRY,
    )


def larger_than_detector(*, where: str, used: str, used_mm: float, detector_mm: float) -> Finding:
    """The scale says that the image is smaller than the bone, which a point source cannot do."""
    return Finding(
        id="scale-above-detector",
        severity=Severity.CAUTION,
        words=(
            f"Film '{where}': scale by {used} is {used_mm:.4f} mm per pixel, more than the {detector_mm:.4f} "
            "mm of the detector: the image would be smaller than the bone."
        ),
        next_step="Check the size of the scale object and whether the picture was resampled.",
        numbers=(
            Number(name="scale used", value=used_mm, unit="mm/px"),
            Number(name="detector spacing", value=detector_mm, unit="mm/px"),
        ),
        rule="A point source always magnifies.",
        source=_GEOMETRY,
    )


def calibration_unstated(*, where: str) -> Finding:
    """The header's spacing was calibrated, but it does not say how."""
    return Finding(
        id="scale-calibration-unstated",
        severity=Severity.NOTE,
        words=(
            f"Film '{where}': the pixel spacing of the header differs from the detector's without saying how "
            "it was calibrated; it is used with a wider uncertainty."
        ),
        next_step=_OBJECT,
        rule="A spacing without calibration type is trusted less.",
        source=_STANDARD,
    )
