"""End readings of one bone plan and how each changes with every mark on the films and every slip in theatre.

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
from limbwright.plan.drift import Drift, drift_motion
from limbwright.plan.end_alignment import Progress, measure_value, moved_leg, standing
from limbwright.plan.leg import LegModel, LegPoint
from limbwright.plan.motion import Floats
from limbwright.plan.reduction import reduction_of

FRONTAL = (Measure.MAD, Measure.MPTA, Measure.LDTA, Measure.MLDFA, Measure.MLPFA)
SAGITTAL = (Measure.PPTA, Measure.ADTA, Measure.PDFA)
OF_BONE = {
    Bone.TIBIA: (Measure.MAD, Measure.MPTA, Measure.LDTA, Measure.PPTA, Measure.ADTA),
    Bone.FEMUR: (Measure.MAD, Measure.MLDFA, Measure.MLPFA, Measure.PDFA),
}
STEP_MM, STEP_DEG = 0.5, 0.25
LEAST_SLOPE = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """What one bone's execution does beside the plan."""

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


SLIPS = ("varus_deg", "procurvatum_deg", "lateral_mm", "anterior_mm", "osteotomy_mm")


@dataclass(frozen=True, slots=True)
class EndChain:
    """Readings at full length around one plan."""

    measures: tuple[Measure, ...]
    """Readings that exist, in order."""
    planned: Floats
    """(m,) readings with the drift that is expected."""
    marks: tuple[str, ...]
    """Landmarks that change any reading, in plain words with their film."""
    mark_sd: Floats
    """(k,) standard uncertainty of each landmark's coordinates. [mm]"""
    by_mark: Floats
    """(m, k, 2) change of each reading per millimetre of each landmark, across and along the film."""
    by_slip: Floats
    """(m, 5) change of each reading per unit of each slip, in the order of `SLIPS`."""


def end_values(
    leg: LegModel,
    plan: BonePlan,
    measures: Sequence[Measure],
    *,
    others: Sequence[Progress] = (),
    slip: Slip | None = None,
) -> Floats:
    """Readings of the leg at full length, (m,); NaN where one cannot be measured.

    Parameters
    ----------
    leg : LegModel
        The leg as it stands (really stands, when landmarks are varied).
    others : sequence of Progress
        Other bones of the plan at their full length.
    slip : Slip, optional
        What the execution does beside the plan.
    """
    progress = progress_with(plan, slip or Slip())
    return _read(leg, [progress, *others], measures)


def progress_with(plan: BonePlan, slip: Slip) -> Progress:
    """One bone at full length with what its execution does beside the plan."""
    cut = plan.osteotomy
    shifted = replace(plan, osteotomy=replace(cut, depth_mm=cut.depth_mm + slip.osteotomy_mm))
    reduced = reduction_of(shifted)
    beside = Drift(
        varus_deg=slip.varus_deg,
        procurvatum_deg=slip.procurvatum_deg,
        lateral_mm=slip.lateral_mm,
        anterior_mm=slip.anterior_mm,
    )
    return Progress(
        reduction=reduced,
        gained_mm=plan.lengthening_mm,
        drift=drift_motion(beside, reduced, plan.lengthening_mm),
    )


def _read(leg: LegModel, progress: Sequence[Progress], measures: Sequence[Measure]) -> Floats:
    """Readings of a leg whose bones have come as far as given, (m,)."""
    moved = moved_leg(leg, progress)
    upright = moved.moved(standing(leg, moved))
    views = {Projection.FRONTAL: upright.view(Projection.FRONTAL)}
    if leg.has_sagittal:
        views[Projection.SAGITTAL] = upright.view(Projection.SAGITTAL)
    found = [measure_value(views[p], m) if (p := _film(m)) in views else None for m in measures]
    return np.array([np.nan if v is None else v for v in found])


def end_chain(
    leg: LegModel, plan: BonePlan, *, drift: Drift | None = None, others: Sequence[Progress] = ()
) -> EndChain:
    """Readings of one bone's plan at full length with all their slopes.

    Parameters
    ----------
    drift : Drift, optional
        Drift expected at full length; none without a forecast.
    """
    bare = replace(leg, walls=())
    expected = drift or Drift()
    middle = Slip(
        varus_deg=expected.varus_deg,
        procurvatum_deg=expected.procurvatum_deg,
        lateral_mm=expected.lateral_mm,
        anterior_mm=expected.anterior_mm,
    )
    everything = OF_BONE[plan.bone]
    values = end_values(bare, plan, everything, others=others, slip=middle)
    seen = ~np.isnan(values)
    measures = tuple(m for m, known in zip(everything, seen, strict=True) if known)
    planned = values[seen]

    def at(model: LegModel, slip: Slip) -> Floats:
        return end_values(model, plan, measures, others=others, slip=slip)

    slopes = []
    for name in SLIPS:
        step = STEP_DEG if name.endswith("deg") else STEP_MM
        ahead, behind = (
            at(bare, replace(middle, **{name: getattr(middle, name) + sign * step})) for sign in (1, -1)
        )
        slopes.append((ahead - behind) / (2 * step))
    marks, sds, by_mark = [], [], []
    held = [progress_with(plan, middle), *others]
    used = {k for f in FORMULAS if f.measure in measures for k in f.landmarks}
    for projection in Projection:
        if projection is Projection.SAGITTAL and not leg.has_sagittal:
            continue
        for landmark, point in bare.points(projection).items():
            if landmark not in used:
                continue
            change = np.stack(
                [
                    (_read(_nudged(bare, projection, landmark, point, axis), held, measures) - planned)
                    / STEP_MM
                    for axis in ("across", "along")
                ],
                axis=1,
            )
            if np.abs(change).max(initial=0.0) > LEAST_SLOPE:
                marks.append(f"{plain_words(landmark)} ({projection} film)")
                sds.append(point.sd_mm)
                by_mark.append(change)
    return EndChain(
        measures=measures,
        planned=planned,
        marks=tuple(marks),
        mark_sd=np.array(sds),
        by_mark=np.stack(by_mark, axis=1) if by_mark else np.zeros((len(measures), 0, 2)),
        by_slip=np.stack(slopes, axis=1),
    )


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
