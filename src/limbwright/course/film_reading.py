"""A follow-up film read back: length gained, angulation, translation, fibula, overlap, since the operation.

Every change is against the first film after the operation on which the same was marked. Without that film
length is read from the closed nail and from closed bone ends.
"""

import math
from dataclasses import dataclass

from limbwright.course.film_angles import joint_angles
from limbwright.course.film_geometry import (
    Heading,
    Spot,
    along_px,
    beside_px,
    distance_px,
    foot,
    heading,
    lean_deg,
    middle,
    spot,
)
from limbwright.course.film_marks import FollowUpMarks, Pair
from limbwright.course.film_scale import NailScale, nail_scale, shown_mm
from limbwright.course.joint_angle import JointAngle
from limbwright.error import Contradiction
from limbwright.implant.nail import Direction, Nail
from limbwright.practice.profile import Profile
from limbwright.quantity import Measured, Value


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmReading(Value):
    """What one film shows of one bone; what was not marked is None."""

    scale: NailScale
    """Scale at the nail."""
    gained_by_nail: Measured | None
    """Length the nail has telescoped [mm]."""
    gained_by_gap: Measured | None
    """Length by which the gap has grown since the operation [mm]."""
    gained: Measured | None
    """Length the bone has gained: both combined while they agree within `nail_gap_agree_sd`, the
    gap's where they do not [mm]."""
    slip_mm: float | None
    """Nail less gap where they do not agree: length the nail gave and the bone did not take [mm]."""
    angulation: Measured | None
    """Change of angulation, varus + (frontal) or procurvatum + (sagittal) [deg]."""
    angle_sd_deg: float | None
    """Standard uncertainty of the angle on this one film [deg]."""
    translation: Measured | None
    """Change of the distal fragment's shift, lateral + or anterior + [mm]."""
    head_distal: Measured | None
    """Migration of the fibular head, distal + [mm]."""
    malleolus_proximal: Measured | None
    """Migration of the lateral malleolus, proximal + [mm]."""
    overlap: Measured | None
    """Thick part inside the moving fragment [mm]."""
    joint_angles: tuple[JointAngle, ...]
    """Joint-orientation angles whose lines are marked."""


def read_film(
    marks: FollowUpMarks,
    first: FollowUpMarks | None,
    nail: Nail,
    profile: Profile,
    *,
    first_gained_mm: float = 0.0,
) -> FilmReading:
    """Read a follow-up film from its marks.

    Parameters
    ----------
    marks : FollowUpMarks
        Marks on this film.
    first : FollowUpMarks or None
        Marks of the same bone and projection on the first film after the operation.
    nail : Nail
        The nail in the bone, whose diameter is the scale.
    profile : Profile
        Reading errors.
    first_gained_mm : float
        Length that was there on the first film, where that was taken after the first step. [mm]

    Raises
    ------
    Contradiction
        If both films are not of the same bone and projection.

    Notes
    -----
    Nail: length of the thin part that shows, less what showed on the first film, else when closed. Gap:
    distance of the middles of both osteotomy edges along the nail (else along the proximal fragment).
    Angulation: lean of the proximal axis less lean of the distal one, now less then. Uncertainties:
    `nail_edge_reading_error_mm` at the nail's points, `wall_sd_mm` at osteotomy edges,
    `joint_line_landmark_sd_mm` at fibula and joints, `angle_reading_sd_deg` or, if larger, what the ends of
    the axes (`sd_px`, else `wall_sd_mm`) make of their length, for angles.
    """
    if first is not None and (marks.bone, marks.projection) != (first.bone, first.projection):
        raise Contradiction(
            f"a {marks.projection} film of the {marks.bone} is compared with a {first.projection} film of "
            f"the {first.bone}.",
            where=f"film {marks.film!r}",
            next_step="Compare films of the same bone and projection.",
        )
    now = _Film(marks, nail, profile)
    then = None if first is None else _Film(first, nail, profile)
    by_nail, by_gap = (
        _length(reading(now), None if then is None else reading(then), first_gained_mm)
        for reading in (_Film.telescoped, _Film.gap)
    )
    gained, slip = _both(by_nail, by_gap, within_sd=profile.nail_gap_agree_sd)
    angle = now.angle()
    return FilmReading(
        scale=now.scale,
        gained_by_nail=by_nail,
        gained_by_gap=by_gap,
        gained=gained,
        slip_mm=slip,
        angulation=_since(angle, None if then is None else then.angle()),
        angle_sd_deg=None if angle is None else angle.sd,
        translation=_since(now.translation(), None if then is None else then.translation()),
        head_distal=_since(now.head_below_knee(), None if then is None else then.head_below_knee()),
        malleolus_proximal=_since(
            now.malleolus_above_plafond(), None if then is None else then.malleolus_above_plafond()
        ),
        overlap=now.overlap(),
        joint_angles=joint_angles(marks, now.scale, profile),
    )


def _length(now: Measured | None, then: Measured | None, first_gained_mm: float) -> Measured | None:
    """Length since the operation; without a first film, from closed nail or bone ends."""
    change = _since(now, then)
    if change is None:
        return now
    return Measured(value=change.value + first_gained_mm, sd=change.sd, unit="mm")


def _since(now: Measured | None, then: Measured | None) -> Measured | None:
    """Change between two readings; None without either."""
    if now is None or then is None:
        return None
    return Measured(value=now.value - then.value, sd=math.hypot(now.sd, then.sd), unit=now.unit)


def _both(
    by_nail: Measured | None, by_gap: Measured | None, *, within_sd: float
) -> tuple[Measured | None, float | None]:
    if by_nail is None or by_gap is None:
        return by_gap or by_nail, None
    difference = by_nail.value - by_gap.value
    if abs(difference) > within_sd * math.hypot(by_nail.sd, by_gap.sd):
        return by_gap, difference
    weights = [1 / max(m.sd, 1e-6) ** 2 for m in (by_nail, by_gap)]
    value = (by_nail.value * weights[0] + by_gap.value * weights[1]) / sum(weights)
    return Measured(value=value, sd=1 / math.sqrt(sum(weights)), unit="mm"), None


class _Film:
    """One film with its scale; every method gives None when its marks are missing."""

    def __init__(self, marks: FollowUpMarks, nail: Nail, profile: Profile) -> None:
        self.marks, self.nail, self.profile = marks, nail, profile
        self.scale = nail_scale(marks, nail, profile)

    def _mm_along(self, length_px: float, *, points_sd_mm: float) -> Measured:
        value = length_px * self.scale.along_mm
        return Measured(
            value=value, sd=math.hypot(points_sd_mm, value * self.scale.along_relative_sd), unit="mm"
        )

    def _mm_across(self, length_px: float, *, points_sd_mm: float) -> Measured:
        value = length_px * self.scale.across_mm
        return Measured(
            value=value, sd=math.hypot(points_sd_mm, value * self.scale.across_relative_sd), unit="mm"
        )

    def _nail_way(self) -> Heading | None:
        """Direction along the nail from its entry end to its thin end."""
        m = self.marks
        ends = [mark for mark in (m.nail_thick_end, m.nail_junction, m.nail_thin_end) if mark is not None]
        return None if len(ends) < 2 else heading(spot(m, ends[0]), spot(m, ends[-1]))

    def _distal_way(self) -> Heading | None:
        """Direction along which the gap opens, distal +."""
        if (nail := self._nail_way()) is not None:
            return nail if nail.proximal < 0 else Heading(-nail.across, -nail.proximal)
        return self._axis_way(proximal=True)

    def _axis_way(self, *, proximal: bool) -> Heading | None:
        pair = self.marks.proximal_axis if proximal else self.marks.distal_axis
        return None if pair is None else heading(spot(self.marks, pair[0]), spot(self.marks, pair[1]))

    def telescoped(self) -> Measured | None:
        """Length the nail has given. [mm]"""
        m, error = self.marks, self.profile.nail_edge_reading_error_mm
        if m.nail_thin_end is None:
            return None
        if m.nail_junction is not None:
            shown = distance_px(spot(m, m.nail_junction), spot(m, m.nail_thin_end))
            closed = self.nail.exposed_thin_mm
        elif m.nail_thick_end is not None:
            shown = distance_px(spot(m, m.nail_thick_end), spot(m, m.nail_thin_end))
            closed = shown_mm(self.nail, m.projection, length_mm=self.nail.length_mm)
        else:
            return None
        found = self._mm_along(shown, points_sd_mm=math.sqrt(2) * error)
        return Measured(value=found.value - closed, sd=found.sd, unit="mm")

    def gap(self) -> Measured | None:
        """Distance of both osteotomy edges along the nail. [mm]"""
        m, way = self.marks, self._distal_way()
        if m.proximal_edge is None or m.distal_edge is None or way is None:
            return None
        apart = along_px(middle(m, m.proximal_edge), middle(m, m.distal_edge), way)
        # each edge is the mean of two cortices, and there are two edges: sqrt(2 / 2) of one reading
        return self._mm_along(apart, points_sd_mm=self.profile.wall_sd_mm)

    def angle(self) -> Measured | None:
        """Angulation between the fragments' axes, apex toward across +. [deg]"""
        upper, lower = self._axis_way(proximal=True), self._axis_way(proximal=False)
        if upper is None or lower is None:
            return None
        own = math.degrees(
            math.hypot(self._axis_sd(self.marks.proximal_axis), self._axis_sd(self.marks.distal_axis))
        )
        return Measured(
            value=lean_deg(upper) - lean_deg(lower),
            sd=max(own, self.profile.angle_reading_sd_deg),
            unit="deg",
        )

    def _axis_sd(self, axis: Pair | None) -> float:
        """Standard uncertainty of an axis's direction from that of both its ends. [rad]"""
        assert axis is not None
        length_mm = distance_px(spot(self.marks, axis[0]), spot(self.marks, axis[1])) * self.scale.across_mm
        ends = (self.profile.wall_sd_mm if m.sd_px is None else m.sd_px * self.scale.across_mm for m in axis)
        return math.hypot(*ends) / length_mm

    def translation(self) -> Measured | None:
        """Shift of the distal fragment's axis at its osteotomy edge from the proximal axis. [mm]"""
        m = self.marks
        upper, lower = self._axis_way(proximal=True), self._axis_way(proximal=False)
        if m.proximal_axis is None or m.distal_axis is None or m.distal_edge is None:
            return None
        assert upper is not None
        assert lower is not None
        at_edge = foot(middle(m, m.distal_edge), spot(m, m.distal_axis[1]), lower)
        beside = beside_px(at_edge, spot(m, m.proximal_axis[1]), upper)
        return self._mm_across(beside, points_sd_mm=math.sqrt(2) * self.profile.wall_sd_mm)

    def head_below_knee(self) -> Measured | None:
        """Fibular head below the knee line along the proximal fragment. [mm]"""
        m, way = self.marks, self._axis_way(proximal=True)
        if m.fibula is None or way is None:
            return None
        return self._between_landmarks(spot(m, m.fibula.knee_line), spot(m, m.fibula.head), way)

    def malleolus_above_plafond(self) -> Measured | None:
        """Malleolar tip above the plafond along the distal fragment, negative below it. [mm]"""
        m, way = self.marks, self._axis_way(proximal=False)
        if m.fibula is None or way is None:
            return None
        return self._between_landmarks(spot(m, m.fibula.malleolus), spot(m, m.fibula.plafond), way)

    def _between_landmarks(self, a: Spot, b: Spot, way: Heading) -> Measured:
        return self._mm_along(
            along_px(a, b, way), points_sd_mm=math.sqrt(2) * self.profile.joint_line_landmark_sd_mm
        )

    def overlap(self) -> Measured | None:
        """Thick part beyond the moving fragment's edge. [mm]"""
        m, way = self.marks, self._nail_way()
        antegrade = self.nail.direction is Direction.ANTEGRADE
        edge = m.distal_edge if antegrade else m.proximal_edge
        if edge is None or m.nail_junction is None or way is None:
            return None
        inside = along_px(middle(m, edge), spot(m, m.nail_junction), way)
        return self._mm_along(
            inside, points_sd_mm=math.hypot(self.profile.wall_sd_mm, self.profile.nail_edge_reading_error_mm)
        )
