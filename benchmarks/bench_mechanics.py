# ruff: noqa: E402  the number of threads is set before numpy is loaded
"""Nail in the canal: our solves side by side with a beam finite-element QP in general packages, one core.

Run: .venv/bin/python benchmarks/bench_mechanics.py; it also draws docs/images/mechanics-cost.svg.
The comparison problem is written down here from its own assembly (Hermite beam, all nodes as unknowns, or the
flexibility form); nothing of the package is used for it.
"""

import math
import os
import subprocess
import sys
import time
from collections.abc import Callable

for name in ("NUMBA_NUM_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"

import clarabel
import numpy as np
import quadprog
from scipy import sparse

from cost_picture import IMAGES, cost_picture
from limbwright.mechanics import (
    BlockingScrew,
    Construct,
    Fragment,
    Load,
    LockingScrew,
    NailBeam,
    Plane,
    ScrewDirection,
    Side,
    SpatialLoad,
    Stage,
    enumerate_layouts,
    plane_problem,
    solve,
    solve_batch,
    solve_coupled,
    solve_coupled_batch,
    solve_layouts,
    straight_canal,
)
from limbwright.mechanics.layout_batch import Scenario

CUT, GAINED, CANAL, PLAY, R1, R2, STEP, LENGTH = 150.0, 40.0, 14.0, 0.15, 5.35, 4.0, 270.0, 300.0
EI1, EI2 = (110e3 * math.pi / 4 * r**4 for r in (R1, R2))
AP, ML = ScrewDirection.ANTEROPOSTERIOR, ScrewDirection.MEDIOLATERAL


def best_of(action: Callable[[], object], repeats: int = 7) -> float:
    """Shortest processor time of a few runs: others on the machine do not count. [s]"""
    times = []
    for _ in range(repeats):
        start = time.process_time()
        action()
        times.append(time.process_time() - start)
    return min(times)


def construct(*screws: BlockingScrew) -> Construct:
    places = (
        (Fragment.ENTRY, 35, AP),
        (Fragment.ENTRY, 20, ML),
        (Fragment.MOVING, 280, AP),
        (Fragment.MOVING, 292, ML),
    )
    return Construct(
        nail=NailBeam(
            length_mm=LENGTH,
            exposed_rod_mm=30,
            thick_diameter_mm=2 * R1,
            thin_diameter_mm=2 * R2,
            modulus_gpa=110,
        ),
        osteotomy_depth_mm=CUT,
        entry_canal=straight_canal(diameter_mm=CANAL, start_depth_mm=40, end_depth_mm=CUT),
        moving_canal=straight_canal(diameter_mm=CANAL, start_depth_mm=CUT, end_depth_mm=LENGTH),
        locking_screws=tuple(
            LockingScrew(fragment=f, depth_mm=z, direction=d, play_mm=PLAY) for f, z, d in places
        ),
        blocking_screws=screws,
    )


def screw(depth_mm: float, clearance_mm: float = 0.0) -> BlockingScrew:
    fragment = Fragment.ENTRY if depth_mm < CUT else Fragment.MOVING
    return BlockingScrew(fragment=fragment, depth_mm=depth_mm, side=Side.LATERAL, clearance_mm=clearance_mm)


def contact_rows(gaps: tuple[float, float]) -> list[tuple[float, int, int, float, float]]:
    """Depth, slope flag, moving flag, bounds; two lateral screws at 140 and 160 mm with these clearances."""
    found = []
    for start, end, moving in ((40.0, CUT, 0), (CUT, LENGTH, 1)):
        depths = list(np.linspace(start, end, math.ceil((end - start) / 5) + 1))
        if moving:
            depths.append(STEP - GAINED)
        for b in depths:
            z = b + moving * GAINED
            gap = CANAL / 2 - (R1 if z <= STEP else R2)
            found.append((z, 0, moving, -gap, gap))
    for b, slope, moving in ((35, 0, 0), (20, 1, 0), (280, 0, 1), (292, 1, 1)):
        z = b + moving * GAINED
        play = PLAY if not slope else PLAY / (R1 if z <= STEP else R2)
        found.append((z, slope, moving, -play, play))
    for b, moving, gap in ((140.0, 0, gaps[0]), (160.0, 1, gaps[1])):
        found.append((b + moving * GAINED, 0, moving, -100.0, gap))
    return found


def finite_elements(gaps: tuple[float, float]) -> tuple[np.ndarray, ...]:
    """Hermite beam on all contact depths: stiffness, contact matrix, bounds."""
    rows = contact_rows(gaps)
    nodes = np.unique(np.array([0.0, STEP, *(r[0] for r in rows)]).round(9))
    n = 2 * len(nodes) + 2
    k = np.zeros((n, n))
    for e in range(len(nodes) - 1):
        h, ei = nodes[e + 1] - nodes[e], EI1 if nodes[e] < STEP else EI2
        block = (
            ei
            / h**3
            * np.array(
                [
                    [12, 6 * h, -12, 6 * h],
                    [6 * h, 4 * h * h, -6 * h, 2 * h * h],
                    [-12, -6 * h, 12, -6 * h],
                    [6 * h, 2 * h * h, -6 * h, 4 * h * h],
                ]
            )
        )
        k[2 * e : 2 * e + 4, 2 * e : 2 * e + 4] += block
    a = np.zeros((len(rows), n))
    at = {float(z): i for i, z in enumerate(nodes)}
    for i, (z, slope, moving, _, _) in enumerate(rows):
        a[i, 2 * at[float(np.round(z, 9))] + slope] = 1.0
        if moving:
            a[i, n - 2], a[i, n - 1] = (0.0, -1.0) if slope else (-1.0, -(z - CUT - GAINED))
    # slopes and turns counted in units of 1/100, which is what keeps a general solver going at all
    scale = np.ones(n)
    scale[1:-2:2] = scale[-1] = 0.01
    return (
        k * np.outer(scale, scale),
        a * scale,
        np.array([r[3] for r in rows]),
        np.array([r[4] for r in rows]),
    )


def beam_quadprog(moment: float, gaps: tuple[float, float] = (0.0, 0.0)) -> float:
    """Slope of the moving fragment in degrees by quadprog on the whole beam."""
    k, a, lo, hi = finite_elements(gaps)
    load = np.zeros(len(k))
    load[-1] = 0.01 * moment
    c = np.vstack((a, -a)).T.copy()
    found = quadprog.solve_qp(k + np.eye(len(k)) * 1e-6, load, c, np.concatenate((lo, -hi)))
    return math.degrees(0.01 * found[0][-1])


def beam_clarabel(moment: float, gaps: tuple[float, float] = (0.0, 0.0)) -> float:
    """The same problem in Clarabel."""
    k, a, lo, hi = finite_elements(gaps)
    load = np.zeros(len(k))
    load[-1] = -0.01 * moment
    settings = clarabel.DefaultSettings()
    settings.verbose = False
    both = sparse.csc_matrix(np.vstack((a, -a)))
    cones = [clarabel.NonnegativeConeT(2 * len(a))]
    found = clarabel.DefaultSolver(
        sparse.csc_matrix(np.triu(k)), load, both, np.concatenate((hi, -lo)), cones, settings
    ).solve()
    return math.degrees(0.01 * found.x[-1])


def line(what: str, ours: str, theirs: str = "", ratio: str = "", wanted: str = "") -> None:
    print(f"{what:<58} {ours:>14} {theirs:>16} {ratio:>9} {wanted:>14}")


def single() -> None:
    built, load = construct(screw(140), screw(160)), Load(moment_nm=-5)
    ours = solve(built, Plane.FRONTAL, load, lengthening_mm=GAINED).angulation_deg
    assert ours is not None
    once = best_of(lambda: [solve(built, Plane.FRONTAL, load, lengthening_mm=GAINED) for _ in range(50)]) / 50

    def fresh() -> None:
        for another in others:
            solve(another, Plane.FRONTAL, load, lengthening_mm=GAINED)

    times = []
    for _ in range(7):
        others = [construct(screw(140), screw(160)) for _ in range(50)]
        times.append(best_of(fresh, 1) / 50)
    first = min(times)
    for name, other in (("quadprog", beam_quadprog), ("Clarabel", beam_clarabel)):
        t = best_of(lambda other=other: [other(5000.0) for _ in range(5)]) / 5
        apart = abs(other(5000.0) + ours)
        line(
            f"one solve() against beam FE QP in {name}, {apart:.0e} deg apart",
            f"{once * 1e6:.0f} us",
            f"{t * 1e6:.0f} us",
            f"{t / once:.0f} x",
            ">= 50 x",
        )
        line(
            "  on a construct not seen before",
            f"{first * 1e6:.0f} us",
            f"{t * 1e6:.0f} us",
            f"{t / first:.0f} x",
            ">= 50 x",
        )


def batches() -> None:
    built = construct(screw(140), screw(160))
    rng = np.random.Generator(np.random.PCG64(1))
    n = 10_000
    moment, gaps = -np.abs(rng.normal(6, 2.5, n)), rng.uniform(0, 1, (n, 2))
    stiff, wide = rng.normal(1, 0.05, n), rng.normal(0, 0.5, n)

    def assembled(count: int) -> None:
        solve_batch(
            built,
            Plane.FRONTAL,
            moment_nm=moment[:count],
            lengthening_mm=GAINED,
            stiffness_factor=stiff[:count],
            canal_widening_mm=wide[:count],
            blocking_clearance_mm=gaps[:count],
        )

    assembled(10)
    t = best_of(lambda: assembled(n))
    line("batch with assembly, per solve", f"{t / n * 1e6:.1f} us", wanted="<= 19 us")
    loop = best_of(
        lambda: [beam_quadprog(-1e3 * m, tuple(g)) for m, g in zip(moment[:40], gaps[:40], strict=True)], 3
    )
    line(
        "10,000 variants against a Python loop over quadprog (40 timed)",
        f"{t:.3f} s",
        f"{loop / 40 * n:.1f} s",
        f"{loop / 40 * n / t:.0f} x",
        ">= 100 x",
    )
    few = [best_of(lambda k=k: assembled(k)) / k * 1e6 for k in (1250, 2500, 5000, 10_000)]
    line(
        "cost per draw at 1250, 2500, 5000, 10,000 draws",
        " ".join(f"{x:.1f}" for x in few) + " us",
        wanted="level",
    )


def scenarios(count: int, axial_n: float = 0.0) -> tuple[Scenario, ...]:
    return tuple(
        Scenario(
            name=str(i),
            weight=1.0,
            stages=tuple(
                Stage(
                    day=d,
                    lengthening_mm=d,
                    load=SpatialLoad(
                        frontal=Load(moment_nm=-(4.0 + i), axial_n=axial_n),
                        sagittal=Load(moment_nm=4.0, axial_n=axial_n),
                    ),
                )
                for d in (0.0, 25.0, 50.0)
            ),
        )
        for i in range(count)
    )


def layouts() -> None:
    distances = np.arange(10.0, 60.0, 5.0)
    screws = [screw(CUT + way * d, 0.3) for d in distances for way in (-1, 1)]
    rng = np.random.Generator(np.random.PCG64(2))
    members = np.array(
        [[rng.integers(0, 20), -1] if i % 4 == 0 else rng.choice(20, 2, replace=False) for i in range(1000)]
    )
    for axial, wanted in ((0.0, "< 0.15 s"), (300.0, "")):
        loads = scenarios(4, axial)
        solve_layouts(construct(), Plane.FRONTAL, screws, members[:10], loads)
        t = best_of(lambda loads=loads: solve_layouts(construct(), Plane.FRONTAL, screws, members, loads), 5)
        what = f"1,000 layouts x 4 loads x 3 stages{', compressed by 300 N' if axial else ''}"
        line(what, f"{t:.3f} s", wanted=wanted)
        line(
            "  per solve; only gaps and loads change",
            f"{t / 12000 * 1e6:.1f} us",
            wanted="<= 4 us" if not axial else "",
        )
    rich = best_of(
        lambda: enumerate_layouts(construct(), Plane.FRONTAL, screws, scenarios(1), max_screws=3, apart_mm=5),
        3,
    )
    line("all layouts of up to 3 of 20 screws, 1 load, 3 stages", f"{rich:.3f} s")


def only_bounds() -> None:
    """Flexibility kept: 10,000 gaps and loads of one layout."""
    from limbwright.mechanics.layout_kernel import solve_bounds
    from limbwright.mechanics.plane_problem import geometry_row

    problem = plane_problem(construct(screw(140), screw(160)), Plane.FRONTAL)
    rng, n = np.random.Generator(np.random.PCG64(3)), 10_000
    loads = np.zeros((n, 8))
    loads[:, 0], loads[:, 1], loads[:, 2] = rng.normal(6000, 2500, n), rng.normal(0, 15, n), 100.0
    which, gaps = np.tile(np.arange(2), (n, 1)), rng.uniform(0, 1, (n, 2))
    out, support = np.empty((n, 13)), np.empty((n, 6))

    def run() -> object:
        return solve_bounds(
            geometry_row(problem, GAINED),
            loads,
            problem.entry_walls,
            problem.moving_walls,
            problem.stations,
            problem.locks,
            problem.blockers,
            problem.blocker_depth,
            which,
            gaps,
            2000.0,
            out,
            support,
        )

    run()
    line(
        "kernel alone, 10,000 random gaps and loads, per solve",
        f"{best_of(run) / n * 1e6:.1f} us",
        wanted="<= 4 us",
    )


def spent(action: Callable[[int], object], counts: tuple[int, ...]) -> list[tuple[float, float]]:
    """Shortest processor time for each count, as (count, seconds); the counts take turns, five times."""
    action(counts[0])
    times = dict.fromkeys(counts, math.inf)
    for _ in range(5):
        for n in counts:
            start = time.process_time()
            action(n)
            times[n] = min(times[n], time.process_time() - start)
    return [(float(n), t) for n, t in times.items()]


def growth() -> None:
    """Cost against the number of draws and of candidate layouts, as a table and as a picture in the docs."""
    rng = np.random.Generator(np.random.PCG64(4))
    most = 16_000
    moment, gaps = -np.abs(rng.normal(6, 2.5, most)), rng.uniform(0, 1, (most, 2))
    built = construct(screw(140), screw(160))
    screws = [screw(CUT + way * d, 0.3) for d in np.arange(10.0, 60.0, 5.0) for way in (-1, 1)]
    members = rng.permuted(np.tile(np.arange(20), (most, 1)), axis=1)[:, :2].copy()
    loads = scenarios(1)

    def draws_of_a_plane(n: int) -> object:
        return solve_batch(
            built,
            Plane.FRONTAL,
            moment_nm=moment[:n],
            lengthening_mm=GAINED,
            blocking_clearance_mm=gaps[:n],
        )

    def draws_together(n: int) -> object:
        return solve_coupled_batch(
            built,
            frontal={"moment_nm": moment[:n], "blocking_clearance_mm": gaps[:n]},
            sagittal={"moment_nm": -0.7 * moment[:n]},
            lengthening_mm=GAINED,
        )

    def layouts_of_a_plane(n: int) -> object:
        return solve_layouts(construct(), Plane.FRONTAL, screws, members[:n], loads)

    measured = {}
    for name, action, counts in (
        ("draws, both planes together", draws_together, (500, 1000, 2000, 4000, 8000)),
        ("layouts of two screws, 3 stages", layouts_of_a_plane, (1000, 2000, 4000, 8000, 16_000)),
        ("draws, one plane", draws_of_a_plane, (1000, 2000, 4000, 8000, 16_000)),
    ):
        points = spent(action, counts)
        measured[name] = points
        line(
            f"{name}: us each at {counts[0]:,} ... {counts[-1]:,}",
            " ".join(f"{t / n * 1e6:.0f}" for n, t in points),
            wanted="level",
        )
    (IMAGES / "mechanics-cost.svg").write_bytes(cost_picture(measured, counted="draws or layouts"))


def coupled() -> None:
    load = SpatialLoad(frontal=Load(moment_nm=-3.5), sagittal=Load(moment_nm=3.5))
    built = construct()
    solve_coupled(built, load, lengthening_mm=GAINED)
    t = best_of(lambda: [solve_coupled(built, load, lengthening_mm=GAINED) for _ in range(10)]) / 10
    line("both planes coupled, proved to 1e-6 mm", f"{t * 1e6:.0f} us")
    rng, n = np.random.Generator(np.random.PCG64(5)), 2000
    for axial in (0.0, 300.0):

        def run(axial: float = axial) -> object:
            return solve_coupled_batch(
                built,
                frontal={"moment_nm": -np.abs(rng.normal(4, 1, n))},
                sagittal={"moment_nm": np.abs(rng.normal(3, 1, n))},
                lengthening_mm=GAINED,
                axial_n=axial,
            )

        t = best_of(run, 3)
        line(f"  in a batch{', compressed by 300 N' if axial else ''}, per solve", f"{t / n * 1e6:.0f} us")


def first_call() -> None:
    script = (
        "import time\nt = time.perf_counter()\nimport limbwright.mechanics as m\n"
        "a = time.perf_counter() - t\n"
        "c = m.straight_canal(diameter_mm=14, start_depth_mm=40, end_depth_mm=300)\n"
        "n = m.NailBeam(length_mm=300, exposed_rod_mm=30, thick_diameter_mm=10.7, "
        "thin_diameter_mm=8, modulus_gpa=110)\n"
        "k = m.Construct(nail=n, osteotomy_depth_mm=150, entry_canal=c, moving_canal=c)\n"
        "r = m.solve(k, m.Plane.FRONTAL, m.Load(moment_nm=-5))\n"
        "print(a, time.perf_counter() - t)\n"
    )
    runs = [
        subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
        for _ in range(3)
    ]
    best = min((tuple(map(float, r.stdout.split())) for r in runs), key=lambda pair: pair[1])
    line("import of the room", f"{best[0]:.2f} s")
    line("new process: import and first solve, compiled code cached", f"{best[1]:.2f} s", wanted="<= 1.5 s")


def main() -> None:
    line("one core", "ours", "general package", "ratio", "wanted")
    single()
    batches()
    only_bounds()
    layouts()
    coupled()
    growth()
    first_call()


if __name__ == "__main__":
    main()
