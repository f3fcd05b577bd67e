"""Contact rows of both planes side by side: straight rows, and wall stations that are ellipses."""

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from limbwright.mechanics.plane_problem import PlaneProblem, Reals

Whole = NDArray[np.int64]
FLAT_MM = 1e-6  # a canal as narrow as the nail still needs an ellipse


@dataclass(frozen=True, slots=True)
class SpatialRows:
    """All rows; the first `stations` are frontal wall rows, the next `stations` sagittal ones.

    `motion` is (m, 10): the five motions of the frontal plane, then those of the sagittal plane. `across`
    holds the direction cosines of each row. Wall rows are bounded by the box around the ellipse.
    """

    stations: int
    z: Reals
    kind: Whole
    across: Reals
    motion: Reals
    compliance: Reals
    lo: Reals
    hi: Reals
    shift: Reals
    nail: Reals
    spring: Reals
    spring_inverse: Reals
    load: Reals
    centre: Reals
    """(stations, 2) middle of the ellipse; NaN where there is no wall."""
    half: Reals
    """(stations, 2) half axes."""
    spans: tuple[tuple[float, float], tuple[float, float]]
    entry_stations: int
    lock_moving: tuple[bool, ...]
    blocker_moving: tuple[tuple[bool, ...], tuple[bool, ...]]
    bowed: tuple[Reals | None, Reals | None] = (None, None)
    """Elastic shape under axial compression alone, per plane, at its stations."""

    def wall_force(self, force: Reals, tangents: list[tuple[int, float, float]]) -> Reals:
        """(stations, 2) force at every wall station from box rows and tangents."""
        n = self.stations
        total = np.column_stack((force[:n], force[n : 2 * n]))
        for i, (station, x, y) in enumerate(tangents):
            f = force[len(self.z) + i]
            total[station, 0] += f * x
            total[station, 1] += f * y
        return total

    def wall_offset(self, y: Reals) -> Reals:
        """(stations, 2) offset of the nail from the middle of its canal."""
        n = self.stations
        return np.column_stack((y[:n], y[n : 2 * n])) - self.centre

    def outside_mm(self, offset: Reals) -> Reals:
        """How far outside its ellipse the nail is at every station; negative inside, -inf without a wall."""
        normals = offset / self.half**2
        size = np.hypot(normals[:, 0], normals[:, 1])
        with np.errstate(invalid="ignore", divide="ignore"):
            normals = normals / size[:, None]
            reach = np.hypot(self.half[:, 0] * normals[:, 0], self.half[:, 1] * normals[:, 1])
            out = np.sum(normals * offset, axis=1) - reach
        return np.where(np.isfinite(out), out, -np.inf)

    def toward(self, force: Reals) -> Reals:
        """(stations, 2) unit direction of each station's force; zero where there is none."""
        size = np.hypot(force[:, 0], force[:, 1])[:, None]
        return np.where(size > 0.0, force / np.where(size > 0.0, size, 1.0), 0.0)

    def normal(self, station: int, offset: Reals) -> tuple[float, float]:
        """Outward normal of the ellipse where the ray to the offset leaves it."""
        x, y = offset[0] / self.half[station, 0] ** 2, offset[1] / self.half[station, 1] ** 2
        size = math.hypot(x, y)
        return float(x / size), float(y / size)

    def compressed(
        self, axial: tuple[float, float], motion: Reals, wall_force: Reals, row_force: Reals
    ) -> "SpatialRows":
        """The same rows with the load that axial compression makes of the nail's shape in each plane."""
        from limbwright.mechanics.axial_kernel import axial_shift, axial_stations, nail_offset

        n, m = self.stations, len(self.z)
        shift, load = np.zeros(m), self.load.copy()
        bowed: list[Reals | None] = [None, None]
        for plane in range(2):
            if axial[plane] == 0.0:
                continue
            q = np.ascontiguousarray(motion[5 * plane : 5 * plane + 5])
            force = row_force * self.across[:, plane]
            force[: 2 * n] = 0.0
            force[plane * n : plane * n + n] = wall_force[:, plane]
            held = np.flatnonzero(force)
            s = axial_stations(*self.spans[plane], self.nail[0])
            w = np.array(
                [nail_offset(x, q, len(held), self.z, self.kind, held, force[held], self.nail) for x in s]
            )
            last = self.bowed[plane]
            if last is not None:
                w = w + last
            mine = self.across[:, plane] != 0.0
            part, own = np.zeros(int(mine.sum())), np.zeros(5)
            coefficients = np.ascontiguousarray(self.motion[mine, 5 * plane : 5 * plane + 5])
            z, kind = self.z[mine], self.kind[mine]
            axial_shift(axial[plane], s, w, self.nail, len(part), z, kind, coefficients, part, own)
            shift[mine] = part
            load[5 * plane : 5 * plane + 5] += own
            own_shape = np.zeros(len(s))
            axial_shift(
                axial[plane], s, w, self.nail, len(s), s, np.zeros(len(s), dtype=np.int64), coefficients,
                own_shape, np.zeros(5),
            )  # fmt: skip
            bowed[plane] = own_shape
        return replace(self, shift=shift, load=load, bowed=(bowed[0], bowed[1]))

    def contacts(
        self, wall_force: Reals, row_force: Reals, lengthening_mm: float
    ) -> list[tuple[str, str, float, float, float]]:
        """Support, fragment, depth in the bone, lateral and anterior force on the nail; from the entry on."""
        found: list[tuple[float, tuple[str, str, float, float, float]]] = []

        def add(support: str, moving: bool, z: float, x: float, y: float) -> None:
            if math.hypot(x, y) > 0.01:
                fragment = "moving fragment" if moving else "entry fragment"
                depth = z - (lengthening_mm if moving else 0.0)
                found.append((z, (support, fragment, depth, -x, -y)))

        n = self.stations
        for i in range(n):
            add("canal wall", i >= self.entry_stations, float(self.z[i]), *map(float, wall_force[i]))
        row = 2 * n
        for plane in range(2):
            joint = (False,)
            for kind, moving in (
                ("locking screw", self.lock_moving),
                ("joint of the nail", joint),
                ("blocking screw", self.blocker_moving[plane]),
            ):
                for there in moving:
                    if self.kind[row] == 0:
                        f = float(row_force[row])
                        add(kind, there, float(self.z[row]), *((f, 0.0) if plane == 0 else (0.0, f)))
                    row += 1
        return [entry for _, entry in sorted(found, key=lambda pair: pair[0])]


@dataclass(frozen=True, slots=True)
class TangentRows:
    """Straight rows and tangents together, as the kernel takes them."""

    z: Reals
    kind: Whole
    across: Reals
    motion: Reals
    compliance: Reals
    lo: Reals
    hi: Reals
    shift: Reals


def with_tangents(rows: SpatialRows, tangents: list[tuple[int, float, float]]) -> TangentRows:
    """Rows extended by one tangent row for each (station, normal)."""
    if not tangents:
        return TangentRows(
            rows.z, rows.kind, rows.across, rows.motion, rows.compliance, rows.lo, rows.hi, rows.shift
        )
    station = np.array([t[0] for t in tangents])
    normal = np.array([t[1:] for t in tangents])
    n = rows.stations
    x, y = normal[:, :1], normal[:, 1:]
    reach = np.hypot(rows.half[station, 0] * normal[:, 0], rows.half[station, 1] * normal[:, 1])
    bound = np.sum(rows.centre[station] * normal, axis=1) + reach
    return TangentRows(
        np.concatenate((rows.z, rows.z[station])),
        np.concatenate((rows.kind, rows.kind[station])),
        np.concatenate((rows.across, normal)),
        np.concatenate((rows.motion, x * rows.motion[station] + y * rows.motion[n + station])),
        np.concatenate((rows.compliance, rows.compliance[station])),
        np.concatenate((rows.lo, np.full(len(tangents), -np.inf))),
        np.concatenate((rows.hi, bound)),
        np.concatenate(
            (rows.shift, normal[:, 0] * rows.shift[station] + normal[:, 1] * rows.shift[n + station])
        ),
    )


def spatial_rows(
    problems: tuple[PlaneProblem, PlaneProblem],
    geometries: tuple[Reals, ...],
    loads: tuple[Reals, ...],
) -> SpatialRows | None:
    """Rows of both planes of one construct; None where the nail does not fit the canal or its supports."""
    from limbwright.mechanics.axial_kernel import compressed_span
    from limbwright.mechanics.row_kernel import assemble, springs_and_load

    n = int(problems[0].stations.sum()) + 1
    parts = []
    spring, inverse, load = np.zeros((10, 10)), np.zeros((10, 10)), np.zeros(10)
    for plane, problem in enumerate(problems):
        m = problem.row_count
        z, kind, motion = np.zeros(m), np.zeros(m, dtype=np.int64), np.zeros((m, 5))
        compliance, lo, hi = np.zeros(m), np.zeros(m), np.zeros(m)
        bad = assemble(
            geometries[plane],
            problem.entry_walls,
            problem.moving_walls,
            problem.stations,
            problem.locks,
            problem.blockers,
            problem.blocker_depth,
            problem.blocker_clearance,
            z,
            kind,
            motion,
            compliance,
            lo,
            hi,
        )
        if bad >= 0:
            return None
        wide = np.zeros((m, 10))
        wide[:, 5 * plane : 5 * plane + 5] = motion
        across = np.zeros((m, 2))
        across[:, plane] = 1.0
        parts.append((z, kind, across, wide, compliance, lo, hi))
        part, part_inverse, part_load = np.zeros((5, 5)), np.zeros((5, 5)), np.zeros(5)
        springs_and_load(geometries[plane], loads[plane], part, part_inverse, part_load)
        block = slice(5 * plane, 5 * plane + 5)
        spring[block, block], inverse[block, block], load[block] = part, part_inverse, part_load
    columns: list[Any] = [
        np.concatenate((parts[0][i][:n], parts[1][i][:n], parts[0][i][n:], parts[1][i][n:])) for i in range(7)
    ]
    lo, hi = columns[5], columns[6]
    low, high = np.column_stack((lo[:n], lo[n : 2 * n])), np.column_stack((hi[:n], hi[n : 2 * n]))
    walled = np.isfinite(low) & np.isfinite(high)
    return SpatialRows(
        stations=n,
        z=columns[0],
        kind=columns[1],
        across=columns[2],
        motion=columns[3],
        compliance=columns[4],
        lo=lo,
        hi=hi,
        shift=np.zeros(len(lo)),
        nail=np.array([geometries[0][1], geometries[0][4], geometries[0][5]]),
        spring=spring,
        spring_inverse=inverse,
        load=load,
        centre=np.where(walled, 0.5 * (np.where(walled, low, 0.0) + np.where(walled, high, 0.0)), np.nan),
        half=np.where(
            walled,
            np.maximum(0.5 * (np.where(walled, high, 0.0) - np.where(walled, low, 0.0)), FLAT_MM),
            np.nan,
        ),
        spans=(
            compressed_span(geometries[0], problems[0].locks),
            compressed_span(geometries[1], problems[1].locks),
        ),
        entry_stations=int(problems[0].stations[0]),
        lock_moving=tuple(bool(x > 0) for x in problems[0].locks[:, 0]),
        blocker_moving=(
            tuple(bool(x > 0) for x in problems[0].blockers[:, 0]),
            tuple(bool(x > 0) for x in problems[1].blockers[:, 0]),
        ),
    )
