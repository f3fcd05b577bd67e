"""Deformities seen on two films at right angles, put together in space.

Frame: lateral, anterior, proximal; the same for both legs. The proximal axis of the bone is taken as the
proximal direction, depth runs distally along it. With a frontal angle f (varus +) and a sagittal angle s
(procurvatum +) the distal axis runs along (-tan f, -tan s, -1), because each film shows the tangent of its
own angle.
"""

import math
from dataclasses import dataclass
from typing import NamedTuple

from limbwright.error import Refused
from limbwright.limb.anatomy import Projection
from limbwright.limb.apex import Apex
from limbwright.limb.limit import limit
from limbwright.quantity import Measured, Value, require_within

_STEEPEST_DEG = 80.0


class Direction(NamedTuple):
    """A unit vector or a place in space."""

    lateral: float
    """Lateral +."""
    anterior: float
    """Anterior +."""
    proximal: float
    """Proximal +."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Oblique(Value):
    """A deformity in its true plane."""

    magnitude: Measured
    """True angle [deg] or true translation [mm], never negative."""
    from_frontal: Measured | None
    """Angle of its plane from the frontal plane, 0 to 90 [deg]; absent when the magnitude is about zero."""
    azimuth: Measured | None
    """Apex (angulation) or displacement (translation), from lateral over anterior +, -180 to 180 [deg]."""
    words: str
    """Where the apex points, or the distal part is displaced to."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NearestApproach(Value):
    """Where the distal axis comes nearest to the proximal one in space."""

    level_mm: float
    """Depth of that place, counted as the two apex levels were [mm]."""
    distance_mm: float
    """How far the axes still pass each other: translation that no plane of angulation explains [mm]."""
    words: str
    """Where the distal axis lies of the proximal one at that level."""


def _require_angles(frontal_deg: float, sagittal_deg: float) -> None:
    for name, value in (("frontal angulation", frontal_deg), ("sagittal angulation", sagittal_deg)):
        require_within(
            name, value, -_STEEPEST_DEG, _STEEPEST_DEG, "deg", next_step="Check the axes it was read from."
        )


def true_angulation_deg(*, frontal_deg: float, sagittal_deg: float) -> float:
    """True size of a deformity seen on two films [deg].

    Parameters
    ----------
    frontal_deg, sagittal_deg : float
        Varus + and procurvatum +. [deg]

    Notes
    -----
    A = atan sqrt(tan² f + tan² s); exact for films at right angles.

    References
    ----------
    Paley, Principles of Deformity Correction, 2002 (from memory).
    """
    _require_angles(frontal_deg, sagittal_deg)
    return math.degrees(
        math.atan(math.hypot(math.tan(math.radians(frontal_deg)), math.tan(math.radians(sagittal_deg))))
    )


def graphical_angulation_deg(*, frontal_deg: float, sagittal_deg: float) -> float:
    """True size by the graphical method, one millimetre for one degree: sqrt(f² + s²) [deg].

    Never smaller than the exact rule, and within 1.1 degrees of it while both are at most 20 degrees.
    """
    return math.hypot(frontal_deg, sagittal_deg)


def plane_from_frontal_deg(*, frontal_deg: float, sagittal_deg: float) -> float:
    """Angle of the plane of a deformity from the frontal plane, 0 (frontal) to 90 (sagittal) [deg].

    P = atan |tan s / tan f|, signs of the two angles are in `apex_azimuth_deg`.
    """
    _require_angles(frontal_deg, sagittal_deg)
    return math.degrees(
        math.atan2(abs(math.tan(math.radians(sagittal_deg))), abs(math.tan(math.radians(frontal_deg))))
    )


def apex_azimuth_deg(*, frontal_deg: float, sagittal_deg: float) -> float:
    """Where the apex points in the transverse plane, from lateral (0) over anterior (90) [deg].

    Varus has its apex lateral, procurvatum anterior.
    """
    _require_angles(frontal_deg, sagittal_deg)
    return math.degrees(math.atan2(math.tan(math.radians(sagittal_deg)), math.tan(math.radians(frontal_deg))))


def azimuth_words(azimuth_deg: float) -> str:
    """A direction in the transverse plane in words.

    For 36: 'anterolateral, 36 degrees from lateral toward anterior'. Within half a degree of a pure
    direction only that one is named.
    """
    across = "lateral" if abs(azimuth_deg) <= 90 else "medial"
    along = "anterior" if azimuth_deg >= 0 else "posterior"
    from_across = abs(azimuth_deg) if abs(azimuth_deg) <= 90 else 180 - abs(azimuth_deg)
    if from_across < 0.5:
        return across
    if from_across > 89.5:
        return along
    return f"{along[:-3]}o{across}, {from_across:.0f} degrees from {across} toward {along}"


def oblique_angulation(frontal: Measured, sagittal: Measured) -> Oblique:
    """The true deformity of two measured angles, varus + and procurvatum + [deg]."""
    f, s = frontal.value, sagittal.value
    return _oblique(
        frontal,
        sagittal,
        magnitude=true_angulation_deg(frontal_deg=f, sagittal_deg=s),
        slopes=(math.tan(math.radians(f)), math.tan(math.radians(s))),
        per_unit=tuple(math.radians(1) / math.cos(math.radians(a)) ** 2 for a in (f, s)),
        zero_below=limit("angle below which two axes count as parallel"),
        what="apex",
    )


def oblique_translation(frontal: Measured, sagittal: Measured) -> Oblique:
    """The true translation of the distal part, lateral + and anterior + [mm]; plain Pythagoras is exact."""
    t, a = frontal.value, sagittal.value
    return _oblique(
        frontal,
        sagittal,
        magnitude=math.hypot(t, a),
        slopes=(t, a),
        per_unit=(1.0, 1.0),
        zero_below=0.5,
        what="distal part displaced",
    )


def _oblique(
    frontal: Measured,
    sagittal: Measured,
    *,
    magnitude: float,
    slopes: tuple[float, float],
    per_unit: tuple[float, ...],
    zero_below: float,
    what: str,
) -> Oblique:
    """Common part; `slopes` are the components, `per_unit` their change for one unit of each input."""
    size = math.hypot(*slopes)
    if size == 0:
        sd = math.hypot(frontal.sd, sagittal.sd) / math.sqrt(2)
        return Oblique(
            magnitude=Measured(value=0.0, sd=sd, unit=frontal.unit),
            from_frontal=None,
            azimuth=None,
            words="none",
        )
    moved = (per_unit[0] * frontal.sd, per_unit[1] * sagittal.sd)
    # d size = (x dx + y dy) / size; an angle is atan(size), a translation is size itself.
    radial = math.hypot(slopes[0] * moved[0], slopes[1] * moved[1]) / size
    turning = math.degrees(math.hypot(slopes[1] * moved[0], slopes[0] * moved[1]) / size**2)
    sd = math.degrees(radial / (1 + size**2)) if frontal.unit == "deg" else radial
    result = Measured(value=magnitude, sd=sd, unit=frontal.unit)
    if magnitude < zero_below:
        return Oblique(magnitude=result, from_frontal=None, azimuth=None, words="none")
    azimuth = math.degrees(math.atan2(slopes[1], slopes[0]))
    plane = math.degrees(math.atan2(abs(slopes[1]), abs(slopes[0])))
    return Oblique(
        magnitude=result,
        from_frontal=Measured(value=plane, sd=turning, unit="deg"),
        azimuth=Measured(value=azimuth, sd=turning, unit="deg"),
        words=f"{what} {azimuth_words(azimuth)}",
    )


def nearest_approach(
    *, frontal_deg: float, frontal_level_mm: float, sagittal_deg: float, sagittal_level_mm: float
) -> NearestApproach:
    """The true level of a deformity whose apexes on the two films lie at different levels.

    Parameters
    ----------
    frontal_deg, sagittal_deg : float
        Varus + and procurvatum +. [deg]
    frontal_level_mm, sagittal_level_mm : float
        Depth of the apex on each film below the same joint. [mm]

    Raises
    ------
    Refused
        If there is no angulation in either plane: then no level is nearest.

    Notes
    -----
    At depth z the distal axis lies -(z - z_f)·tan f lateral and -(z - z_s)·tan s anterior of the proximal
    one. Its distance is least at z = (z_f tan² f + z_s tan² s) / (tan² f + tan² s) and is then
    |z_f - z_s|·|tan f·tan s| / sqrt(tan² f + tan² s): zero when both apexes are at one level, or when one
    plane has no angulation.
    """
    _require_angles(frontal_deg, sagittal_deg)
    f, s = math.tan(math.radians(frontal_deg)), math.tan(math.radians(sagittal_deg))
    total = f**2 + s**2
    if math.degrees(math.atan(math.sqrt(total))) < limit("angle below which two axes count as parallel"):
        raise Refused(
            f"{frontal_deg:.1f} degrees frontal and {sagittal_deg:.1f} degrees sagittal have no apex in "
            "space.",
            where="level of the deformity",
            next_step="Treat it as a translation.",
        )
    level = (frontal_level_mm * f**2 + sagittal_level_mm * s**2) / total
    lateral, anterior = -(level - frontal_level_mm) * f, -(level - sagittal_level_mm) * s
    distance = math.hypot(lateral, anterior)
    return NearestApproach(
        level_mm=level,
        distance_mm=distance,
        words="the axes meet"
        if distance < 0.5
        else f"distal axis {azimuth_words(math.degrees(math.atan2(anterior, lateral)))}",
    )


def require_pair(frontal: Apex, sagittal: Apex) -> None:
    """Refuse two apexes that are not the frontal and the sagittal one of one bone."""
    if (
        frontal.bone is not sagittal.bone
        or frontal.projection is not Projection.FRONTAL
        or sagittal.projection is not Projection.SAGITTAL
    ):
        raise Refused(
            "the two apexes are not the frontal and the sagittal one of one bone.",
            where="deformity in space",
            next_step="Give the frontal apex first, then the sagittal one of the same bone.",
        )


def apexes_in_space(frontal: Apex, sagittal: Apex) -> NearestApproach:
    """The true level of two apexes of one bone, both counted from its proximal joint.

    Raises
    ------
    Refused
        If they are of different bones or planes, or one of them has no level.
    """
    require_pair(frontal, sagittal)
    if frontal.from_proximal_joint is None or sagittal.from_proximal_joint is None:
        raise Refused(
            "one of the two planes has no apex level.",
            where=f"{frontal.bone}",
            next_step="Use the level of the other plane; check scale and joint marks.",
        )
    return nearest_approach(
        frontal_deg=frontal.angulation.value,
        frontal_level_mm=frontal.from_proximal_joint.value,
        sagittal_deg=sagittal.angulation.value,
        sagittal_level_mm=sagittal.from_proximal_joint.value,
    )
