"""Nail and screws of one bone as shapes, in the corrected bone, at any lengthening."""

from dataclasses import dataclass

import numpy as np

from limbwright.implant.nail import Hole, HoleDirection
from limbwright.limb.anatomy import Fragment, Projection
from limbwright.limb.view import Border
from limbwright.plan.canal import ACROSS
from limbwright.plan.decision import BlockingScrew, BonePlan, Pin, ScrewDirection
from limbwright.plan.leg import LegModel
from limbwright.plan.motion import Floats, Motion, unit
from limbwright.plan.osteotomy import bone_line
from limbwright.plan.path import crossing as line_crossing
from limbwright.plan.path import distal_direction, driving_fragment, driving_line, vector
from limbwright.plan.reduction import Reduction
from limbwright.plan.shape import Shape, ShapeKind, band, flat
from limbwright.quantity import Value

SCREW_LENGTH_MM = 36.0  # drawn length of a screw where the bone's width is not known
_SIDE = {
    Border.LATERAL: np.array([0.0, 0.0, 1.0]),
    Border.MEDIAL: np.array([0.0, 0.0, -1.0]),
    Border.ANTERIOR: np.array([1.0, 0.0, 0.0]),
    Border.POSTERIOR: np.array([-1.0, 0.0, 0.0]),
}
_SCREW_SIDE = {
    HoleDirection.MEDIOLATERAL: _SIDE[Border.LATERAL],
    HoleDirection.ANTEROPOSTERIOR: _SIDE[Border.ANTERIOR],
    HoleDirection.OBLIQUE: unit(_SIDE[Border.LATERAL] + _SIDE[Border.ANTERIOR]),
}
_END_ON = 0.3  # a screw that shows less than this share of its length is drawn as a circle


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose(Value):
    """Where the fragments of one bone are."""

    reductions: tuple[Reduction, ...]
    """The bone's reductions, from proximal to distal."""
    motions: tuple[Motion, ...]
    """Motion of every fragment from where it stands, from proximal to distal."""
    gained_mm: float
    """Length gained [mm]."""

    @property
    def reduction(self) -> Reduction:
        """The reduction at the osteotomy that is lengthened."""
        return next(r for r in self.reductions if r.lengthens)

    @property
    def proximal(self) -> Motion:
        """Motion of the proximal fragment from where it stands."""
        return self.motions[0]

    @property
    def distal(self) -> Motion:
        """Motion of the distal fragment from where it stands."""
        return self.motions[-1]

    def of(self, fragment: Fragment) -> Motion:
        """Motion of one fragment."""
        return self.motions[{Fragment.PROXIMAL: 0, Fragment.MIDDLE: 1, Fragment.DISTAL: -1}[fragment]]

    def faces(self) -> tuple[tuple[Reduction, Fragment], ...]:
        """Both faces of every cut, each with the fragment it belongs to, from proximal to distal."""
        names = (Fragment.PROXIMAL, *[Fragment.MIDDLE] * (len(self.reductions) - 1), Fragment.DISTAL)
        return tuple((r, names[i + below]) for i, r in enumerate(self.reductions) for below in (0, 1))


def nail_point_mm(plan: BonePlan, pose: Pose, depth_mm: float) -> Floats:
    """A point of the nail's centre line where it now is; it stays with the driving fragment, (3,). [mm]"""
    return _Axis.of(plan, pose).at(depth_mm)


def nail_shapes(plan: BonePlan, pose: Pose, projection: Projection) -> tuple[Shape, ...]:
    """Thick part, thin part and locking screws of the nail; it stays with the driving fragment."""
    nail, axis = plan.nail, _Axis.of(plan, pose)
    tip = nail.length_mm + pose.gained_mm
    shapes = []
    for kind, radius, stops in (
        (ShapeKind.NAIL_THIN, nail.thin_diameter_mm / 2, (nail.thick_length_mm, tip)),
        (ShapeKind.NAIL_THICK, nail.thick_diameter_mm / 2, (0.0, nail.thick_length_mm)),
    ):
        depths = [stops[0], *([axis.run_in_mm] if stops[0] < axis.run_in_mm < stops[1] else []), stops[1]]
        centre = flat([axis.at(d) for d in depths], projection)
        shapes.append(
            Shape(
                kind=kind,
                points_mm=band(centre, radius),
                label=f"{kind}, {2 * radius:g} mm",
                closed=True,
                bone=plan.bone,
            )
        )
    return (*shapes, *(_locking(plan, pose, axis, hole, projection) for hole in nail.holes))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Axis:
    """The nail's centre line where it now is: entry, start of its straight part, direction. [mm]"""

    entry_mm: Floats
    start_mm: Floats
    along: Floats
    run_in_mm: float

    @classmethod
    def of(cls, plan: BonePlan, pose: Pose) -> "_Axis":
        start, along, run_in_mm = driving_line(plan.path, plan.direction)
        carrier = pose.of(driving_fragment(plan.direction))
        entry, start = carrier.moved(np.stack([vector(plan.path.entry), start]))
        return cls(entry_mm=entry, start_mm=start, along=carrier.turned(along), run_in_mm=run_in_mm)

    def at(self, depth_mm: float) -> Floats:
        """The point at a depth along the nail, (3,). [mm]"""
        if depth_mm >= self.run_in_mm:
            return self.start_mm + (depth_mm - self.run_in_mm) * self.along
        point: Floats = self.entry_mm + depth_mm / self.run_in_mm * (self.start_mm - self.entry_mm)
        return point


def _locking(plan: BonePlan, pose: Pose, axis: _Axis, hole: Hole, projection: Projection) -> Shape:
    carrier = pose.of(driving_fragment(plan.direction))
    return _screw(
        kind=ShapeKind.LOCKING_SCREW,
        centre_mm=axis.at(plan.nail.hole_depth_mm(hole, lengthening_mm=pose.gained_mm)),
        axis=_across(carrier.turned(_SCREW_SIDE[hole.direction]), axis.along),
        diameter_mm=hole.screw_diameter_mm,
        projection=projection,
        label=f"locking screw, {hole.direction}, {hole.screw_diameter_mm:g} mm",
        plan=plan,
        fragment=None,
    )


def blocking_shapes(plan: BonePlan, pose: Pose, projection: Projection) -> tuple[Shape, ...]:
    """Blocking screws, each moving with its fragment."""
    return tuple(_blocking(plan, pose, screw, projection) for screw in plan.blocking_screws)


def pin_shapes(leg: LegModel, plan: BonePlan, pose: Pose, projection: Projection) -> tuple[Shape, ...]:
    """Pins and rotation markers of the temporary fixator, each moving with its fragment.

    They run across the leg: an outline from the front, a circle from the side.
    """
    return tuple(
        _screw(
            kind=ShapeKind.PIN,
            centre_mm=pose.of(pin.fragment).moved(pin_point_mm(leg, plan, pin)),
            axis=pose.of(pin.fragment).turned(_SIDE[Border.LATERAL]),
            diameter_mm=pin.diameter_mm,
            projection=projection,
            label=f"pin, {pin.role}, {pin.diameter_mm:g} mm",
            plan=plan,
            fragment=pin.fragment,
        )
        for pin in plan.pins
    )


def pin_point_mm(leg: LegModel, plan: BonePlan, pin: Pin) -> Floats:
    """Middle of a pin's axis in the bone as it stands: on the nail's line beyond its tip, else beside it."""
    line, path = bone_line(leg, plan.bone), plan.path.of(pin.fragment)
    upper, u = vector(path.upper), distal_direction(path)
    along = (pin.below_joint_mm - line.below_joint_mm(upper)) / float(u @ line.direction())
    beside = 0.0 if "tip" in pin.nail_side else plan.reamer_mm / 2 + pin.clearance_mm + pin.diameter_mm / 2
    forward = 1.0 if pin.nail_side.startswith("anterior") else -1.0
    return upper + along * u + forward * beside * _across(_SIDE[Border.ANTERIOR], u)


def blocking_point_mm(plan: BonePlan, pose: Pose, screw: BlockingScrew) -> Floats:
    """Middle of a blocking screw's axis where it now is, (3,). [mm]"""
    fragment = plan.fragment_beside(screw.fragment, screw.from_osteotomy_mm)
    path = plan.path.of(fragment)
    u = distal_direction(path)
    reduction, from_cut_mm = pose.reduction, screw.from_osteotomy_mm
    if plan.second is not None and fragment is plan.middle_side:
        reduction = next(r for r in pose.reductions if not r.lengthens)
        from_cut_mm -= plan.middle_length_mm
    at_cut = line_crossing(vector(path.upper), u, reduction.cut.point_mm, reduction.cut.normal)
    away = -u if screw.fragment is Fragment.PROXIMAL else u
    point = at_cut + from_cut_mm * away + screw.offset_mm * _across(_SIDE[screw.side], u)
    return pose.of(fragment).moved(point)


def _blocking(plan: BonePlan, pose: Pose, screw: BlockingScrew, projection: Projection) -> Shape:
    driven = _SIDE[Border.ANTERIOR if screw.direction is ScrewDirection.ANTEROPOSTERIOR else Border.LATERAL]
    return _screw(
        kind=ShapeKind.BLOCKING_SCREW,
        centre_mm=blocking_point_mm(plan, pose, screw),
        axis=pose.of(plan.fragment_beside(screw.fragment, screw.from_osteotomy_mm)).turned(driven),
        diameter_mm=screw.diameter_mm,
        projection=projection,
        label=f"blocking screw, {screw.side}, {screw.diameter_mm:g} mm",
        plan=plan,
        fragment=plan.fragment_beside(screw.fragment, screw.from_osteotomy_mm),
    )


def _across(direction: Floats, along: Floats) -> Floats:
    """The part of a direction across a line, as a unit vector."""
    return unit(direction - (direction @ along) * along)


def _screw(
    *,
    kind: ShapeKind,
    centre_mm: Floats,
    axis: Floats,
    diameter_mm: float,
    projection: Projection,
    label: str,
    plan: BonePlan,
    fragment: Fragment | None,
) -> Shape:
    """A circle where the screw is seen end-on, an outline of its shank elsewhere."""
    common = {"kind": kind, "label": label, "bone": plan.bone, "fragment": fragment}
    if abs(float(axis[ACROSS[projection]])) < _END_ON:
        return Shape(points_mm=flat(centre_mm, projection), radius_mm=diameter_mm / 2, **common)  # type: ignore[arg-type]  # one dict for both shapes
    ends = flat([centre_mm - SCREW_LENGTH_MM / 2 * axis, centre_mm + SCREW_LENGTH_MM / 2 * axis], projection)
    return Shape(points_mm=band(ends, diameter_mm / 2), closed=True, **common)  # type: ignore[arg-type]  # as above
