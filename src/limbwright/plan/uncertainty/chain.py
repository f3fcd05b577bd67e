"""End readings of a leg's plan and how each changes with every mark on the films and every slip in theatre.

The plan is held; what is unsure is where the bones really are (landmarks, scale) and how exactly the plan is
carried out. Readings at full length are evaluated exactly at the plan and, by small steps, around it: errors
of a degree and a few millimetres change them in proportion (a test holds this against the exact chain).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from limbwright.limb.anatomy import Bone, Projection
from limbwright.limb.formula import FORMULAS
from limbwright.limb.landmark import Landmark, plain_words
from limbwright.limb.reading import Measure
from limbwright.plan.decision import BonePlan
from limbwright.plan.drift import Drift
from limbwright.plan.end_alignment import Progress, bone_progress, measure_value, moved_leg, standing
from limbwright.plan.leg import LegModel, LegPoint
from limbwright.plan.motion import Floats
from limbwright.plan.reduction import reductions_of

FRONTAL = (Measure.MAD, Measure.MPTA, Measure.LDTA, Measure.MLDFA, Measure.MLPFA)
SAGITTAL = (Measure.PPTA, Measure.ADTA, Measure.PDFA)
OF_BONE = {
    Bone.FEMUR: (Measure.MLDFA, Measure.MLPFA, Measure.PDFA),
    Bone.TIBIA: (Measure.MPTA, Measure.LDTA, Measure.PPTA, Measure.ADTA),
}
STEP_MM, STEP_DEG = 0.5, 0.25
LEAST_SLOPE = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """What one bone's execution does beside the plan, drift included."""

    varus_deg: float = 0.0
    """Turn of the distal fragment beyond the plan, drift included, varus + [deg]."""
    procurvatum_deg: float = 0.0
    """The same, procurvatum + [deg]."""
    lateral_mm: float = 0.0
    """Sideways place of the distal fragment beside the plan, lateral + [mm]."""
    anterior_mm: float = 0.0
    """The same, anterior + [mm]."""
    osteotomy_mm: float = 0.0
    """Level of the cut beside the plan, distal + [mm]."""

    @classmethod
    def of_drift(cls, drift: Drift | None) -> "Slip":
        """What a drift does and nothing else."""
        if drift is None:
            return cls()
        return cls(
            varus_deg=drift.varus_deg,
            procurvatum_deg=drift.procurvatum_deg,
            lateral_mm=drift.lateral_mm,
            anterior_mm=drift.anterior_mm,
        )


SLIPS = ("varus_deg", "procurvatum_deg", "lateral_mm", "anterior_mm", "osteotomy_mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class BoneEnd:
    """One bone's plan at full length, and what its execution does beside it."""

    plan: BonePlan
    """The plan."""
    slip: Slip = Slip()
    """What its execution does beside it, drift included."""

    def progress(self) -> tuple[Progress, ...]:
        """Where its osteotomies have come to."""
        cut, slip = self.plan.osteotomy, self.slip
        shifted = replace(self.plan, osteotomy=replace(cut, depth_mm=cut.depth_mm + slip.osteotomy_mm))
        beside = Drift(
            varus_deg=slip.varus_deg,
            procurvatum_deg=slip.procurvatum_deg,
            lateral_mm=slip.lateral_mm,
            anterior_mm=slip.anterior_mm,
        )
        return bone_progress(reductions_of(shifted), self.plan.lengthening_mm, beside)


@dataclass(frozen=True, slots=True)
class EndChain:
    """Readings at full length around one plan of a leg."""

    measures: tuple[Measure, ...]
    """Readings that exist, in order."""
    planned: Floats
    """(m,) readings with the drift that is expected."""
    aimed: Floats
    """(m,) readings without any drift: what the plan's geometry aims at."""
    marks: tuple[str, ...]
    """Landmarks that change any reading, in plain words with their film."""
    mark_sd: Floats
    """(k,) standard uncertainty of each landmark's coordinates. [mm]"""
    by_mark: Floats
    """(m, k, 2) change of each reading per millimetre of each landmark, across and along the film."""
    by_slip: Floats
    """(m, bones, 5) change of each reading per unit of each slip, in the order of `SLIPS`."""


def end_values(leg: LegModel, bones: Sequence[BoneEnd], measures: Sequence[Measure]) -> Floats:
    """Readings of the leg at full length, (m,); NaN where one cannot be measured.

    Parameters
    ----------
    leg : LegModel
        The leg as it stands (really stands, when landmarks are varied).
    bones : sequence of BoneEnd
        Every bone of the plan.
    """
    return _read(leg, [p for bone in bones for p in bone.progress()], measures)


def _read(leg: LegModel, progress: Sequence[Progress], measures: Sequence[Measure]) -> Floats:
    """Readings of a leg whose bones have come as far as given, (m,)."""
    moved = moved_leg(leg, progress)
    upright = moved.moved(standing(leg, moved))
    views = {Projection.FRONTAL: upright.view(Projection.FRONTAL)}
    if leg.has_sagittal and any(m in SAGITTAL for m in measures):
        views[Projection.SAGITTAL] = upright.view(Projection.SAGITTAL)
    found = [measure_value(views[p], m) if (p := _film(m)) in views else None for m in measures]
    return np.array([np.nan if v is None else v for v in found])


def end_chain(leg: LegModel, bones: Sequence[BoneEnd], *, near: EndChain | None = None) -> EndChain:
    """Readings of a leg's plan at full length with all their slopes.

    Parameters
    ----------
    bones : sequence of BoneEnd
        Every bone of the plan, its slip holding the drift that is expected.
    near : EndChain, optional
        Chain of another plan of the same leg that ends much the same: its slopes by landmark are taken over.
    """
    bare = replace(leg, walls=())
    everything = (
        Measure.MAD,
        *(m for b in OF_BONE for m in OF_BONE[b] if any(x.plan.bone is b for x in bones)),
    )
    values = end_values(bare, bones, everything)
    seen = ~np.isnan(values)
    measures = tuple(m for m, known in zip(everything, seen, strict=True) if known)
    planned = values[seen]
    aimed = end_values(bare, [BoneEnd(plan=b.plan) for b in bones], measures)
    if near is not None and near.measures == measures:
        marks, mark_sd, by_mark = near.marks, near.mark_sd, near.by_mark
    else:
        marks, mark_sd, by_mark = _by_mark(bare, bones, measures, planned)
    return EndChain(
        measures=measures,
        planned=planned,
        aimed=aimed,
        marks=marks,
        mark_sd=mark_sd,
        by_mark=by_mark,
        by_slip=np.stack([_by_slip(bare, bones, i, measures) for i in range(len(bones))], axis=1),
    )


def _by_mark(
    leg: LegModel, bones: Sequence[BoneEnd], measures: Sequence[Measure], planned: Floats
) -> tuple[tuple[str, ...], Floats, Floats]:
    """Landmarks that count, their uncertainty, and the change of each reading per millimetre of each."""
    held = [p for bone in bones for p in bone.progress()]
    marks, sds, by_mark = [], [], []
    used = {k for f in FORMULAS if f.measure in measures for k in f.landmarks}
    for projection in Projection:
        if projection is Projection.SAGITTAL and not leg.has_sagittal:
            continue
        for landmark, point in leg.points(projection).items():
            if landmark not in used:
                continue
            change = np.stack(
                [
                    (_read(_nudged(leg, projection, landmark, point, axis), held, measures) - planned)
                    / STEP_MM
                    for axis in ("across", "along")
                ],
                axis=1,
            )
            if np.abs(change).max(initial=0.0) > LEAST_SLOPE:
                marks.append(f"{plain_words(landmark)} ({projection} film)")
                sds.append(point.sd_mm)
                by_mark.append(change)
    changes = np.stack(by_mark, axis=1) if by_mark else np.zeros((len(measures), 0, 2))
    return tuple(marks), np.array(sds), changes


def _by_slip(leg: LegModel, bones: Sequence[BoneEnd], which: int, measures: Sequence[Measure]) -> Floats:
    """Change of each reading per unit of each slip of one bone, (m, 5)."""
    slopes = []
    for name in SLIPS:
        step = STEP_DEG if name.endswith("deg") else STEP_MM
        ahead, behind = (
            end_values(leg, _slipped(bones, which, name, sign * step), measures) for sign in (1, -1)
        )
        slopes.append((ahead - behind) / (2 * step))
    return np.stack(slopes, axis=1)


def _slipped(bones: Sequence[BoneEnd], which: int, name: str, by: float) -> list[BoneEnd]:
    own = bones[which]
    slip = replace(own.slip, **{name: getattr(own.slip, name) + by})
    return [*bones[:which], replace(own, slip=slip), *bones[which + 1 :]]


def _film(measure: Measure) -> Projection:
    return Projection.SAGITTAL if measure in SAGITTAL else Projection.FRONTAL


def _nudged(
    leg: LegModel, projection: Projection, landmark: Landmark, point: LegPoint, axis: str
) -> LegModel:
    """The leg with one landmark of one film moved a little."""
    if axis == "along":
        moved = replace(point, proximal_mm=point.proximal_mm + STEP_MM)
    elif projection is Projection.FRONTAL:
        moved = replace(point, lateral_mm=point.lateral_mm + STEP_MM)
    else:
        moved = replace(point, anterior_mm=point.anterior_mm + STEP_MM)
    changed = {**leg.points(projection), landmark: moved}
    if projection is Projection.FRONTAL:
        return replace(leg, frontal=changed)
    return replace(leg, sagittal=changed)
