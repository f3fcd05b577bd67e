"""Axis lines of the parts of a bone, by every textbook construction the landmarks allow.

Constructions (Paley, Principles of Deformity Correction, 2002, chapters 4 to 6, from memory): the
mid-diaphyseal line of a straight part; a line through a joint point at the normal angle to the joint
line, or at that of the other leg; the hip centre with the angle between mechanical and anatomic axis; the
mechanical axis of a normal neighbouring bone carried across the knee. An axis is anatomic (it runs in the
shaft) or mechanical (between joint centres); apexes are found between two axes of one kind only.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from limbwright.limb import formula
from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.landmark import Landmark
from limbwright.limb.lines import Line, Point, between, lean_deg, line_through, point_of, tilt_deg
from limbwright.limb.reading import Measure
from limbwright.limb.template import Template
from limbwright.limb.view import View
from limbwright.published import Row, table
from limbwright.quantity import Value


class Part(StrEnum):
    """Part of a bone that an axis belongs to, from proximal to distal."""

    PROXIMAL = "proximal"
    MIDDLE = "middle"
    DISTAL = "distal"


class AxisKind(StrEnum):
    """What an axis runs along."""

    ANATOMIC = "anatomic"
    MECHANICAL = "mechanical"


class Construction(StrEnum):
    """How an axis was drawn."""

    SHAFT_LINE = "shaft line"
    JOINT_LINE = "joint line and template angle"
    HIP_AND_SHAFT = "hip centre and direction of the shaft line"
    NEIGHBOUR = "mechanical axis of the neighbouring bone"


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis(Value):
    """An axis line of a part of a bone."""

    bone: Bone
    """Bone it belongs to."""
    projection: Projection
    """Plane it lies in."""
    part: Part
    """Part of the bone."""
    kind: AxisKind
    """Anatomic or mechanical."""
    construction: Construction
    """How it was drawn."""
    line: Line
    """The line; `through` is the joint point or the upper shaft point [mm]."""
    landmarks: tuple[Landmark, ...]
    """Landmarks it was drawn from."""
    template: Template | None = None
    """The template angle it uses; absent for a shaft line."""
    point_sd_mm: float = 0.0
    """Standard uncertainty of where it passes the joint line, for a published joint point [mm]."""

    def on(self, view: View, *, turned_deg: float = 0.0, moved_mm: float = 0.0) -> Line:
        """The same construction on another view, its template angle and joint point changed by so much."""
        angle = 0.0 if self.template is None else self.template.value + turned_deg
        line = _rule_of(self).draw(view, angle)
        beside = Line(through=line.through, lean_deg=line.lean_deg + 90.0)
        return Line(through=beside.at(moved_mm), lean_deg=line.lean_deg)


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisRule:
    """One construction of one axis."""

    bone: Bone
    projection: Projection
    part: Part
    kind: AxisKind
    construction: Construction
    landmarks: tuple[Landmark, ...]
    measure: Measure | None
    """Whose template angle it needs; None for none."""
    point: str = ""
    """Row of the joint point table it passes through; empty for a joint centre or a shaft line."""
    normal: Measure | None = None
    """A measurement that must match its template for this construction to hold."""
    draw: Callable[[View, float], Line]
    """Takes a view with the landmarks and the template angle, returns the line."""


def axes(view: View, bone: Bone, templates: Mapping[Measure, Template]) -> tuple[Axis, ...]:
    """Every axis of a bone that can be drawn on a view, from proximal to distal, shaft lines first.

    Parameters
    ----------
    view : View
        One leg in one projection, scaled or not.
    bone : Bone
        Femur or tibia.
    templates : mapping
        Template values by measure (`limb.template.templates`); constructions whose angle has none are
        left out.
    """
    found = []
    for rule in RULES:
        if rule.bone is not bone or rule.projection is not view.projection:
            continue
        if not view.has(*rule.landmarks) or not view.in_one_frame(*rule.landmarks):
            continue
        template = None if rule.measure is None else templates.get(rule.measure)
        if rule.measure is not None and template is None:
            continue
        if rule.normal is not None and not _normal(view, rule.normal, templates):
            continue
        found.append(
            Axis(
                bone=bone,
                projection=view.projection,
                part=rule.part,
                kind=rule.kind,
                construction=rule.construction,
                line=rule.draw(view, 0.0 if template is None else template.value),
                landmarks=rule.landmarks,
                template=template,
                point_sd_mm=_point_sd_mm(rule.point) if view.scaled else 0.0,
            )
        )
    order = list(Part)
    return tuple(sorted(found, key=lambda axis: order.index(axis.part)))


def _normal(view: View, measure: Measure, templates: Mapping[Measure, Template]) -> bool:
    """Whether a measurement lies within two standard uncertainties of its template."""
    template = templates.get(measure)
    way = next(f for f in formula.FORMULAS if f.measure is measure)
    if template is None or not view.has(*way.landmarks) or not view.in_one_frame(*way.landmarks):
        return False
    return abs(way.compute(view) - template.value) <= 2 * template.sd


def _shaft(bone: Bone, projection: Projection, part: Part, ends: tuple[Landmark, Landmark]) -> AxisRule:
    return AxisRule(
        bone=bone,
        projection=projection,
        part=part,
        kind=AxisKind.ANATOMIC,
        construction=Construction.SHAFT_LINE,
        landmarks=ends,
        measure=None,
        draw=lambda view, _: line_through(point_of(view, ends[0]), point_of(view, ends[1])),
    )


def _rises(tilt: float, angle: float) -> float:
    """Lean of an axis for angles that grow with it: aMPFA, LDFA, MPTA, LDTA, PPTA, ADTA."""
    return tilt + angle - 90.0


def _falls(tilt: float, angle: float) -> float:
    """Lean of an axis for angles that fall as it grows: mLPFA, PDFA."""
    return tilt + 90.0 - angle


def _mechanical(
    bone: Bone,
    part: Part,
    measure: Measure,
    centre: Landmark,
    ends: tuple[Landmark, Landmark],
    *,
    lean: Callable[[float, float], float] = _rises,
) -> AxisRule:
    """From a joint centre at the template angle to the joint line (inner, outer end)."""

    def draw(view: View, angle: float) -> Line:
        tilt = tilt_deg(point_of(view, ends[0]), point_of(view, ends[1]))
        return Line(through=point_of(view, centre), lean_deg=lean(tilt, angle))

    return AxisRule(
        bone=bone,
        projection=Projection.FRONTAL,
        part=part,
        kind=AxisKind.MECHANICAL,
        construction=Construction.JOINT_LINE,
        landmarks=tuple(dict.fromkeys((centre, *ends))),
        measure=measure,
        draw=draw,
    )


def _joint_point(name: str) -> Row:
    return next(row for row in table("limb", "joint_points") if row.text("point") == name)


def _point_sd_mm(name: str) -> float:
    return (_joint_point(name).optional_number("sd") or 0.0) if name else 0.0


def _anatomic_frontal(
    bone: Bone,
    part: Part,
    measure: Measure,
    centre: Landmark,
    ends: tuple[Landmark, Landmark],
    *,
    point: str,
) -> AxisRule:
    """From a point so many millimetres medial of the joint centre along the joint line."""

    def draw(view: View, angle: float) -> Line:
        inner, outer, middle = (point_of(view, mark) for mark in (*ends, centre))
        tilt = tilt_deg(inner, outer)
        medial_mm = (
            _joint_point(point).number("value") if view.scaled else 0.0
        )  # no millimetres without scale
        through = Line(through=middle, lean_deg=tilt + 90.0).at(-medial_mm)
        return Line(through=through, lean_deg=_rises(tilt, angle))

    return AxisRule(
        bone=bone,
        projection=Projection.FRONTAL,
        part=part,
        kind=AxisKind.ANATOMIC,
        construction=Construction.JOINT_LINE,
        landmarks=(centre, *ends),
        measure=measure,
        point=point,
        draw=draw,
    )


def _anatomic_sagittal(
    bone: Bone,
    part: Part,
    measure: Measure,
    ends: tuple[Landmark, Landmark],
    *,
    point: str,
    lean: Callable[[float, float], float] = _rises,
) -> AxisRule:
    """From a point at a share of the joint line from its anterior end."""

    def draw(view: View, angle: float) -> Line:
        posterior, anterior = (point_of(view, mark) for mark in ends)
        return Line(
            through=between(anterior, posterior, _joint_point(point).number("value")),
            lean_deg=lean(tilt_deg(posterior, anterior), angle),
        )

    return AxisRule(
        bone=bone,
        projection=Projection.SAGITTAL,
        part=part,
        kind=AxisKind.ANATOMIC,
        construction=Construction.JOINT_LINE,
        landmarks=ends,
        measure=measure,
        point=point,
        draw=draw,
    )


def _from_hip(view: View, ama: float) -> Line:
    upper, lower, hip = (
        point_of(view, mark) for mark in (*formula.PROXIMAL_FEMUR, Landmark.FEMORAL_HEAD_CENTRE)
    )
    return Line(through=hip, lean_deg=lean_deg(upper, lower) + ama)


def _neighbour(
    bone: Bone, part: Part, through: Landmark, along: tuple[Landmark, Landmark], normal: Measure
) -> AxisRule:
    def draw(view: View, _: float) -> Line:
        start: Point = point_of(view, through)
        return Line(through=start, lean_deg=lean_deg(point_of(view, along[0]), point_of(view, along[1])))

    return AxisRule(
        bone=bone,
        projection=Projection.FRONTAL,
        part=part,
        kind=AxisKind.MECHANICAL,
        construction=Construction.NEIGHBOUR,
        landmarks=tuple(dict.fromkeys((through, *along))),
        measure=None,
        normal=normal,
        draw=draw,
    )


_MIDDLE_FEMUR = (Landmark.FEMUR_MIDDLE_SHAFT_UPPER, Landmark.FEMUR_MIDDLE_SHAFT_LOWER)
_MIDDLE_TIBIA = (Landmark.TIBIA_MIDDLE_SHAFT_UPPER, Landmark.TIBIA_MIDDLE_SHAFT_LOWER)
_PHYSIS = (Landmark.DISTAL_FEMORAL_PHYSIS_POSTERIOR, Landmark.DISTAL_FEMORAL_PHYSIS_ANTERIOR)
_PLATEAU_SAGITTAL = (Landmark.PLATEAU_POSTERIOR, Landmark.PLATEAU_ANTERIOR)
_PLAFOND_SAGITTAL = (Landmark.PLAFOND_POSTERIOR, Landmark.PLAFOND_ANTERIOR)
_HIP_LINE = (Landmark.FEMORAL_HEAD_CENTRE, Landmark.GREATER_TROCHANTER_TIP)

SHAFTS: Mapping[tuple[Bone, Part], tuple[Landmark, Landmark]] = {
    (Bone.FEMUR, Part.PROXIMAL): formula.PROXIMAL_FEMUR,
    (Bone.FEMUR, Part.MIDDLE): _MIDDLE_FEMUR,
    (Bone.FEMUR, Part.DISTAL): formula.DISTAL_FEMUR,
    (Bone.TIBIA, Part.PROXIMAL): formula.PROXIMAL_TIBIA,
    (Bone.TIBIA, Part.MIDDLE): _MIDDLE_TIBIA,
    (Bone.TIBIA, Part.DISTAL): formula.DISTAL_TIBIA,
}

RULES: tuple[AxisRule, ...] = (
    *(_shaft(bone, plane, part, ends) for (bone, part), ends in SHAFTS.items() for plane in Projection),
    _mechanical(
        Bone.FEMUR, Part.PROXIMAL, Measure.MLPFA, Landmark.FEMORAL_HEAD_CENTRE, _HIP_LINE, lean=_falls
    ),
    AxisRule(
        bone=Bone.FEMUR,
        projection=Projection.FRONTAL,
        part=Part.PROXIMAL,
        kind=AxisKind.MECHANICAL,
        construction=Construction.HIP_AND_SHAFT,
        landmarks=(Landmark.FEMORAL_HEAD_CENTRE, *formula.PROXIMAL_FEMUR),
        measure=Measure.AMA,
        draw=_from_hip,
    ),
    _mechanical(Bone.FEMUR, Part.DISTAL, Measure.MLDFA, Landmark.FEMUR_KNEE_CENTRE, formula.CONDYLES),
    _neighbour(Bone.FEMUR, Part.DISTAL, Landmark.FEMUR_KNEE_CENTRE, formula.TIBIA_AXIS, normal=Measure.MPTA),
    _anatomic_frontal(
        Bone.FEMUR,
        Part.DISTAL,
        Measure.ALDFA,
        Landmark.FEMUR_KNEE_CENTRE,
        formula.CONDYLES,
        point="femur distal frontal",
    ),
    _mechanical(Bone.TIBIA, Part.PROXIMAL, Measure.MPTA, Landmark.TIBIA_KNEE_CENTRE, formula.PLATEAU),
    _neighbour(
        Bone.TIBIA, Part.PROXIMAL, Landmark.TIBIA_KNEE_CENTRE, formula.FEMUR_AXIS, normal=Measure.MLDFA
    ),
    _anatomic_frontal(
        Bone.TIBIA,
        Part.PROXIMAL,
        Measure.MPTA,
        Landmark.TIBIA_KNEE_CENTRE,
        formula.PLATEAU,
        point="tibia proximal frontal",
    ),
    _mechanical(Bone.TIBIA, Part.DISTAL, Measure.LDTA, Landmark.ANKLE_CENTRE, formula.PLAFOND),
    _anatomic_frontal(
        Bone.TIBIA,
        Part.DISTAL,
        Measure.LDTA,
        Landmark.ANKLE_CENTRE,
        formula.PLAFOND,
        point="tibia distal frontal",
    ),
    _anatomic_sagittal(
        Bone.FEMUR, Part.DISTAL, Measure.PDFA, _PHYSIS, point="femur distal sagittal", lean=_falls
    ),
    _anatomic_sagittal(
        Bone.TIBIA, Part.PROXIMAL, Measure.PPTA, _PLATEAU_SAGITTAL, point="tibia proximal sagittal"
    ),
    _anatomic_sagittal(
        Bone.TIBIA, Part.DISTAL, Measure.ADTA, _PLAFOND_SAGITTAL, point="tibia distal sagittal"
    ),
)


def _rule_of(axis: Axis) -> AxisRule:
    return next(
        rule
        for rule in RULES
        if (rule.bone, rule.projection, rule.part, rule.kind, rule.construction)
        == (axis.bone, axis.projection, axis.part, axis.kind, axis.construction)
    )
