"""Polylines of the nail in its canal at three moments of the course, both planes together, for a figure."""

import math
from dataclasses import dataclass

import numpy as np

from limbwright.mechanics import CoupledResult, Plane, Support, Walls
from limbwright.mechanics import Fragment as Part
from limbwright.plan.forecast.drift_course import BoneForecast
from limbwright.plan.motion import Floats
from limbwright.quantity import Value

Line = tuple[tuple[float, float], ...]
LEAST_N = 1.0  # a lighter contact is not drawn
DEPTH_STEP_MM = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnContact(Value):
    """One contact of the picture."""

    support: Support
    """What holds the nail."""
    across_mm: float
    """Place across the nail, lateral + or anterior + [mm]."""
    depth_mm: float
    """Depth along the nail from its entry end, lengthened [mm]."""
    force_n: float
    """Force on the nail, lateral + or anterior + [N]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactPanel(Value):
    """The nail in its canal at one moment in one plane; points are (across, depth) in the entry fragment."""

    day: float
    """Day since the operation."""
    lengthening_mm: float
    """Length gained [mm]."""
    plane: Plane
    """Plane."""
    walls: tuple[Line, ...]
    """Inner walls of both fragments, the moving one where it has gone."""
    nail: Line
    """Outline of the nail."""
    screws: tuple[tuple[float, float, float], ...]
    """Blocking screws of this plane: across, depth, diameter [mm]."""
    contacts: tuple[DrawnContact, ...]
    """Where the nail is held."""
    angulation_deg: float | None
    """Angulation in this plane, varus + or procurvatum +; None without a number [deg]."""


def contact_panels(made: BoneForecast) -> tuple[ContactPanel, ...]:
    """Frontal and sagittal panel at the first millimetre, half way and full length.

    The answers are those of the planned course, new bone included; a moment without an answer has no panel.
    """
    solved = made.solved
    three = (solved[0], solved[len(solved) // 2], solved[-1])
    return tuple(
        _panel(made, stage.stage.day, stage.coupled, plane)
        for plane in Plane
        for stage in three
        if stage.coupled is not None and stage.coupled.oblique_deg is not None
    )


def _panel(made: BoneForecast, day: float, found: CoupledResult, plane: Plane) -> ContactPanel:
    construct = made.modelled.construct
    nail, cut, gained = construct.nail, construct.osteotomy_depth_mm, found.lengthening_mm
    depth = np.arange(0.0, nail.length_mm + gained + DEPTH_STEP_MM / 2, DEPTH_STEP_MM)
    depth = np.unique(np.append(depth, (nail.step_depth_mm - 1e-6, nail.step_depth_mm + 1e-6)))
    centre = found.nail_offset_mm(plane, depth)
    radius = np.array([nail.radius_mm(float(z)) for z in depth])
    outline = [
        *zip(centre + radius, depth, strict=True),
        *zip((centre - radius)[::-1], depth[::-1], strict=True),
    ]
    walls = [
        line
        for part, canal in ((Part.ENTRY, construct.entry_canal), (Part.MOVING, construct.moving_canal))
        for line in _walls(canal.in_plane(plane), part, found, plane, cut_mm=cut)
    ]
    screws = tuple(
        (
            _moved(
                found,
                plane,
                s.fragment,
                sign * s.axis_offset_mm(nail.radius_mm(s.depth_mm)),
                s.depth_mm - cut,
            ),
            s.depth_mm + (gained if s.fragment is Part.MOVING else 0.0),
            s.diameter_mm,
        )
        for s in construct.blocking_screws
        if s.side.plane is plane
        for sign in (1.0 if s.side.positive else -1.0,)
    )
    contacts = tuple(
        DrawnContact(
            support=c.support,
            across_mm=float(np.interp(z, depth, centre))
            - math.copysign(nail.radius_mm(z), c.in_plane_n(plane)),
            depth_mm=z,
            force_n=c.in_plane_n(plane),
        )
        for c in found.contacts
        if abs(c.in_plane_n(plane)) >= LEAST_N
        for z in (c.depth_mm + (gained if c.fragment is Part.MOVING else 0.0),)
    )
    return ContactPanel(
        day=day,
        lengthening_mm=gained,
        plane=plane,
        walls=tuple(walls),
        nail=tuple((float(x), float(z)) for x, z in outline),
        screws=screws,
        contacts=contacts,
        angulation_deg=found.angulation_deg(plane),
    )


def _moved(found: CoupledResult, plane: Plane, part: Part, across_mm: float, beyond_cut_mm: float) -> float:
    """Offset of a point of a fragment in the entry fragment's frame. [mm]"""
    return across_mm + (found.shift_mm(plane, beyond_cut_mm) if part is Part.MOVING else 0.0)


def _walls(
    walls: Walls, part: Part, found: CoupledResult, plane: Plane, *, cut_mm: float
) -> tuple[Line, ...]:
    depth: Floats = np.array(walls.depth_mm)
    along = found.lengthening_mm if part is Part.MOVING else 0.0
    return tuple(
        tuple(
            (_moved(found, plane, part, float(x), float(z) - cut_mm), float(z) + along)
            for x, z in zip(side, depth, strict=True)
        )
        for side in (walls.negative_mm, walls.positive_mm)
    )
