"""Readings of follow-up films written into the visit they were taken for."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date

from limbwright.course.alignment import Alignment
from limbwright.course.assisted import AssistedFilm
from limbwright.course.fibula_migration import FibulaMigration
from limbwright.course.film_marks import FollowUpMarks
from limbwright.course.film_reading import FilmReading, read_film
from limbwright.course.joint_angle import JointAngle
from limbwright.course.new_bone import CortexReading, NewBone
from limbwright.course.visit import GainedLength, Visit
from limbwright.film.film import ViewerSide
from limbwright.film.new_bone import NewBone as NewBoneOnFilm
from limbwright.film.new_bone import NewBoneShape
from limbwright.implant.nail import Nail
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.view import Border
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

FAINT_RATIO = 0.3
"""Attenuation of the denser side over that of cortex below which an outline is not told; engineering
judgement, as found on phantom films."""
SIDES_APART_SD = 3.0
"""Standard uncertainties by which both sides differ before new bone is called one-sided."""


def first_marks(visits: Iterable[Visit], bone: Bone, projection: Projection) -> FollowUpMarks | None:
    """Marks of the first film after the operation on which both fragment axes or both edges are marked."""
    for visit in visits:
        marks = visit.marks_of(bone, projection)
        if marks is not None and (marks.proximal_axis or marks.proximal_edge):
            return marks
    return None


def film_readings(
    visit: Visit,
    earlier: tuple[Visit, ...],
    bone: Bone,
    nail: Nail,
    profile: Profile,
    *,
    first_step_on: date | None = None,
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
    first_step_on : date, optional
        Day of the first step. A film before it is what later ones are compared with and shows no gain.

    Notes
    -----
    Where the first marked film was taken after the first step, the length that its visit records is added.
    """
    found = {}
    for projection in Projection:
        marks = visit.marks_of(bone, projection)
        if marks is None:
            continue
        first = first_marks(earlier, bone, projection)
        there = next((v for v in earlier if v.marks_of(bone, projection) is first), None)
        gained = None if there is None else there.gained_of(bone)
        before = 0.0 if gained is None or gained.measured_mm is None else gained.measured_mm
        read = read_film(marks, first, nail, profile, first_gained_mm=before)
        if first_step_on is not None and visit.seen_on < first_step_on:
            read = replace(read, gained_by_nail=None, gained_by_gap=None, gained=None, slip_mm=None)
        found[projection] = read
    return found


def with_marks(visit: Visit, film: AssistedFilm) -> Visit:
    """The visit with one film's marks, its name, and the new bone that was measured on it.

    Marks of the same bone and projection are replaced; what the film does not show of the new bone is kept.
    """
    marks = film.marks
    kept = tuple(m for m in visit.marks if (m.bone, m.projection) != (marks.bone, marks.projection))
    names = visit.films if marks.film in visit.films else (*visit.films, marks.film)
    new_bone = visit.new_bone
    if film.new_bone is not None:
        read = _new_bone(visit.new_bone_of(marks.bone), film.new_bone, marks)
        new_bone = (*(n for n in visit.new_bone if n.bone is not marks.bone), read)
    return replace(visit, films=names, marks=(*kept, marks), new_bone=new_bone)


def _new_bone(before: NewBone | None, found: NewBoneOnFilm, marks: FollowUpMarks) -> NewBone:
    """Both cortices of this film beside those of the other; width and shape as this film shows them."""
    old = before or NewBone(bone=marks.bone)
    frontal = marks.projection is Projection.FRONTAL
    outer, inner = (Border.LATERAL, Border.MEDIAL) if frontal else (Border.ANTERIOR, Border.POSTERIOR)
    right, left = (outer, inner) if marks.across_to is ViewerSide.VIEWER_RIGHT else (inner, outer)
    read = tuple(
        CortexReading(
            cortex=border,
            pixel_value_ratio=round(cortex.pixel_value_ratio.value, 3),
            pixel_value_ratio_sd=round(cortex.pixel_value_ratio.sd, 3),
            bridged=cortex.bridged,
        )
        for border, cortex in ((left, found.viewer_left), (right, found.viewer_right))
    )
    kept = tuple(c for c in old.cortices if c.cortex not in (left, right))
    order = list(Border)
    width = found.width_ratio
    return replace(
        old,
        cortices=tuple(sorted((*kept, *read), key=lambda c: order.index(c.cortex))),
        width_ratio=old.width_ratio if width is None else round(width.value, 3),
        width_ratio_sd=old.width_ratio_sd if width is None else round(width.sd, 3),
        shape=_shape(found) or old.shape,
    )


def _shape(found: NewBoneOnFilm) -> NewBoneShape | None:
    """The outline; None while new bone is too faint to tell it, or its sides too alike to be one-sided."""
    sides = (found.viewer_left.attenuation_ratio, found.viewer_right.attenuation_ratio)
    if found.outline is None or max(side.value for side in sides) < FAINT_RATIO:
        return None
    if found.outline is NewBoneShape.LATERAL:
        apart = abs(sides[0].value - sides[1].value)
        if apart < SIDES_APART_SD * math.hypot(sides[0].sd, sides[1].sd):
            return None
    return found.outline


def with_readings(visit: Visit, bone: Bone, readings: Mapping[Projection, FilmReading]) -> Visit:
    """The visit with length, alignment, joint angles and fibula of one bone taken from its films.

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
        joint_angles=_angles(visit, bone, readings),
        fibula=_fibula(visit, readings),
    )


def _angles(visit: Visit, bone: Bone, readings: Mapping[Projection, FilmReading]) -> tuple[JointAngle, ...]:
    read = tuple(angle for reading in readings.values() for angle in reading.joint_angles)
    again = {angle.measure for angle in read}
    return (*(a for a in visit.joint_angles if a.bone is not bone or a.measure not in again), *read)


def _alignment(visit: Visit, bone: Bone, readings: Mapping[Projection, FilmReading]) -> tuple[Alignment, ...]:
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


def _fibula(visit: Visit, readings: Mapping[Projection, FilmReading]) -> FibulaMigration | None:
    frontal = readings.get(Projection.FRONTAL)
    if frontal is None or frontal.head_distal is None or frontal.malleolus_proximal is None:
        return visit.fibula
    return FibulaMigration(
        head_distal_mm=round(frontal.head_distal.value, 2),
        malleolus_proximal_mm=round(frontal.malleolus_proximal.value, 2),
        sd_mm=round(max(frontal.head_distal.sd, frontal.malleolus_proximal.sd), 2),
    )
