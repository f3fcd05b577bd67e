"""A follow-up film read back, as a plain JSON object."""

from collections.abc import Mapping
from typing import Any

from limbwright.course.assisted import AssistedFilm
from limbwright.course.film_finding import film_findings
from limbwright.course.film_reading import FilmReading
from limbwright.course.ledger import LedgerDay
from limbwright.film.new_bone import CortexRatio
from limbwright.film.new_bone import NewBone as NewBoneOnFilm
from limbwright.finding import Finding
from limbwright.interop.plain import Plain, finding_plain, measured_plain
from limbwright.limb.anatomy import Projection
from limbwright.practice.profile import Profile
from limbwright.quantity import (
    ANTERIOR_POSTERIOR,
    LATERAL_MEDIAL,
    PROCURVATUM_RECURVATUM,
    VARUS_VALGUS,
    Measured,
)


def film_reading_plain(
    film: AssistedFilm, read: FilmReading, day: LedgerDay, profile: Profile, findings: tuple[Finding, ...]
) -> Plain:
    """What one film shows of one bone, how far to trust it, and how it agrees with the prescription.

    Parameters
    ----------
    film : AssistedFilm
        Marks and new bone.
    read : FilmReading
        What the marks say.
    day : LedgerDay
        Prescribed and reported length on the day of the film.
    profile : Profile
        Limits of what is pointed out.
    findings : tuple of Finding
        What the rules say of the length on that day.
    """
    frontal = film.marks.projection is Projection.FRONTAL
    angle_words, shift_words = (
        (VARUS_VALGUS, LATERAL_MEDIAL) if frontal else (PROCURVATUM_RECURVATUM, ANTERIOR_POSTERIOR)
    )
    return {
        "film": film.marks.film,
        "bone": film.marks.bone.value,
        "projection": film.marks.projection.value,
        "mm_per_px": round(read.scale.across_mm, 5),
        "tilt_deg": None if read.scale.tilt_deg is None else round(read.scale.tilt_deg, 1),
        "gained": _mm(read.gained),
        "gained_by_nail": _mm(read.gained_by_nail),
        "gained_by_gap": _mm(read.gained_by_gap),
        "agreement": {
            "prescribed_mm": round(day.prescribed_mm, 2),
            "reported_mm": round(day.reported_mm, 2),
            "slip_mm": None if read.slip_mm is None else round(read.slip_mm, 2),
        },
        "angulation": measured_plain(read.angulation, angle_words),
        "translation": measured_plain(read.translation, shift_words),
        "head_distal": _mm(read.head_distal),
        "malleolus_proximal": _mm(read.malleolus_proximal),
        "overlap": _mm(read.overlap),
        "joint_angles": [
            {"measure": a.measure.value, "deg": round(a.deg, 1), "sd_deg": a.sd_deg}
            for a in read.joint_angles
        ],
        "new_bone": None if film.new_bone is None else _new_bone(film.new_bone),
        "not_snapped": [{"what": one.what, "why": one.why} for one in film.not_snapped],
        "findings": [
            finding_plain(f) for f in (*film_findings(read, profile), *_of_new_bone(film), *findings)
        ],
    }


def _of_new_bone(film: AssistedFilm) -> tuple[Finding, ...]:
    return () if film.new_bone is None else film.new_bone.findings


def _mm(value: Measured | None) -> Plain | None:
    return None if value is None else {"mm": round(value.value, 2), "sd_mm": round(value.sd, 2)}


def _new_bone(found: NewBoneOnFilm) -> Plain:
    width = found.width_ratio
    cortices: Mapping[str, Any] = {
        "viewer left": _cortex(found.viewer_left),
        "viewer right": _cortex(found.viewer_right),
    }
    return {
        "cortices": cortices,
        "width_ratio": None if width is None else round(width.value, 3),
        "width_ratio_sd": None if width is None else round(width.sd, 3),
        "outline": "not seen" if found.outline is None else found.outline.value,
        "hidden_by_metal_percent": round(100 * found.metal_share),
    }


def _cortex(found: CortexRatio) -> Plain:
    ratio = found.pixel_value_ratio
    return {
        "pixel_value_ratio": round(ratio.value, 3),
        "pixel_value_ratio_sd": round(ratio.sd, 3),
        "attenuation_ratio": round(found.attenuation_ratio.value, 3),
        "bridged": found.bridged,
    }
