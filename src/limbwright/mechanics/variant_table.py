"""Columns of many variants of one construct in one plane, as the compiled loops take them."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from limbwright.error import Contradiction, Missing
from limbwright.mechanics.plane_problem import PlaneProblem, Reals, geometry_row

COLUMNS: dict[str, float | None] = {
    "moment_nm": 0.0,
    "force_n": 0.0,
    "force_beyond_osteotomy_mm": 0.0,
    "axial_n": 0.0,
    "lengthening_mm": 0.0,
    "osteotomy_depth_mm": None,
    "thick_diameter_mm": None,
    "thin_diameter_mm": None,
    "stiffness_factor": 1.0,
    "canal_widening_mm": 0.0,
    "entry_wall_shift_mm": 0.0,
    "moving_wall_shift_mm": 0.0,
    "lock_play_factor": 1.0,
    "angular_nm_per_deg": 0.0,
    "shear_n_per_mm": 0.0,
    "rest_angulation_deg": 0.0,
    "rest_shear_mm": 0.0,
}
"""What may differ between variants and what it is unless given; None takes the construct's own."""
SCREW_COLUMNS = ("blocking_clearance_mm", "blocking_depth_mm")


@dataclass(frozen=True, slots=True)
class VariantTable:
    """Geometry (n, columns), loads (n, columns), depth and clearance (n, screws) of the blocking screws."""

    geometry: Reals
    loads: Reals
    blocker_depth: Reals
    blocker_clearance: Reals


def variant_table(problem: PlaneProblem, rows: int = 1, **given: ArrayLike | None) -> VariantTable:
    """Columns of all variants; every column is one value, or one for each variant.

    rows : least number of variants.
    """
    unknown = set(given) - set(COLUMNS) - set(SCREW_COLUMNS)
    if unknown:
        raise Missing(
            f"{', '.join(sorted(unknown))} cannot differ between variants.",
            where="batch",
            next_step=f"Use {', '.join((*COLUMNS, *SCREW_COLUMNS))}.",
        )
    own = {
        "osteotomy_depth_mm": problem.geometry[6],
        "thick_diameter_mm": 2.0 * problem.geometry[2],
        "thin_diameter_mm": 2.0 * problem.geometry[3],
    }
    columns = {
        name: np.asarray(own.get(name, usual) if given.get(name) is None else given[name], dtype=np.float64)
        for name, usual in COLUMNS.items()
    }
    clearance, depth = (
        np.asarray(usual if given.get(name) is None else given[name], dtype=np.float64)
        for name, usual in zip(SCREW_COLUMNS, (problem.blocker_clearance, problem.blocker_depth), strict=True)
    )
    lengths = [
        rows,
        *(c.shape[0] for c in columns.values() if c.ndim),
        *(a.shape[0] for a in (clearance, depth) if a.ndim == 2),
    ]
    n, slots = max(lengths), len(problem.blockers)
    _require_lengths(lengths, n)
    at = {name: np.broadcast_to(c, (n,)) for name, c in columns.items()}
    geometry = np.tile(geometry_row(problem, 0.0), (n, 1))
    geometry[:, 7] = at["lengthening_mm"]
    geometry[:, 12] = problem.joint_clearance_mm / np.maximum(
        problem.joint_engagement_mm - at["lengthening_mm"], 1.0
    )
    geometry[:, 6] = at["osteotomy_depth_mm"]
    geometry[:, 2], geometry[:, 3] = 0.5 * at["thick_diameter_mm"], 0.5 * at["thin_diameter_mm"]
    geometry[:, 4] *= (problem.geometry[2] / geometry[:, 2]) ** 4 / at["stiffness_factor"]
    geometry[:, 5] *= (problem.geometry[3] / geometry[:, 3]) ** 4 / at["stiffness_factor"]
    names = ("canal_widening_mm", "entry_wall_shift_mm", "moving_wall_shift_mm", "lock_play_factor")
    for column, name in enumerate(names, start=8):
        geometry[:, column] = at[name]
    _require_screws_in_fragment(problem, at["osteotomy_depth_mm"], np.broadcast_to(depth, (n, slots)))
    return VariantTable(
        geometry,
        _loads(at, n),
        np.array(np.broadcast_to(depth, (n, slots)), order="C"),
        np.array(np.broadcast_to(clearance, (n, slots)), order="C"),
    )


def _loads(at: dict[str, Reals], n: int) -> Reals:
    """Kernel columns of loads and new bone; the same conversion as `load_row`, for whole columns."""
    loads = np.empty((n, 8))
    per_rad = at["angular_nm_per_deg"] * 1000.0 * 180.0 / math.pi
    loads[:, 0], loads[:, 1] = -1000.0 * at["moment_nm"], at["force_n"]
    loads[:, 2], loads[:, 3] = at["force_beyond_osteotomy_mm"], at["axial_n"]
    loads[:, 4], loads[:, 5] = per_rad, at["shear_n_per_mm"]
    loads[:, 6] = -per_rad * np.radians(at["rest_angulation_deg"])
    loads[:, 7] = at["shear_n_per_mm"] * at["rest_shear_mm"]
    return loads


def _require_lengths(rows: Sequence[int], n: int) -> None:
    if any(r not in (1, n) for r in rows):
        raise Contradiction(
            f"columns of {', '.join(str(r) for r in sorted(set(rows)))} variants.",
            where="batch",
            next_step="Give every column one value, or one for each variant.",
        )


def _require_screws_in_fragment(problem: PlaneProblem, cut: Reals, depth: Reals) -> None:
    """No variant may carry an osteotomy past a screw."""
    cut_low, cut_high = float(cut.min()), float(cut.max())
    places = [(s[0] > 0, s[1], s[1]) for s in problem.locks]
    places += [
        (b[0] > 0, float(depth[:, j].min()), float(depth[:, j].max())) for j, b in enumerate(problem.blockers)
    ]
    for moving, low, high in places:
        if (moving and low < cut_high) or (not moving and high > cut_low):
            raise Contradiction(
                f"a screw at {low:g}-{high:g} mm and the osteotomy at {cut_low:g}-{cut_high:g} mm cross.",
                where="batch",
                next_step="Narrow the range of osteotomy or screw depths.",
            )
