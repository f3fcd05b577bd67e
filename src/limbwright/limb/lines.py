"""Points and lines in the limb plane frame, and the few operations all measurements are made of.

A direction along the bone is given by its lean: the angle of its distal direction from straight down,
toward across + (lateral on a frontal film, anterior on a sagittal film) [deg]. Two leans differ by the
angulation: proximal minus distal is the angle with its apex toward across +, so varus + on a frontal
film and procurvatum + on a sagittal film.
"""

import math
from dataclasses import dataclass
from typing import NamedTuple

from limbwright.error import OutOfRange
from limbwright.limb.landmark import Landmark
from limbwright.limb.view import View
from limbwright.quantity import Value


class Point(NamedTuple):
    """A place in the limb plane frame."""

    across_mm: float
    """Lateral + (frontal) or anterior + (sagittal) [mm]."""
    proximal_mm: float
    """Toward the head + [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line(Value):
    """A straight line along a bone."""

    through: Point
    """A point on it [mm]."""
    lean_deg: float
    """Angle of its distal direction from straight down, toward across + [deg]."""

    def at(self, distal_mm: float) -> Point:
        """The point `distal_mm` along the line from `through`, distal + [mm]."""
        lean = math.radians(self.lean_deg)
        return Point(
            self.through.across_mm + distal_mm * math.sin(lean),
            self.through.proximal_mm - distal_mm * math.cos(lean),
        )


def point_of(view: View, landmark: Landmark) -> Point:
    """Where a landmark lies."""
    spot = view.spot(landmark)
    return Point(spot.across_mm, spot.proximal_mm)


def midpoint(a: Point, b: Point) -> Point:
    """Halfway between two points."""
    return Point((a.across_mm + b.across_mm) / 2, (a.proximal_mm + b.proximal_mm) / 2)


def between(a: Point, b: Point, share: float) -> Point:
    """The point at `share` of the way from `a` to `b`; 0 is `a`, 1 is `b`."""
    return Point(
        a.across_mm + share * (b.across_mm - a.across_mm),
        a.proximal_mm + share * (b.proximal_mm - a.proximal_mm),
    )


def distance_mm(a: Point, b: Point) -> float:
    """Distance between two points [mm]."""
    return math.hypot(a.across_mm - b.across_mm, a.proximal_mm - b.proximal_mm)


def wrapped_deg(angle_deg: float) -> float:
    """The same angle in -180 (excluded) to 180 [deg]."""
    turned = math.fmod(angle_deg, 360.0)
    if turned > 180.0:
        return turned - 360.0
    return turned + 360.0 if turned <= -180.0 else turned


def _apart(a: Point, b: Point) -> tuple[float, float]:
    x, y = b.across_mm - a.across_mm, b.proximal_mm - a.proximal_mm
    if math.hypot(x, y) < 1e-6:
        raise OutOfRange(
            f"two landmarks lie on the same spot ({a.across_mm:.1f} mm, {a.proximal_mm:.1f} mm).",
            where="line through two landmarks",
            next_step="Move one of them: a line needs two separate points.",
        )
    return x, y


def lean_deg(proximal: Point, distal: Point) -> float:
    """Angle of the direction from `proximal` to `distal` from straight down, toward across + [deg]."""
    x, y = _apart(proximal, distal)
    return math.degrees(math.atan2(x, -y))


def tilt_deg(inner: Point, outer: Point) -> float:
    """Angle of a joint line above the horizontal of the film [deg].

    Parameters
    ----------
    inner, outer : Point
        Its medial and lateral end (frontal), or posterior and anterior end (sagittal). Positive when the
        outer end is the higher one.
    """
    x, y = _apart(inner, outer)
    return math.degrees(math.atan2(y, x))


def line_through(proximal: Point, distal: Point) -> Line:
    """The line through two points of a bone."""
    return Line(through=proximal, lean_deg=lean_deg(proximal, distal))


def angle_between_deg(a_from: Point, a_to: Point, b_from: Point, b_to: Point) -> float:
    """Angle from 0 to 180 between the directions a_from → a_to and b_from → b_to [deg]."""
    ax, ay = _apart(a_from, a_to)
    bx, by = _apart(b_from, b_to)
    return math.degrees(math.atan2(abs(ax * by - ay * bx), ax * bx + ay * by))


def angulation_deg(proximal: Line, distal: Line) -> float:
    """Angle between two axes, apex toward across + (varus +, procurvatum +) [deg]."""
    return wrapped_deg(proximal.lean_deg - distal.lean_deg)


def offset_mm(point: Point, line: Line) -> float:
    """Perpendicular distance of a point from a line, across + [mm]."""
    lean = math.radians(line.lean_deg)
    return (point.across_mm - line.through.across_mm) * math.cos(lean) + (
        point.proximal_mm - line.through.proximal_mm
    ) * math.sin(lean)


def along_mm(point: Point, line: Line) -> float:
    """How far along the line the foot of a point lies from `line.through`, distal + [mm]."""
    lean = math.radians(line.lean_deg)
    return (point.across_mm - line.through.across_mm) * math.sin(lean) - (
        point.proximal_mm - line.through.proximal_mm
    ) * math.cos(lean)


def crossing(a: Line, b: Line, *, parallel_below_deg: float) -> Point | None:
    """Where two lines cross, or None when the angle between them is below `parallel_below_deg` [deg]."""
    angle = math.radians(angulation_deg(a, b))
    if abs(math.sin(angle)) < math.sin(math.radians(parallel_below_deg)):
        return None
    # Walking s along a changes the offset from b by s·sin(lean a - lean b).
    return a.at(-offset_mm(a.through, b) / math.sin(angle))
