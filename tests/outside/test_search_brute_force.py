"""Small search spaces gone through in plain Python loops: same limits, same best lines, same set kept.

Common practice, no source: every combination of level, nail, length and line is looked at one by one, with
the rules of docs/nail-fit.md and docs/search.md written down again without arrays. The numbers of a space are
random; the nails are those of the shipped, invented catalogue.
"""

import math
from itertools import product
from types import SimpleNamespace

import numpy as np
import pytest

from limbwright.implant.nail import Direction, NailEnd
from limbwright.implant.shipped import shipped_catalogue
from limbwright.limb.anatomy import Bone
from limbwright.plan.search.anchor import Cells
from limbwright.plan.search.front import nondominated
from limbwright.plan.search.limits import verdicts
from limbwright.plan.search.screening import screened
from limbwright.plan.search.space import Space
from limbwright.practice.profile import Profile

LEAVE_MM, NEAR_CUT_MM, RESERVE_MM, LEAST_SPAN_MM = 0.5, 10.0, 20.0, 20.0
SHARE = (0.5, 0.7)
WEIGHT_END, WEIGHT_SHIFT, WEIGHT_REAMED = 0.4, 1.0, 0.5  # what counts as clearly different
PROFILE = Profile()
GOAL_MM = 30.0
TASK = SimpleNamespace(profile=PROFILE, lengthening_mm=GOAL_MM)


def invented(seed: int) -> Space:
    rng = np.random.Generator(np.random.PCG64(seed))
    nails = shipped_catalogue().nails_for(Bone.TIBIA, Direction.ANTEGRADE)[seed % 3 :: 5]
    levels, n = 4, len(nails)
    cells = tuple(
        Cells(offset_mm=np.array([0.0, 1.0, -1.0, 0.0]), tilt_deg=np.array([0.0, 0.0, 0.5, -1.0]))
        for _ in range(2)
    )
    shape = (levels, n, 2, 4)
    return Space(
        levels_mm=np.linspace(110.0, 150.0, levels),
        nails=tuple(nails),
        reamer_mm=np.array([x.thick_diameter_mm + 2.0 for x in nails]),
        gains_mm=np.array([28.0, 30.0, 33.0]),
        cells=(cells[0], cells[1]),
        depth_mm=rng.uniform(95.0, 150.0, (levels, n)),
        beyond_mm=rng.uniform(160.0, 260.0, levels),
        narrowest_mm=rng.uniform(9.0, 13.0, levels),
        misfit_mm=rng.uniform(-1.0, 1.0, (levels, n)),
        room_mm=(rng.uniform(3.0, 8.0, shape), rng.uniform(3.0, 8.0, shape)),
        bone_mm=(rng.uniform(8.0, 14.0, shape), rng.uniform(8.0, 14.0, shape)),
        gap_mm=rng.uniform(4.0, 9.0, (levels, 2, 2)),
        shift_mm=rng.uniform(-4.0, 4.0, (levels, 2)),
        expected_shift_mm=rng.uniform(-12.0, 12.0, levels),
        cost_mm=np.round(rng.uniform(0.0, 30.0, levels), 1),
        allowed=rng.random(levels) < 0.9,
        toward=rng.choice([-1.0, 1.0], (levels, 2)),
        antegrade=True,
    )


def fits(space: Space, i: int, n: int, g: int) -> bool:  # noqa: PLR0911  # one limit after another
    """Every limit that does not depend on the line."""
    nail, gain, depth = space.nails[n], float(space.gains_mm[g]), float(space.depth_mm[i, n])
    if not space.allowed[i] or abs(space.expected_shift_mm[i]) > PROFILE.max_translation_at_osteotomy_mm:
        return False
    exposed = max(nail.exposed_thin_mm, PROFILE.exposed_thin_mm)
    if depth + gain + PROFILE.overlap_mm + exposed > nail.length_mm or gain > nail.stroke_mm:
        return False
    if nail.length_mm > depth + space.beyond_mm[i] - PROFILE.tip_clearance_to_joint_mm:
        return False
    if space.reamer_mm[n] > space.narrowest_mm[i] + PROFILE.reaming_beyond_canal_mm + LEAVE_MM:
        return False
    if space.misfit_mm[i, n] > PROFILE.nail_straightness_gap_mm + LEAVE_MM:
        return False
    in_entry = in_moving = 0
    for hole in nail.holes:
        beyond = nail.hole_depth_mm(hole) - depth
        if hole.end is NailEnd.THIN:
            in_moving += beyond > 0
            near = abs(beyond)
        else:
            in_entry += beyond <= 0
            near = -beyond if beyond <= 0 else max(beyond - min(gain, nail.stroke_mm), 0.0)
        if near < PROFILE.hole_to_osteotomy_min_mm - LEAVE_MM:
            return False
    wanted = PROFILE.locking_screws_per_fragment
    return not nail.holes or (in_entry >= wanted and in_moving >= wanted)


def line_fits(space: Space, at: tuple[int, int], plane: int, line: tuple[int, int]) -> bool:
    (i, n), (p, d) = at, line
    for fragment, cell in ((0, p), (1, d)):
        left = float(space.bone_mm[plane][i, n, fragment, cell]) - float(space.reamer_mm[n]) / 2
        if left < PROFILE.cortex_left_mm - LEAVE_MM:
            return False
    shifted = abs(aside(space, i, plane, line))
    most = max(PROFILE.max_translation_at_osteotomy_mm, abs(float(space.shift_mm[i, plane])))
    return shifted <= most + 1e-9


def aside(space: Space, i: int, plane: int, line: tuple[int, int]) -> float:
    offset = space.cells[plane].offset_mm
    return float(space.shift_mm[i, plane] + offset[line[0]] - offset[line[1]])


def line_parts(
    space: Space, at: tuple[int, int], plane: int, line: tuple[int, int]
) -> tuple[float, float, float, float, float]:
    """Angle left at the end, shift of the ends, bone reamed, the sum a line is picked by, and its turn."""
    (i, n), (p, d) = at, line
    cells, nail = space.cells[plane], space.nails[n]
    depths = [nail.hole_depth_mm(h) for h in nail.holes]
    depth = float(space.depth_mm[i, n])
    play = 0.0
    reamed = 0.0
    for fragment, cell, beyond in ((0, p, -NEAR_CUT_MM), (1, d, NEAR_CUT_MM)):
        place = float(cells.offset_mm[cell]) + math.tan(math.radians(float(cells.tilt_deg[cell]))) * beyond
        gap = float(space.gap_mm[i, plane, fragment]) - nail.thick_diameter_mm / 2
        gap -= float(space.toward[i, plane]) * place
        span = max(depth - min(depths) if fragment == 0 else max(depths) - depth, LEAST_SPAN_MM)
        play += math.degrees(math.atan2(max(gap, 0.0), span))
        wall = float(space.room_mm[plane][i, n, fragment, cell])
        reamed = max(reamed, float(space.reamer_mm[n]) / 2 - wall, 0.0)
    turn = float(cells.tilt_deg[d] - cells.tilt_deg[p])
    end = abs(-float(space.toward[i, plane]) * SHARE[plane] * play + turn)
    shift = abs(aside(space, i, plane, line))
    away = sum(abs(float(cells.offset_mm[c])) / 0.5 + abs(float(cells.tilt_deg[c])) / 0.5 for c in (p, d))
    total = (end + 0.1 * abs(turn)) / WEIGHT_END + shift / WEIGHT_SHIFT + reamed / WEIGHT_REAMED + 0.02 * away
    return end, shift, reamed, total, abs(turn)


def lines_of(space: Space, at: tuple[int, int]) -> list[tuple[int, int, int, int]]:
    """Every line of a level and nail that keeps its limits."""
    pairs = list(product(range(len(space.cells[0].offset_mm)), repeat=2))
    return [
        (*frontal, *sagittal)
        for frontal, sagittal in product(pairs, repeat=2)
        if line_fits(space, at, 0, frontal) and line_fits(space, at, 1, sagittal)
    ]


def picked(space: Space, at: tuple[int, int], lines: list[tuple[int, int, int, int]]) -> tuple[int, ...]:
    """The line of least sum, the first one of equals."""
    best, least = lines[0], math.inf
    for line in lines:
        total = line_parts(space, at, 0, line[:2])[3] + line_parts(space, at, 1, line[2:])[3]
        if total < least - 1e-12:
            best, least = line, total
    return best


def candidates(space: Space):  # type: ignore[no-untyped-def]
    """Count of all that keep every limit, and the best straight and best free line of each level and nail."""
    count, rows = 0, {}
    for at in product(range(len(space.levels_mm)), range(len(space.nails))):
        gains = [g for g in range(len(space.gains_mm)) if fits(space, *at, g)]
        lines = lines_of(space, at) if gains else []
        count += len(gains) * len(lines)
        straight = [x for x in lines if x[0] == x[1] and x[2] == x[3]]
        for g in gains:
            for kind, some in enumerate((straight, lines)):
                if some:
                    line = picked(space, at, some)
                    rows[(*at, g, *line, kind)] = parts(space, (*at, g), line)
    return count, rows


def parts(space: Space, where: tuple[int, int, int], line: tuple[int, ...]) -> tuple[float, ...]:
    i, n, g = where
    frontal, sagittal = (
        line_parts(space, (i, n), 0, line[:2]),
        line_parts(space, (i, n), 1, line[2:]),
    )
    reserve = space.nails[n].thick_length_mm - float(space.depth_mm[i, n]) - float(space.gains_mm[g])
    return (
        math.hypot(frontal[0], sagittal[0]),
        abs(float(space.gains_mm[g]) - GOAL_MM),
        max(RESERVE_MM - (reserve - PROFILE.overlap_mm), 0.0),
        float(space.cost_mm[i]),
        math.hypot(frontal[1], sagittal[1]),
        max(frontal[2], sagittal[2]),
        math.hypot(frontal[4], sagittal[4]),
    )


def beats(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    pairs = list(zip(one, other, strict=True))
    return all(a <= b for a, b in pairs) and any(a < b for a, b in pairs)


@pytest.mark.parametrize("seed", range(6))
def test_the_same_candidates_and_the_same_set_kept(seed: int) -> None:
    space = invented(seed)
    kept = verdicts(space, TASK)  # type: ignore[arg-type]  # only its profile and length are asked for
    found = screened(space, kept, TASK, share=SHARE)  # type: ignore[arg-type]
    count, rows = candidates(space)
    assert kept.count == count
    assert sorted(w[:7] for w in rows) == sorted(found.where)
    mine = {w: tuple(r) for w, r in zip(found.where, found.parts.tolist(), strict=True)}
    for where, row in rows.items():
        assert mine[where[:7]] == pytest.approx(row, abs=1e-9)
    theirs = list(rows.values())
    front = {where[:7] for where, row in rows.items() if not any(beats(other, row) for other in theirs)}
    flags = nondominated(found.parts)
    assert {w for w, keep in zip(found.where, flags, strict=True) if keep} == front


def test_the_spaces_are_worth_testing() -> None:
    counts = [candidates(invented(seed))[0] for seed in range(6)]
    assert sum(c > 0 for c in counts) >= 4
    assert max(counts) > 500
