"""Scale of a film from everything that tells it, in a stated order of trust, with its uncertainty.

Order: calibration ball, ruler, nail of known diameter, calibrated pixel spacing of the header, detector
spacing with magnification or source distances, magnification typed by the user. The most trusted one is
used, the others check it. A film with none of them has no scale: lengths are then refused, angles not.

Geometry: source at distance D from the detector, an object at distance s from the source. Detector pixel
p shows p·s/D millimetres of the object's plane, so magnification M = D/s = D/(D - o) with o the distance
from object to detector.
"""

import math
from dataclasses import dataclass
from enum import StrEnum

from limbwright.error import LimbwrightError, OutOfRange
from limbwright.film import scale_finding
from limbwright.film.film import (
    CalibrationType,
    HeaderScale,
    ScaleEvidence,
)
from limbwright.finding import Finding
from limbwright.published import Row, table
from limbwright.quantity import Value, require_within


class ScaleMethod(StrEnum):
    """How a scale was established; the most trusted first."""

    BALL = "calibration ball"
    RULER = "ruler"
    NAIL = "nail of known diameter"
    PIXEL_SPACING = "calibrated pixel spacing"
    MAGNIFICATION = "detector spacing and estimated magnification"
    DISTANCES = "detector spacing and source distances"
    TYPED = "typed magnification"


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale(Value):
    """Millimetres of the bone's plane per pixel."""

    row_mm: float
    """Height of one pixel [mm]."""
    column_mm: float
    """Width of one pixel [mm]."""
    relative_sd: float
    """Relative standard uncertainty, common to the whole film (0.01 = 1 %)."""
    method: ScaleMethod
    """How it was established."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmScale(Value):
    """The scale used for a film, what else the film says about it, and what to weigh."""

    scale: Scale | None
    """The most trusted scale; absent when the film has none."""
    others: tuple[Scale, ...]
    """Less trusted scales of the same film."""
    height_over_width: float
    """Height of a pixel over its width, from the header even without scale; 1 unless it says otherwise."""
    detector_mm: float | None
    """Width of a pixel at the detector [mm]; absent when the header does not say."""
    findings: tuple[Finding, ...]
    """Evidence that was refused, scales that disagree, or no scale at all."""


def constant(quantity: str) -> Row:
    """A row of the film scale constants."""
    return next(row for row in table("film", "scale") if row.text("quantity") == quantity)


def magnification(*, source_to_detector_mm: float, object_to_detector_mm: float) -> float:
    """Image size over true size of an object in front of the detector: D/(D - o) [-]."""
    require_within(
        "distance from object to detector",
        object_to_detector_mm,
        0.0,
        0.9 * source_to_detector_mm,
        "mm",
        next_step="Check source, object and detector distance.",
    )
    return source_to_detector_mm / (source_to_detector_mm - object_to_detector_mm)


def true_size_mm(*, measured_mm: float, known_mm: float, known_measured_mm: float) -> float:
    """True size of something beside an object of known size: measured · known/known as measured [mm]."""
    require_within(
        "measured size of the known object",
        known_measured_mm,
        1e-6,
        1e6,
        "mm",
        next_step="Measure the known object again.",
    )
    return measured_mm * known_mm / known_measured_mm


def bone_distance_mm(header: HeaderScale) -> tuple[float, float]:
    """Distance from source to bone and its standard uncertainty; the header's, or a usual film's [mm]."""
    depth = constant("bone to detector distance")
    depth_sd_mm = (depth.number("high") - depth.number("low")) / 4
    if header.source_to_patient_mm is not None and header.source_to_patient_mm > 0:
        return header.source_to_patient_mm, depth_sd_mm
    usual = constant("source to detector distance")
    detector_mm = header.source_to_detector_mm
    if detector_mm is not None and detector_mm > 2 * depth.number("value"):
        return detector_mm - depth.number("value"), depth_sd_mm
    spread_mm = (usual.number("high") - usual.number("low")) / 4
    return usual.number("value") - depth.number("value"), math.hypot(depth_sd_mm, spread_mm)


def scale_of(evidence: ScaleEvidence, *, where: str) -> FilmScale:
    """The scale of a film.

    Parameters
    ----------
    evidence : ScaleEvidence
        Everything on the film or beside it that tells its scale.
    where : str
        The film's name, for messages.

    Returns
    -------
    FilmScale
        Evidence that cannot be true (zero, negative or absurd) is left out and named in a finding; never
        silently.

    Notes
    -----
    Uncertainty: reading of the object (px), plus, for ball and ruler, the distance of the object from the
    plane of the bone: an error d of it changes the scale by d/(source to object). Two scales disagree when
    they differ by more than 1.96 times their joint standard uncertainty.
    """
    findings: list[Finding] = []
    height_over_width, detector_mm = _pixel(evidence.header)
    scales: list[Scale] = []
    for reader in _READERS:
        try:
            scales.extend(reader(evidence, height_over_width))
        except LimbwrightError as error:
            findings.append(scale_finding.refused(error, where=where))
    if scales:
        findings.extend(_cross_checked(scales, evidence.header, detector_mm, where))
    else:
        only = _detector_spacing(evidence.header) is not None
        findings.append(scale_finding.no_scale(where=where, detector_spacing_only=only))
    return FilmScale(
        scale=scales[0] if scales else None,
        others=tuple(scales[1:]),
        height_over_width=height_over_width,
        detector_mm=detector_mm,
        findings=tuple(findings),
    )


def _pixel(header: HeaderScale) -> tuple[float, float | None]:
    """Height over width of a pixel, and its width at the detector."""
    known = header.pixel_spacing_mm or header.imager_pixel_spacing_mm
    detector = _detector_spacing(header)
    return 1.0 if known is None else known[0] / known[1], None if detector is None else detector[1]


def _cross_checked(
    scales: list[Scale], header: HeaderScale, detector_mm: float | None, where: str
) -> list[Finding]:
    used, findings = scales[0], []
    for other in scales[1:]:
        limit = 1.96 * math.hypot(used.relative_sd, other.relative_sd)
        if abs(math.log(other.column_mm / used.column_mm)) > limit:
            findings.append(
                scale_finding.disagree(
                    where=where,
                    used=used.method,
                    used_mm=used.column_mm,
                    other=other.method,
                    other_mm=other.column_mm,
                    limit_percent=100 * limit,
                )
            )
    if detector_mm is not None and used.column_mm > detector_mm * (1 + 2 * used.relative_sd):
        findings.append(
            scale_finding.larger_than_detector(
                where=where, used=used.method, used_mm=used.column_mm, detector_mm=detector_mm
            )
        )
    if used.method is ScaleMethod.PIXEL_SPACING and _unstated(header):
        findings.append(scale_finding.calibration_unstated(where=where))
    return findings


def _isotropic(
    column_mm: float, relative_sd: float, method: ScaleMethod, height_over_width: float
) -> tuple[Scale, ...]:
    limits = constant("millimetres per pixel")
    require_within(
        f"scale by {method}",
        column_mm,
        limits.number("low"),
        limits.number("high"),
        "mm per pixel",
        next_step="Check the object's size and its marks, or the header.",
    )
    return (
        Scale(
            row_mm=column_mm * height_over_width,
            column_mm=column_mm,
            relative_sd=relative_sd,
            method=method,
        ),
    )


def _in_bone_plane(off_bone_mm: float, off_bone_sd_mm: float, header: HeaderScale) -> tuple[float, float]:
    """Factor from the plane of a scale object to the plane of the bone, and its relative uncertainty."""
    bone_mm, bone_sd_mm = bone_distance_mm(header)
    object_mm = bone_mm - off_bone_mm
    require_within(
        "distance of the scale object from the bone",
        off_bone_mm,
        -0.3 * bone_mm,
        0.3 * bone_mm,
        "mm",
        next_step="Check how far the object was from the bone.",
    )
    factor = bone_mm / object_mm
    return factor, math.hypot(off_bone_sd_mm / object_mm, bone_sd_mm * off_bone_mm / (bone_mm * object_mm))


def _from_ball(evidence: ScaleEvidence, height_over_width: float) -> tuple[Scale, ...]:
    ball = evidence.ball
    if ball is None:
        return ()
    factor, sd = _in_bone_plane(ball.depth_off_bone_mm, ball.depth_off_bone_sd_mm, evidence.header)
    return _isotropic(
        factor * ball.diameter_mm / (2 * ball.radius_px),
        math.hypot(ball.radius_sd_px / ball.radius_px, sd),
        ScaleMethod.BALL,
        height_over_width,
    )


def _from_ruler(evidence: ScaleEvidence, height_over_width: float) -> tuple[Scale, ...]:
    ruler = evidence.ruler
    if ruler is None:
        return ()
    length_px = math.hypot(
        ruler.end.x_px - ruler.start.x_px, height_over_width * (ruler.end.y_px - ruler.start.y_px)
    )
    usual_px = constant("mark on ruler").number("value")
    marks_px = math.hypot(
        *(usual_px if mark.sd_px is None else mark.sd_px for mark in (ruler.start, ruler.end))
    )
    factor, sd = _in_bone_plane(ruler.depth_off_bone_mm, ruler.depth_off_bone_sd_mm, evidence.header)
    return _isotropic(
        factor * ruler.length_mm / length_px,
        math.hypot(marks_px / length_px, sd),
        ScaleMethod.RULER,
        height_over_width,
    )


def _from_nail(evidence: ScaleEvidence, height_over_width: float) -> tuple[Scale, ...]:
    nail = evidence.nail
    if nail is None:
        return ()
    # The nail lies in the bone, so its plane is the bone's; its width is read across, in column pixels.
    return _isotropic(
        nail.diameter_mm / nail.diameter_px,
        nail.diameter_sd_px / nail.diameter_px,
        ScaleMethod.NAIL,
        height_over_width,
    )


def _same(a: tuple[float, float], b: tuple[float, float]) -> bool:
    return all(math.isclose(x, y, rel_tol=1e-4) for x, y in zip(a, b, strict=True))


def _unstated(header: HeaderScale) -> bool:
    return header.calibration_type is CalibrationType.UNSTATED


def _from_spacing(evidence: ScaleEvidence, height_over_width: float) -> tuple[Scale, ...]:
    header = evidence.header
    spacing_mm, detector_mm = header.pixel_spacing_mm, header.imager_pixel_spacing_mm
    if spacing_mm is None:
        return ()
    if _unstated(header) and (detector_mm is None or _same(spacing_mm, detector_mm)):
        return ()  # the detector's own spacing, not calibrated for the bone
    name = {
        CalibrationType.FIDUCIAL: "calibrated by fiducial",
        CalibrationType.GEOMETRY: "calibrated by geometry",
        CalibrationType.UNSTATED: "calibration not stated",
    }[header.calibration_type]
    return _isotropic(
        spacing_mm[1], constant(name).number("value"), ScaleMethod.PIXEL_SPACING, height_over_width
    )


def _detector_spacing(header: HeaderScale) -> tuple[float, float] | None:
    if header.imager_pixel_spacing_mm is not None:
        return header.imager_pixel_spacing_mm
    return header.pixel_spacing_mm if _unstated(header) else None


def _from_magnification(evidence: ScaleEvidence, height_over_width: float) -> tuple[Scale, ...]:
    header = evidence.header
    if header.imager_pixel_spacing_mm is None or header.magnification is None:
        return ()
    _require_magnification(header.magnification)
    return _isotropic(
        header.imager_pixel_spacing_mm[1] / header.magnification,
        constant("estimated magnification").number("value"),
        ScaleMethod.MAGNIFICATION,
        height_over_width,
    )


def _from_distances(evidence: ScaleEvidence, height_over_width: float) -> tuple[Scale, ...]:
    header = evidence.header
    detector_mm, patient_mm = header.source_to_detector_mm, header.source_to_patient_mm
    if header.imager_pixel_spacing_mm is None or detector_mm is None or patient_mm is None:
        return ()
    if patient_mm >= detector_mm:
        raise OutOfRange(
            f"source to patient {patient_mm:g} mm and source to detector {detector_mm:g} mm cannot both be "
            "true.",
            where="header",
            next_step="Mark a ball or ruler instead.",
        )
    bone_mm, bone_sd_mm = bone_distance_mm(header)
    return _isotropic(
        header.imager_pixel_spacing_mm[1] * bone_mm / detector_mm,
        bone_sd_mm / bone_mm,
        ScaleMethod.DISTANCES,
        height_over_width,
    )


def _from_typed(evidence: ScaleEvidence, height_over_width: float) -> tuple[Scale, ...]:
    if evidence.typed is None:
        return ()
    _require_magnification(evidence.typed.magnification)
    spacing_mm = _detector_spacing(evidence.header)
    if spacing_mm is None:
        raise OutOfRange(
            f"a magnification of {evidence.typed.magnification:g} was typed, but the header does not say how "
            "large a pixel of the detector is.",
            where="typed magnification",
            next_step="Mark a ball, a ruler or a nail of known diameter instead.",
        )
    return _isotropic(
        spacing_mm[1] / evidence.typed.magnification,
        evidence.typed.sd / evidence.typed.magnification,
        ScaleMethod.TYPED,
        height_over_width,
    )


_READERS = (
    _from_ball,
    _from_ruler,
    _from_nail,
    _from_spacing,
    _from_magnification,
    _from_distances,
    _from_typed,
)
"""In order of trust."""


def _require_magnification(value: float) -> None:
    require_within("magnification", value, 1.0, 3.0, "", next_step="It is image size over true size.")
