"""The leg after reduction and lengthening, and the turn of the distal fragment that ends as wanted."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

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
from limbwright.plan.drift import Drift, drift_motion
from limbwright.plan.leg import LegModel
from limbwright.plan.motion import LATERAL, PROXIMAL, STAY, Floats, Motion, motion, motion_about, triple, turn
from limbwright.plan.path import end_translation_through, place_of
from limbwright.plan.reduction import Reduction
from limbwright.quantity import Value, require_within

_SPAN_MM = 100.0  # distance between the two points a line is written down by
_STEP_DEG = 0.01
_ENOUGH = 1e-7  # residual of the wanted angles [deg]
MOST_OSTEOTOMIES = 2  # of one bone; a nail is planned over no more


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
    """One osteotomy's reduction and how far it has been lengthened."""

    reduction: Reduction
    """The reduction."""
    gained_mm: float
    """Length gained along the nail [mm]."""
    drift: Motion = STAY
    """What a drift adds to the part below, after reduction and lengthening."""

    def motion(self) -> Motion:
        """Motion of everything below the cut, as far as this osteotomy moves it."""
        return self.reduction.lengthened(self.gained_mm).then(self.drift)


def bone_progress(
    reductions: Sequence[Reduction], gained_mm: float, drift: Drift | None = None
) -> tuple[Progress, ...]:
    """One bone's osteotomies, its length gained and its drift at the one that is lengthened.

    Parameters
    ----------
    reductions : sequence of Reduction
        One or two, from proximal to distal (`reduction.reductions_of`).
    gained_mm : float
        Length gained along the nail. [mm]
    drift : Drift, optional
        Drift of the bone at that length.
    """
    found: list[Progress] = []
    above = STAY
    for r in reductions:
        gained = gained_mm if r.lengthens else 0.0
        drifted = STAY if drift is None or not r.lengthens else _drift_below(above, drift, r, gained)
        found.append(Progress(reduction=r, gained_mm=gained, drift=drifted))
        above = r.motion
    return tuple(found)


def _drift_below(above: Motion, drift: Drift, reduced: Reduction, gained_mm: float) -> Motion:
    """A drift of the corrected bone, as a motion before a second osteotomy above carries it."""
    corrected = replace(
        reduced,
        cut=replace(reduced.cut, point_mm=triple(above.moved(reduced.cut.point_mm))),
        along=triple(above.turned(reduced.along)),
    )
    return above.then(drift_motion(drift, corrected, gained_mm)).then(above.inverse())


def chained(motions: Iterable[Motion]) -> list[Motion]:
    """Motion of every part of a leg, the part above the first cut staying.

    A motion below is defined in the leg as it stands, so it is carried out first and everything above it
    then carries what it moved.
    """
    parts = [STAY]
    for own in motions:
        parts.append(own.then(parts[-1]))
    return parts


def moved_leg(leg: LegModel, progress: Sequence[Progress]) -> LegModel:
    """The leg with every bone reduced and lengthened as far as it has come.

    Parameters
    ----------
    progress : sequence of Progress
        One for each osteotomy, in any order.

    Raises
    ------
    Refused
        If a bone is cut three times, or twice at one level.
    """
    ordered = sorted(progress, key=_from_proximal)
    levels = [_from_proximal(one) for one in ordered]
    if len(set(levels)) < len(levels) or any(
        sum(not_femur is other for other, _ in levels) > MOST_OSTEOTOMIES for not_femur in (False, True)
    ):
        raise Refused(
            "a bone was given two osteotomies at one level, or more than two.",
            where="alignment at the end",
            next_step="Plan one or two osteotomies per bone, at separate levels.",
        )
    return assembled(
        cut_leg(leg, [one.reduction.cut for one in ordered]), chained(one.motion() for one in ordered)
    )


def _from_proximal(one: Progress) -> tuple[bool, float]:
    cut = one.reduction.cut
    return cut.bone is not Bone.FEMUR, -cut.point_mm[PROXIMAL]


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
    """The nail's line above an osteotomy, and where it passes below, both in the leg as it stands."""

    cut: Cut
    """The osteotomy."""
    direction: tuple[float, float, float]
    """Distal direction of the line above the cut."""
    proximal_mm: tuple[float, float, float]
    """A point of that line [mm]."""
    distal_mm: tuple[float, float, float]
    """A point the nail passes below the cut [mm]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class End(Value):
    """The end at one osteotomy, solved."""

    proximal: FragmentPath
    """The nail's line above the cut."""
    motion: Motion
    """Motion of the part below from where it stands to full length, as far as this osteotomy moves it."""
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


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelAim(Value):
    """What one osteotomy is to end at."""

    pair: LinePair
    """The nail's lines above and below it, in the leg as it stands."""
    frontal: Aim
    """Frontal plane."""
    sagittal: Aim
    """Sagittal plane."""
    external_deg: float
    """Rotation to give to the part below, external + [deg]."""
    lengthening_mm: float
    """Length to gain here along the nail [mm]."""

    def end(self, varus_deg: float, procurvatum_deg: float) -> End:
        """Where one turn of the part below leads at full length."""
        return end_for(
            self.pair,
            varus_deg=varus_deg,
            procurvatum_deg=procurvatum_deg,
            external_deg=self.external_deg,
            lengthening_mm=self.lengthening_mm,
        )


def solved_ends(leg: LegModel, levels: Sequence[LevelAim]) -> tuple[End, ...]:
    """The turns of the parts below one or two osteotomies whose end at full length shows the wanted values.

    Newton steps on the turns in both planes and at all levels at once, from the plain turns; each value is
    measured on the moved landmarks, exactly as on a film.

    Parameters
    ----------
    leg : LegModel
        The leg as it stands.
    levels : sequence of LevelAim
        From proximal to distal. A measurement that its osteotomy does not change (its landmarks all lie in
        one fragment) falls back to the plain turn.

    Raises
    ------
    Refused
        If no turn reaches the wanted values.
    """
    parts = cut_leg(leg, [level.pair.cut for level in levels])
    aims = [
        (aim, projection)
        for level in levels
        for aim, projection in ((level.frontal, Projection.FRONTAL), (level.sagittal, Projection.SAGITTAL))
    ]
    start = np.array([aim.turn_deg for aim, _ in aims])
    # The first step asks again for what was asked to see which planes answer.
    known: dict[tuple[float, ...], list[float | None]] = {}

    def ends(turns: Floats) -> tuple[End, ...]:
        by_level = turns.reshape(-1, 2).tolist()
        return tuple(level.end(*own) for level, own in zip(levels, by_level, strict=True))

    def shown(turns: Floats) -> list[float | None]:
        asked = tuple(turns.tolist())
        if asked not in known:
            known[asked] = measured(turns)
        return known[asked]

    def measured(turns: Floats) -> list[float | None]:
        moved = assembled(parts, chained(end.motion for end in ends(turns)))
        return [
            measure_value(moved.view(projection), aim.measure)
            if aim.measure is not None and (projection is Projection.FRONTAL or moved.has_sagittal)
            else None
            for aim, projection in aims
        ]

    at_start = shown(start)
    steps = np.eye(len(aims)) * _STEP_DEG
    live = []
    for i, step in enumerate(steps):
        there, nearby = at_start[i], shown(start + step)[i]
        live.append(there is not None and nearby is not None and abs(nearby - there) > 0.2 * _STEP_DEG)

    def residual(turns: Floats) -> Floats:
        values = shown(turns)
        return np.array(
            [
                (values[i] or 0.0) - aim.value if live[i] else turns[i] - start[i]
                for i, (aim, _) in enumerate(aims)
            ]
        )

    turns = start
    for _ in range(20):
        off = residual(turns)
        if float(np.max(np.abs(off))) < _ENOUGH:
            return ends(turns)
        slope = np.column_stack([(residual(turns + step) - off) / _STEP_DEG for step in steps])
        turns = turns - np.linalg.solve(slope, off)
    wanted = " and ".join(f"{_words(level.frontal)} and {_words(level.sagittal)}" for level in levels)
    raise Refused(
        f"no turn of the distal fragment reaches {wanted}.",
        where=f"planning from the end, {levels[0].pair.cut.bone}",
        next_step="Choose other target angles, another osteotomy level, or correct a second bone.",
    )


def _words(aim: Aim) -> str:
    return (
        f"{aim.measure} {aim.value:.1f}" if aim.measure is not None else f"a turn of {aim.turn_deg:.1f} deg"
    )
