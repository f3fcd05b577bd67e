"""Apexes as points and axes as lines for the screen; and where an apex goes while a landmark is dragged."""

from collections.abc import Mapping
from typing import Any

from limbwright.case.situation import BoneDeformity
from limbwright.error import LimbwrightError
from limbwright.interop.plain import directed_plain, measured_plain
from limbwright.limb.anatomy import Projection
from limbwright.limb.apex import JOINT_POINTS, Apex
from limbwright.limb.axes import Axis, axes
from limbwright.limb.deformity import Deformity
from limbwright.limb.lines import Line, Point, along_mm, angulation_deg, crossing, point_of
from limbwright.limb.reading import Measure
from limbwright.limb.template import Template
from limbwright.limb.view import View
from limbwright.plan.leg import LegModel
from limbwright.quantity import PROCURVATUM_RECURVATUM, VARUS_VALGUS, directed

SENSES = {Projection.FRONTAL: VARUS_VALGUS, Projection.SAGITTAL: PROCURVATUM_RECURVATUM}
AXIS_HALF_MM = 220.0
PARALLEL_BELOW_DEG = 1.0


def deformity_plain(seen: BoneDeformity, views: Mapping[Projection, View], leg: LegModel | None) -> Any:
    """One bone's deformity in both planes, points in the leg model's frame."""
    return {
        "bone": seen.bone.value,
        "planes": [_plane(plane, _shift(views.get(plane.projection), leg)) for plane in seen.planes()],
        "not_found": list(seen.not_found),
    }


def _plane(plane: Deformity, shift: Point | None) -> dict[str, Any]:
    return {
        "projection": plane.projection.value,
        "pattern": plane.pattern.value,
        "total": measured_plain(plane.total, SENSES[plane.projection]),
        "apexes": [apex_plain(apex, shift) for apex in plane.apexes],
        "axes": [
            {
                "label": f"axis of the {axis.part} part of the {plane.bone}",
                "construction": axis.construction.value,
                "points_mm": _ends(axis.line, shift),
            }
            for axis in plane.parts
        ]
        if shift is not None
        else [],
    }


def apex_plain(apex: Apex, shift: Point | None) -> dict[str, Any]:
    """One apex with its levels and uncertainties."""
    upper, lower = apex.from_proximal_joint, apex.from_distal_joint
    return {
        "outcome": apex.outcome.value,
        **directed_plain(apex.shown()),
        "sd_deg": round(apex.angulation.sd, 3),
        "point_mm": None if apex.point is None or shift is None else _moved(apex.point, shift),
        "below_joint_mm": None if upper is None else round(upper.value, 2),
        "below_joint_sd_mm": None if upper is None else round(upper.sd, 2),
        "above_distal_joint_mm": None if lower is None else round(lower.value, 2),
    }


def quick_apexes(
    view: View, seen: Deformity, templates: Mapping[Measure, Template], leg: LegModel | None
) -> list[dict[str, Any]]:
    """The same apexes on a changed view: the axes drawn anew, crossed anew, without uncertainties."""
    drawn = {_key(axis): axis for axis in axes(view, seen.bone, templates)}
    shift = _shift(view, leg)
    found = []
    for apex in seen.apexes:
        up, low = drawn.get(_key(apex.proximal)), drawn.get(_key(apex.distal))
        if up is None or low is None:
            continue
        angle = directed(angulation_deg(up.line, low.line), unit="deg", senses=SENSES[seen.projection])
        point = crossing(up.line, low.line, parallel_below_deg=PARALLEL_BELOW_DEG)
        found.append(
            {
                "bone": seen.bone.value,
                "projection": seen.projection.value,
                **directed_plain(angle),
                "point_mm": None if point is None or shift is None else _moved(point, shift),
                "below_joint_mm": None if point is None else _level_mm(view, seen, up.line, point),
            }
        )
    return found


def _key(axis: Axis) -> tuple[object, ...]:
    return axis.part, axis.kind, axis.construction, axis.landmarks


def _level_mm(view: View, seen: Deformity, line: Line, point: Point) -> float | None:
    """Level of a point along the proximal axis below the proximal joint point. [mm]"""
    marks = JOINT_POINTS[(seen.bone, seen.projection)][0]
    if not view.scaled or not view.has(*marks):
        return None
    places = [point_of(view, mark) for mark in marks]
    joint = Point(
        sum(p.across_mm for p in places) / len(places), sum(p.proximal_mm for p in places) / len(places)
    )
    return round(along_mm(point, line) - along_mm(joint, line), 2)


def _shift(view: View | None, leg: LegModel | None) -> Point | None:
    """From the view's frame to the leg model's, by any landmark both know; None without a model."""
    if view is None or leg is None or not view.scaled:
        return None
    try:
        model = leg.view(view.projection)
    except LimbwrightError:
        return None
    for landmark, spot in view.spots.items():
        there = model.spots.get(landmark)
        if there is not None:
            return Point(there.across_mm - spot.across_mm, there.proximal_mm - spot.proximal_mm)
    return None


def _moved(point: Point, shift: Point) -> list[float]:
    return [round(point.across_mm + shift.across_mm, 3), round(point.proximal_mm + shift.proximal_mm, 3)]


def _ends(line: Line, shift: Point | None) -> list[list[float]]:
    if shift is None:
        return []
    return [_moved(line.at(s), shift) for s in (-AXIS_HALF_MM, AXIS_HALF_MM)]
