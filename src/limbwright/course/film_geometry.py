"""Marks of a follow-up film as points of the limb plane, still in pixels, and the few measures taken there.

Frame: across (lateral or anterior +) and proximal (toward the head +), both in pixels; the side is resolved
by the marks.
"""

import math
from typing import NamedTuple

from limbwright.course.film_marks import FollowUpMarks, Pair
from limbwright.film.film import Mark, ViewerSide


class Spot(NamedTuple):
    """A marked point in the limb plane."""

    across_px: float
    """Lateral or anterior + [px]."""
    proximal_px: float
    """Toward the head + [px]."""


class Heading(NamedTuple):
    """A unit vector in the limb plane."""

    across: float
    """Component toward lateral or anterior."""
    proximal: float
    """Component toward the head."""


def spot(marks: FollowUpMarks, mark: Mark) -> Spot:
    """A mark in the limb plane."""
    sign = 1.0 if marks.across_to is ViewerSide.VIEWER_RIGHT else -1.0
    return Spot(sign * mark.x_px, -mark.y_px)


def middle(marks: FollowUpMarks, pair: Pair) -> Spot:
    """Halfway between two marks."""
    a, b = spot(marks, pair[0]), spot(marks, pair[1])
    return Spot((a.across_px + b.across_px) / 2, (a.proximal_px + b.proximal_px) / 2)


def heading(a: Spot, b: Spot) -> Heading:
    """Direction from `a` to `b`."""
    across, proximal = b.across_px - a.across_px, b.proximal_px - a.proximal_px
    length = math.hypot(across, proximal)
    return Heading(across / length, proximal / length)


def distance_px(a: Spot, b: Spot) -> float:
    """Distance of two points. [px]"""
    return math.hypot(b.across_px - a.across_px, b.proximal_px - a.proximal_px)


def along_px(a: Spot, b: Spot, way: Heading) -> float:
    """How far `b` lies from `a` in a direction. [px]"""
    return (b.across_px - a.across_px) * way.across + (b.proximal_px - a.proximal_px) * way.proximal


def lean_deg(way: Heading) -> float:
    """Angle of a distal direction from straight down, toward across +. [deg]"""
    return math.degrees(math.atan2(way.across, -way.proximal))


def beside_px(point: Spot, on_line: Spot, way: Heading) -> float:
    """Distance of a point from a line that runs distally in direction `way`, across +. [px]"""
    across, proximal = point.across_px - on_line.across_px, point.proximal_px - on_line.proximal_px
    return -across * way.proximal + proximal * way.across


def foot(point: Spot, on_line: Spot, way: Heading) -> Spot:
    """Nearest point of a line. [px]"""
    t = along_px(on_line, point, way)
    return Spot(on_line.across_px + t * way.across, on_line.proximal_px + t * way.proximal)
