"""The planner's hard limits as filters over the factors of a search space."""

from dataclasses import dataclass

import numpy as np

from limbwright.implant.nail import NailEnd
from limbwright.plan.bone_task import BoneTask
from limbwright.plan.motion import Floats
from limbwright.plan.planner_rules import nail_rules
from limbwright.plan.search.space import Flags, Space

SLACK_MM = 0.5  # what interpolation may be off; the exact check decides


@dataclass(frozen=True, slots=True)
class Verdicts:
    """Which factors keep every hard limit; a candidate does when all of its factors do."""

    whole: Flags
    """(levels, nails, gains) length, stroke, room, holes, level, reaming and shape."""
    lines: tuple[Flags, Flags]
    """Per plane (levels, nails, 2 fragments, cells): cortex left on both sides."""
    ends: tuple[Flags, Flags]
    """Per plane (levels, proximal cells, distal cells): bone ends not shifted too far."""

    @property
    def count(self) -> int:
        """Candidates that keep every hard limit."""
        total = 0
        for i, n in zip(*np.nonzero(self.whole.any(axis=2)), strict=True):
            ways = [
                np.count_nonzero(ends[i] & lines[i, n, 0][:, None] & lines[i, n, 1][None, :])
                for lines, ends in zip(self.lines, self.ends, strict=True)
            ]
            total += int(np.count_nonzero(self.whole[i, n])) * int(ways[0]) * int(ways[1])
        return total


def verdicts(space: Space, task: BoneTask) -> Verdicts:
    """Judge every factor of a space by the planner's rules.

    Notes
    -----
    Interpolated values are given half a millimetre of leave; what is shown is judged exactly afterwards.
    """
    rules, profile = nail_rules(task.profile), task.profile
    length = np.array([n.length_mm for n in space.nails])
    exposed = np.array([max(n.exposed_thin_mm, rules.exposed_thin_mm) for n in space.nails])
    stroke = np.array([n.stroke_mm for n in space.nails])
    needed = space.depth_mm[:, :, None] + space.gains_mm + rules.overlap_mm + exposed[:, None]
    room = space.depth_mm + space.beyond_mm[:, None] - rules.tip_clearance_mm
    level = space.allowed & (np.abs(space.expected_shift_mm) <= profile.max_translation_at_osteotomy_mm)
    reaming = space.reamer_mm <= space.narrowest_mm[:, None] + rules.reaming_beyond_canal_mm + SLACK_MM
    shape = space.misfit_mm <= rules.misfit_mm + SLACK_MM
    plain = level[:, None] & reaming & shape & (length <= room)
    whole = (
        plain[:, :, None]
        & (needed <= length[:, None])
        & (space.gains_mm <= stroke[:, None])
        & _holes(space, rules.hole_to_osteotomy_mm, rules.screws_per_fragment)
    )
    bore = space.reamer_mm[:, None, None] / 2
    return Verdicts(
        whole=whole,
        lines=(
            space.bone_mm[0] - bore >= rules.cortex_left_mm - SLACK_MM,
            space.bone_mm[1] - bore >= rules.cortex_left_mm - SLACK_MM,
        ),
        ends=(_ends(space, 0, task), _ends(space, 1, task)),
    )


def aside_mm(space: Space, plane: int) -> Floats:
    """Shift of the distal bone end in one plane, (levels, proximal cells, distal cells). [mm]"""
    offset = space.cells[plane].offset_mm
    moved = offset[:, None] - offset[None, :]
    return np.asarray(space.shift_mm[:, plane, None, None] + moved)


def _ends(space: Space, plane: int, task: BoneTask) -> Flags:
    """A line may not shift the ends beyond the limit, unless the best fit does by itself."""
    most = np.maximum(task.profile.max_translation_at_osteotomy_mm, np.abs(space.shift_mm[:, plane]))
    return np.asarray(np.abs(aside_mm(space, plane)) <= most[:, None, None] + 1e-9)


def _holes(space: Space, clear_mm: float, wanted: int) -> Flags:
    """Holes clear of both cut faces and enough screws in each fragment, (levels, nails, gains)."""
    shape = (len(space.levels_mm), len(space.nails), len(space.gains_mm))
    clear = np.ones(shape, dtype=bool)
    for i, nail in enumerate(space.nails):
        entry, far = np.zeros(shape[0]), np.zeros(shape[0])
        for hole in nail.holes:
            beyond = nail.hole_depth_mm(hole) - space.depth_mm[:, i]
            if hole.end is NailEnd.THIN:
                far += beyond > 0
                near = np.abs(beyond)[:, None] + 0.0 * space.gains_mm
            else:
                entry += beyond <= 0
                gained = np.minimum(space.gains_mm, nail.stroke_mm)
                near = np.where(
                    beyond[:, None] <= 0, -beyond[:, None], np.maximum(beyond[:, None] - gained, 0.0)
                )
            clear[:, i] &= near >= clear_mm - SLACK_MM
        if nail.holes:
            clear[:, i] &= ((entry >= wanted) & (far >= wanted))[:, None]
    return clear
