"""All geometric candidates of one bone as factors: level, nail, length gained, and the line in each fragment
and plane.

What a level brings (depth, room, gaps, cortex) is worked out exactly every few millimetres and interpolated
between; what is shown in the end is worked out exactly. A candidate's verdict is made of the verdicts of its
factors, so that thousands of millions of them cost no more than the factors do.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from limbwright.implant.nail import Direction, Nail
from limbwright.limb.anatomy import Projection
from limbwright.plan.blocking import POSITIVE_SIDES
from limbwright.plan.bone_task import BoneTask
from limbwright.plan.circumstances import BoneQuality
from limbwright.plan.correction import Correction
from limbwright.plan.drift import CONCAVE, expected_drift, third_of
from limbwright.plan.hardware_limits import HardwareLimits
from limbwright.plan.motion import Floats
from limbwright.plan.osteotomy import POOR, bone_line, level_cost_mm, level_score
from limbwright.plan.search.anchor import Anchors, Cells, bend_mm, cells_of, reamer_mm
from limbwright.plan.search.level_lines import Lines, OneLevel
from limbwright.quantity import Value

Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Held(Value):
    """What is kept beside what the goal fixes; the rest is searched."""

    path: bool = False
    """Keep the best-fit line in both fragments."""
    screws: bool = False
    """Keep to the planner's rule for blocking screws."""


SEARCH_ALL = Held()


@dataclass(frozen=True, slots=True)
class Space:
    """Axes and factors of all candidates of one bone."""

    levels_mm: Floats
    nails: tuple[Nail, ...]
    reamer_mm: Floats
    """(nails,) last reamer."""
    gains_mm: Floats
    cells: tuple[Cells, Cells]
    """Cells of the line, frontal and sagittal, alike in both fragments."""
    depth_mm: Floats
    """(levels, nails) depth of the osteotomy along the nail."""
    beyond_mm: Floats
    """(levels,) free length beyond the cut."""
    narrowest_mm: Floats
    """(levels,) narrowest canal."""
    misfit_mm: Floats
    """(levels, nails)."""
    room_mm: tuple[Floats, Floats]
    """Per plane (levels, nails, 2 fragments, cells): least distance from the line to an inner wall."""
    bone_mm: tuple[Floats, Floats]
    """The same to an outer edge."""
    gap_mm: Floats
    """(levels, 2 planes, 2 fragments)."""
    shift_mm: Floats
    """(levels, 2) shift of the distal bone end once corrected, lateral and anterior +."""
    expected_shift_mm: Floats
    """(levels,) shift by distance from the apex, which the planner limits."""
    cost_mm: Floats
    """(levels,) cost of the level as the distance from the apex it is worth."""
    allowed: Flags
    """(levels,) not infected, and clear of a second osteotomy."""
    toward: Floats
    """(levels, 2) +1 where frontal and sagittal drift are concave to lateral and anterior, else -1."""
    antegrade: bool

    @property
    def size(self) -> int:
        """Geometric candidates: every level, nail, length, and every line in each fragment and plane."""
        lines = [len(c.offset_mm) ** 2 for c in self.cells]
        return len(self.levels_mm) * len(self.nails) * len(self.gains_mm) * lines[0] * lines[1]


def search_space(
    task: BoneTask,
    correction: Correction,
    limits: HardwareLimits,
    *,
    gains_mm: Floats | None = None,
    held: Held | None = None,
    lines: Lines | None = None,
) -> Space | None:
    """Axes and factors of one bone; what the surgeon has fixed is one value long.

    Parameters
    ----------
    gains_mm : (n,), optional
        Lengths to gain; the task's ± the practice's tolerance unless given.
    held : Held, optional
        What is kept beside what the goal fixes.
    lines : Lines, optional
        Where the nail's lines come from; those of one osteotomy unless given.

    Returns
    -------
    Space or None
        None where no level can be worked out, as when no turn of the distal fragment reaches the aim.
    """
    line, profile = bone_line(task.leg, task.bone), task.profile
    fixed = task.choice.osteotomy_below_joint_mm if task.choice is not None else None
    levels = (
        np.array([fixed])
        if fixed is not None
        else np.concatenate([np.arange(np.ceil(i.from_mm), i.to_mm + 1e-9) for i in limits.osteotomy])
    )
    nails = task.nails()
    keep_line = held is not None and held.path
    cells = (
        cells_of(Projection.FRONTAL, moves=not keep_line),
        cells_of(Projection.SAGITTAL, moves=not keep_line and task.leg.has_sagittal),
    )
    own = lines or OneLevel(task, correction)
    anchors = Anchors(task, own, limits, cells).along(levels)
    if not anchors:
        return None
    between = _Between(np.array([a.level_mm for a in anchors]), levels)
    scores = [
        level_score(
            float(level),
            bone=task.bone,
            length_mm=line.length_mm,
            apex_below_joint_mm=correction.apex_below_joint_mm,
            correction_deg=correction.size_deg,
            judged=task.examination.bone_quality,
        )
        for level in levels
    ]
    senses = [expected_drift(task.bone, third_of(float(x), line.length_mm)).senses() for x in levels]
    bend = np.array([bend_mm(n) for n in nails])
    return Space(
        levels_mm=levels,
        nails=nails,
        reamer_mm=np.array([reamer_mm(n, task) for n in nails]),
        gains_mm=_gains(task) if gains_mm is None else gains_mm,
        cells=cells,
        depth_mm=between([a.to_cut_mm for a in anchors])[:, None] - profile.nail_end_below_surface_mm + bend,
        beyond_mm=between([a.beyond_mm for a in anchors]),
        narrowest_mm=between([a.narrowest_mm for a in anchors]),
        misfit_mm=between([a.misfit_mm for a in anchors]),
        room_mm=(between([a.room_mm[0] for a in anchors]), between([a.room_mm[1] for a in anchors])),
        bone_mm=(between([a.bone_mm[0] for a in anchors]), between([a.bone_mm[1] for a in anchors])),
        gap_mm=between([a.gap_mm for a in anchors]),
        shift_mm=between([a.shift_mm for a in anchors]),
        expected_shift_mm=np.array([s.translation_mm for s in scores]),
        cost_mm=level_cost_mm(
            levels,
            length_mm=line.length_mm,
            apex_below_joint_mm=correction.apex_below_joint_mm,
            near_apex_mm=profile.osteotomy_to_apex_mm,
            metaphysis_preference_mm=profile.metaphysis_preference_mm,
            poor_bone=[float(s.quality in POOR) for s in scores],
        ),
        allowed=np.array(
            [
                s.quality is not BoneQuality.INFECTED_BEFORE and own.may_cut(float(level))
                for s, level in zip(scores, levels, strict=True)
            ]
        ),
        toward=np.array([[1.0 if CONCAVE[x] in POSITIVE_SIDES else -1.0 for x in both] for both in senses]),
        antegrade=task.direction is Direction.ANTEGRADE,
    )


def _gains(task: BoneTask) -> Floats:
    """Lengths to gain, in millimetres about the goal; the surgeon's own alone where it is fixed."""
    if task.choice is not None and task.choice.lengthening_mm is not None:
        return np.array([task.lengthening_mm])
    tolerance = task.profile.length_tolerance_mm
    around = np.arange(-tolerance, tolerance + 1e-9)
    return np.unique(np.maximum(task.lengthening_mm + around, 1.0))


class _Between:
    """Straight lines between the anchors."""

    def __init__(self, at_mm: Floats, levels_mm: Floats) -> None:
        self.low = np.clip(np.searchsorted(at_mm, levels_mm, side="right") - 1, 0, max(len(at_mm) - 2, 0))
        self.high = np.minimum(self.low + 1, len(at_mm) - 1)
        span = at_mm[self.high] - at_mm[self.low]
        share = (levels_mm - at_mm[self.low]) / np.where(span > 0, span, 1.0)
        self.share = np.clip(share, 0.0, 1.0)

    def __call__(self, values: npt.ArrayLike) -> Floats:
        """(anchors, ...) to (levels, ...)."""
        table = np.asarray(values, dtype=float)
        share = self.share.reshape(-1, *[1] * (table.ndim - 1))
        return np.asarray(table[self.low] * (1 - share) + table[self.high] * share)
