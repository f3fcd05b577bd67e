"""Readings of follow-up films written into the visit they were taken for."""

from collections.abc import Iterable
from dataclasses import replace

from limbwright.course.alignment import Alignment
from limbwright.course.fibula_migration import FibulaMigration
from limbwright.course.film_marks import FollowUpMarks
from limbwright.course.film_reading import FilmReading, read_film
from limbwright.course.visit import GainedLength, Visit
from limbwright.implant.nail import Nail
from limbwright.limb.anatomy import Bone, Projection
from limbwright.practice.profile import Profile
from limbwright.quantity import (
    ANTERIOR_POSTERIOR,
    LATERAL_MEDIAL,
    PROCURVATUM_RECURVATUM,
    VARUS_VALGUS,
    Directed,
    Measured,
    Sense,
    directed,
)


def first_marks(visits: Iterable[Visit], bone: Bone, projection: Projection) -> FollowUpMarks | None:
    """Marks of the first film after the operation on which both fragment axes or both edges are marked."""
    for visit in visits:
        marks = visit.marks_of(bone, projection)
        if marks is not None and (marks.proximal_axis or marks.proximal_edge):
            return marks
    return None


def film_readings(
    visit: Visit, earlier: tuple[Visit, ...], bone: Bone, nail: Nail, profile: Profile
) -> dict[Projection, FilmReading]:
    """Both films of one bone at one visit, read against the first films after the operation.

    Parameters
    ----------
    visit : Visit
        The visit whose marks are read.
    earlier : tuple of Visit
        Visits before it, in the order of their dates.
    bone, nail, profile
        The lengthened bone, the nail in it, the reading errors.
    """
    found = {}
    for projection in Projection:
        marks = visit.marks_of(bone, projection)
        if marks is not None:
            first = first_marks(earlier, bone, projection)
            found[projection] = read_film(marks, first, nail, profile)
    return found


def with_readings(visit: Visit, bone: Bone, readings: dict[Projection, FilmReading]) -> Visit:
    """The visit with length, alignment and fibula of one bone taken from its films.

    What the films do not show keeps what the visit says. Length is taken from the film that reads it with the
    smaller uncertainty.
    """
    gains = [r.gained for r in readings.values() if r.gained is not None]
    kept = tuple(g for g in visit.gained if g.bone is not bone)
    before = visit.gained_of(bone) or GainedLength(bone=bone)
    if gains:
        best = min(gains, key=lambda m: m.sd)
        before = replace(before, measured_mm=round(best.value, 2), measured_sd_mm=round(best.sd, 2))
    gained = (*kept, before) if gains or visit.gained_of(bone) else kept
    return replace(
        visit,
        gained=gained,
        alignment=(*(a for a in visit.alignment if a.bone is not bone), *_alignment(visit, bone, readings)),
        fibula=_fibula(visit, readings),
    )


def _alignment(visit: Visit, bone: Bone, readings: dict[Projection, FilmReading]) -> tuple[Alignment, ...]:
    old = visit.alignment_of(bone) or Alignment(bone=bone)
    angles = {plane: r.angulation for plane, r in readings.items()}
    shifts = {plane: r.translation for plane, r in readings.items()}
    sds = [r.angle_sd_deg for r in readings.values() if r.angulation is not None and r.angle_sd_deg]
    new = Alignment(
        bone=bone,
        frontal=_said(angles.get(Projection.FRONTAL), VARUS_VALGUS) or old.frontal,
        sagittal=_said(angles.get(Projection.SAGITTAL), PROCURVATUM_RECURVATUM) or old.sagittal,
        angle_sd_deg=round(max(sds), 2) if sds else old.angle_sd_deg,
        frontal_translation=_said(shifts.get(Projection.FRONTAL), LATERAL_MEDIAL) or old.frontal_translation,
        sagittal_translation=_said(shifts.get(Projection.SAGITTAL), ANTERIOR_POSTERIOR)
        or old.sagittal_translation,
    )
    return () if new == Alignment(bone=bone) else (new,)


def _said(value: Measured | None, senses: tuple[Sense, Sense]) -> Directed | None:
    return None if value is None else directed(round(value.value, 2), unit=value.unit, senses=senses)


def _fibula(visit: Visit, readings: dict[Projection, FilmReading]) -> FibulaMigration | None:
    frontal = readings.get(Projection.FRONTAL)
    if frontal is None or frontal.head_distal is None or frontal.malleolus_proximal is None:
        return visit.fibula
    return FibulaMigration(
        head_distal_mm=round(frontal.head_distal.value, 2),
        malleolus_proximal_mm=round(frontal.malleolus_proximal.value, 2),
        sd_mm=round(max(frontal.head_distal.sd, frontal.malleolus_proximal.sd), 2),
    )
