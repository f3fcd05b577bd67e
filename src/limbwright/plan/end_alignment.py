"""The leg after reduction and lengthening, and the turn of the distal fragment that ends as wanted."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from limbwright.error import Refused
from limbwright.limb.anatomy import Bone, Fragment, Projection
from limbwright.limb.formula import FORMULAS
from limbwright.limb.landmark import Landmark
from limbwright.limb.reading import Measure
from limbwright.limb.view import View
from limbwright.plan.cut import Cut, assembled, cut_leg
from limbwright.plan.decision import FragmentPath
from limbwright.plan.leg import LegModel
from limbwright.plan.motion import LATERAL, PROXIMAL, STAY, Floats, Motion, motion, motion_about, turn
from limbwright.plan.path import end_translation_through, place_of
from limbwright.plan.reduction import Reduction
from limbwright.quantity import Value, require_within

_SPAN_MM = 100.0  # distance between the two points a line is written down by
_STEP_DEG = 0.01
_ENOUGH = 1e-7  # residual of the wanted angles [deg]


@dataclass(frozen=True, slots=True, kw_only=True)
class FemoralAxisShift(Value):
    """What lengthening a femur along its anatomical axis does to the mechanical axis."""

    knee_medial_mm: float
    """How far the knee centre moves medially off the old femoral mechanical axis [mm]."""
    mad_lateral_mm: float
    """How far the mechanical axis of the leg moves laterally at the knee [mm]."""
    mldfa_fall_deg: float
    """By how much mLDFA falls, toward valgus [deg]."""


def knee_shift_mm(ama_deg: npt.ArrayLike, lengthening_mm: npt.ArrayLike) -> Floats:
    """Medial movement of the knee centre off the old femoral mechanical axis, L·sin(AMA). [mm]"""
    shift: Floats = np.asarray(lengthening_mm) * np.sin(np.radians(np.asarray(ama_deg)))
    return shift


def femoral_axis_shift(
    *, ama_deg: float, femur_mm: float, tibia_mm: float, lengthening_mm: float
) -> FemoralAxisShift:
    """Shift of the mechanical axis of a straight leg whose femur is lengthened along its anatomical axis.

    Parameters
    ----------
    ama_deg : float
        Angle between the anatomical and the mechanical axis of the femur. [deg]
    femur_mm, tibia_mm : float
        Mechanical lengths before. [mm]
    lengthening_mm : float
        Length gained along the anatomical axis. [mm]

    Notes
    -----
    s = L·sin(AMA), c = L·cos(AMA): the knee moves s medially; mLDFA falls by atan(s / (F + c)); the axis of
    the leg moves laterally by s·T / (F + T + c). Straight leg, rigid, no drift. The shift seen in patients is
    larger (`outlook` says so) and is not an expected value of this geometry.

    References
    ----------
    Derived. Emara et al., Effect of lengthening along the anatomical axis of the femur and its clinical
    impact, World J Orthop 8(5), 2017, for the fall of the angle.
    """
    for name, value in (("femur length", femur_mm), ("tibia length", tibia_mm)):
        require_within(name, value, 50, 700, "mm", next_step="Check the scale of the film.")
    s = float(knee_shift_mm(ama_deg, lengthening_mm))
    c = lengthening_mm * float(np.cos(np.radians(ama_deg)))
    return FemoralAxisShift(
        knee_medial_mm=s,
        mad_lateral_mm=s * tibia_mm / (femur_mm + tibia_mm + c),
        mldfa_fall_deg=float(np.degrees(np.arctan2(s, femur_mm + c))),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress(Value):
    """One bone's reduction and how far it has been lengthened."""

    reduction: Reduction
    """The reduction."""
    gained_mm: float
    """Length gained along the nail [mm]."""
    drift: Motion = STAY
    """What a drift adds to the distal fragment, after reduction and lengthening."""

    def motion(self) -> Motion:
        """Motion of everything below the cut, as far as this bone moves it."""
        return self.reduction.lengthened(self.gained_mm).then(self.drift)


def moved_leg(leg: LegModel, progress: Sequence[Progress]) -> LegModel:
    """The leg with every bone reduced and lengthened as far as it has come.

    A tibial reduction is defined in the leg as it stands, so it moves the foot first and the femur's motion
    then carries the whole lower leg.

    Parameters
    ----------
    progress : sequence of Progress
        At most one per bone, in any order.
    """
    ordered = sorted(progress, key=lambda c: c.reduction.cut.bone is not Bone.FEMUR)
    if len({c.reduction.cut.bone for c in ordered}) < len(ordered):
        raise Refused(
            "two osteotomies of one bone were given.",
            where="alignment at the end",
            next_step="Plan one osteotomy per bone; two levels in one bone are not computed yet.",
        )
    motions = [STAY]
    for one in ordered:
        motions.append(one.motion().then(motions[-1]))
    return assembled(cut_leg(leg, [c.reduction.cut for c in ordered]), motions)


def standing(before: LegModel, after: LegModel) -> Motion:
    """Motion that stands a moved leg up again: frontal lean of the hip-ankle line as it was, about the hip.

    The leg frame stays with the part above the first cut, but a patient stands with the foot under the hip;
    heights along the film's vertical (knee height) mean nothing before this. It turns about the anterior axis
    only, so no frontal angle or length changes. Without a hip or an ankle the leg is left as it is.
    """
    hip, ankle = Landmark.FEMORAL_HEAD_CENTRE, Landmark.ANKLE_CENTRE
    if not all(leg.has(hip, ankle) for leg in (before, after)):
        return STAY
    lean = []
    for leg in (before, after):
        line = leg.place_mm(ankle) - leg.place_mm(hip)
        lean.append(float(np.degrees(np.arctan2(line[LATERAL], -line[PROXIMAL]))))
    # A turn toward varus carries the foot medially.
    upright = turn(varus_deg=lean[1] - lean[0], procurvatum_deg=0.0, external_deg=0.0)
    return motion_about(upright, after.place_mm(hip))


def measure_value(view: View, measure: Measure) -> float | None:
    """One measurement of a view by the first construction its landmarks allow; None when there is none."""
    for formula in FORMULAS:
        if (
            formula.measure is measure
            and formula.projection is view.projection
            and view.has(*formula.landmarks)
            and view.in_one_frame(*formula.landmarks)
        ):
            return formula.compute(view)
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim(Value):
    """What one plane is to end at: a measurement's value, or a plain turn of the distal fragment."""

    measure: Measure | None = None
    """Measurement to bring to `value`; None = turn by `turn_deg`."""
    value: float = 0.0
    """Wanted value at full length [unit of the measurement]."""
    turn_deg: float = 0.0
    """Turn when there is no measurement, or when it does not answer to this osteotomy: varus +,
    procurvatum + [deg]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LinePair(Value):
    """The nail's line in the proximal fragment, and where it passes in the distal one."""

    cut: Cut
    """The osteotomy."""
    direction: tuple[float, float, float]
    """Distal direction of the line in the proximal fragment."""
    proximal_mm: tuple[float, float, float]
    """A point of that line [mm]."""
    distal_mm: tuple[float, float, float]
    """A point the nail passes in the distal fragment as it stands [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class End(Value):
    """The end of one bone's treatment, solved."""

    proximal: FragmentPath
    """The nail's line in the proximal fragment."""
    motion: Motion
    """Motion of the distal fragment from where it stands to full length."""
    varus_deg: float
    """Turn given at the operation, varus + [deg]."""
    procurvatum_deg: float
    """Turn given at the operation, procurvatum + [deg]."""


def end_for(
    pair: LinePair, *, varus_deg: float, procurvatum_deg: float, external_deg: float, lengthening_mm: float
) -> End:
    """Where one turn of the distal fragment leads at full length."""
    rotation = turn(varus_deg=varus_deg, procurvatum_deg=procurvatum_deg, external_deg=external_deg)
    u = np.array(pair.direction)
    translation = end_translation_through(
        line_point_mm=pair.proximal_mm,
        line_direction=u,
        plane_point_mm=pair.cut.point_mm,
        normal=pair.cut.normal,
        rotation=rotation,
        through_mm=pair.distal_mm,
        lengthening_mm=lengthening_mm,
    )
    start = np.array(pair.proximal_mm)
    return End(
        proximal=FragmentPath(
            fragment=Fragment.PROXIMAL, upper=place_of(start), lower=place_of(start + _SPAN_MM * u)
        ),
        motion=motion(rotation, translation),
        varus_deg=varus_deg,
        procurvatum_deg=procurvatum_deg,
    )


def solved_end(
    leg: LegModel,
    pair: LinePair,
    *,
    frontal: Aim,
    sagittal: Aim,
    external_deg: float,
    lengthening_mm: float,
) -> End:
    """The turn of the distal fragment whose end at full length shows the wanted values.

    Newton steps on the turn in both planes at once, from the plain turns; each value is measured on the
    moved landmarks, exactly as on a film.

    Parameters
    ----------
    leg : LegModel
        The leg as it stands.
    frontal, sagittal : Aim
        What each plane is to end at. A measurement that this osteotomy does not change (its landmarks all
        lie in one fragment) falls back to the plain turn.

    Raises
    ------
    Refused
        If no turn reaches the wanted values.
    """
    parts = cut_leg(leg, [pair.cut])
    aims = ((frontal, Projection.FRONTAL), (sagittal, Projection.SAGITTAL))
    start = np.array([frontal.turn_deg, sagittal.turn_deg])

    # The first step asks again for what was asked to see which planes answer.
    known: dict[tuple[float, float], list[float | None]] = {}

    def shown(turns: Floats) -> list[float | None]:
        asked = float(turns[0]), float(turns[1])
        if asked not in known:
            known[asked] = measured(turns)
        return known[asked]

    def measured(turns: Floats) -> list[float | None]:
        end = end_for(
            pair,
            varus_deg=float(turns[0]),
            procurvatum_deg=float(turns[1]),
            external_deg=external_deg,
            lengthening_mm=lengthening_mm,
        )
        moved = assembled(parts, [STAY, end.motion])
        return [
            measure_value(moved.view(projection), aim.measure)
            if aim.measure is not None and (projection is Projection.FRONTAL or moved.has_sagittal)
            else None
            for aim, projection in aims
        ]

    at_start = shown(start)
    steps = np.eye(2) * _STEP_DEG
    live = []
    for i in range(2):
        there, nearby = at_start[i], shown(start + steps[i])[i]
        live.append(there is not None and nearby is not None and abs(nearby - there) > 0.2 * _STEP_DEG)

    def residual(turns: Floats) -> Floats:
        values = shown(turns)
        return np.array(
            [(values[i] or 0.0) - aims[i][0].value if live[i] else turns[i] - start[i] for i in range(2)]
        )

    turns = start
    for _ in range(20):
        off = residual(turns)
        if float(np.max(np.abs(off))) < _ENOUGH:
            return end_for(
                pair,
                varus_deg=float(turns[0]),
                procurvatum_deg=float(turns[1]),
                external_deg=external_deg,
                lengthening_mm=lengthening_mm,
            )
        slope = np.column_stack([(residual(turns + step) - off) / _STEP_DEG for step in steps])
        turns = turns - np.linalg.solve(slope, off)
    raise Refused(
        f"no turn of the distal fragment reaches {_words(frontal)} and {_words(sagittal)}.",
        where=f"planning from the end, {pair.cut.bone}",
        next_step="Choose other target angles, another osteotomy level, or correct a second bone.",
    )


def _words(aim: Aim) -> str:
    return (
        f"{aim.measure} {aim.value:.1f}" if aim.measure is not None else f"a turn of {aim.turn_deg:.1f} deg"
    )
