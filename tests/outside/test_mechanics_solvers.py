# ruff: noqa: PLR0917  drawn arguments stand in one line
"""The same contact problems in general packages: Clarabel, quadprog, HiGHS, and finite elements (scikit-fem).

Nothing of the package's assembly is used here: rows and flexibility are written down again, straight from the
problem. Packages: Goulart & Chen 2024, Clarabel; Goldfarb & Idnani 1983, A numerically
stable dual method for solving strictly convex quadratic programs (the method of quadprog); Huangfu & Hall
2018, HiGHS; Gustafsson & McBain 2020, scikit-fem.
"""

import math
from dataclasses import dataclass

import clarabel
import numpy as np
import pytest
from scipy import sparse
from scipy.optimize import linprog

from limbwright.mechanics import (
    BlockingScrew,
    Canal,
    Construct,
    Fragment,
    Load,
    LockingScrew,
    NailBeam,
    Outcome,
    Plane,
    ScrewDirection,
    Side,
    SpatialLoad,
    envelope,
    solve,
    solve_batch,
    solve_coupled,
    straight_canal,
)

AP, ML = ScrewDirection.ANTEROPOSTERIOR, ScrewDirection.MEDIOLATERAL
LENGTH, STEP, R1, R2, PLAY = 300.0, 270.0, 5.35, 4.0, 0.15
EI1, EI2 = 110e3 * math.pi / 4 * R1**4, 110e3 * math.pi / 4 * R2**4


@dataclass(frozen=True)
class Case:
    """One invented problem."""

    cut: float
    canal: float
    gained: float
    moment: float  # N mm, + away from varus
    force: float  # N, 100 mm beyond the cut
    shift: float  # mm, walls of the entry fragment
    screws: tuple[tuple[float, int, float], ...]  # depth, side, clearance


def random_case(rng: np.random.Generator) -> Case:
    cut = rng.uniform(110, 200)
    screws = []
    for way in (-1, 1):
        if rng.random() < 0.6:
            clearance = rng.choice([0.0, 0.0, rng.uniform(-0.3, 1.0)])
            screws.append((cut + way * rng.uniform(5, 60), int(rng.choice([-1, 1])), float(clearance)))
    zero_gap = rng.random() < 0.2
    return Case(
        cut=cut,
        canal=2 * R1 if zero_gap else rng.uniform(10.9, 16.7),
        gained=rng.uniform(0, 50),
        moment=rng.uniform(500, 15000) * rng.choice([-1, 1]),
        force=rng.uniform(-100, 100) if rng.random() < 0.5 else 0.0,
        shift=rng.uniform(-1, 1) if rng.random() < 0.3 else 0.0,
        screws=tuple(screws),
    )


def construct(case: Case) -> Construct:
    canal = straight_canal(diameter_mm=case.canal, start_depth_mm=40, end_depth_mm=case.cut)
    walls = canal.frontal.shifted(case.shift)
    places = (
        (Fragment.ENTRY, 35, AP),
        (Fragment.ENTRY, 20, ML),
        (Fragment.MOVING, 280, AP),
        (Fragment.MOVING, 292, ML),
    )
    return Construct(
        nail=NailBeam(
            length_mm=LENGTH,
            exposed_rod_mm=LENGTH - STEP,
            thick_diameter_mm=2 * R1,
            thin_diameter_mm=2 * R2,
            modulus_gpa=110,
        ),
        osteotomy_depth_mm=case.cut,
        entry_canal=Canal(frontal=walls, sagittal=walls),
        moving_canal=straight_canal(diameter_mm=case.canal, start_depth_mm=case.cut, end_depth_mm=300),
        locking_screws=tuple(
            LockingScrew(fragment=f, depth_mm=z, direction=d, play_mm=PLAY) for f, z, d in places
        ),
        blocking_screws=tuple(
            BlockingScrew(
                fragment=Fragment.ENTRY if z < case.cut else Fragment.MOVING,
                depth_mm=z,
                side=Side.LATERAL if s > 0 else Side.MEDIAL,
                clearance_mm=c,
            )
            for z, s, c in case.screws
        ),
    )


def rows(case: Case) -> tuple[np.ndarray, ...]:
    """Depth, slope flag, moving flag, lower and upper bound of every possible contact."""
    found = []
    for start, end, moving in ((40.0, case.cut, 0), (case.cut, LENGTH, 1)):
        n = math.ceil((end - start) / 5.0) + 1
        depths = list(np.linspace(start, end, n))
        if moving and start <= STEP - case.gained <= end:
            depths.append(STEP - case.gained)
        for b in depths:
            z = b + moving * case.gained
            gap = case.canal / 2 - (R1 if z <= STEP else R2)
            shift = 0.0 if moving else case.shift
            found.append((z, 0, moving, shift - gap, shift + gap))
    for b, slope, moving in ((35, 0, 0), (20, 1, 0), (280, 0, 1), (292, 1, 1)):
        z = b + moving * case.gained
        play = PLAY if not slope else PLAY / (R1 if z <= STEP else R2)
        found.append((z, slope, moving, -play, play))
    for b, side, clearance in case.screws:
        moving = int(b >= case.cut)
        z = b + moving * case.gained
        room = clearance + (R1 if b <= STEP else R2) - (R1 if z <= STEP else R2)
        found.append((z, 0, moving, -np.inf if side > 0 else -room, room if side > 0 else np.inf))
    return tuple(np.array(c, dtype=float) for c in zip(*found, strict=True))


def flexibility_by_pieces(z: np.ndarray, slope: np.ndarray) -> np.ndarray:
    """Unit load integrals by Gauss-Legendre on each stretch between depths: exact for the cubic integrand."""
    marks = np.unique(np.concatenate(([0.0, STEP], z)))
    x, w = np.polynomial.legendre.leggauss(2)
    mid, half = 0.5 * (marks[1:] + marks[:-1]), 0.5 * np.diff(marks)
    s = (mid[:, None] + half[:, None] * x).ravel()
    weight = (half[:, None] * w).ravel() / np.where(s < STEP, EI1, EI2)
    m = np.where(slope[:, None] == 1, 1.0, z[:, None] - s) * (s < z[:, None])
    return (m * weight) @ m.T


def motions(case: Case, z: np.ndarray, slope: np.ndarray, moving: np.ndarray) -> np.ndarray:
    cut = case.cut + case.gained
    value = np.column_stack((np.ones_like(z), z, -moving, -moving * (z - cut)))
    tilt = np.column_stack((np.zeros_like(z), np.ones_like(z), np.zeros_like(z), -moving))
    return np.where(slope[:, None] == 1, tilt, value)


def force_dual(case: Case) -> tuple[np.ndarray, ...]:
    """min 1/2 f'Gf + hi'p - lo'n, f = p - n, R'f = load; the multiplier of R'f = load is the motion.

    An infinite bound takes no force; where both bounds are the same the force is one free variable. The
    compliance of 1e-7 mm/N (1e-11 rad/(N mm) for tilt) is the package's. Returns the Hessian, the cost, the
    equality matrix, its right side, and the number of free variables, which come first.
    """
    z, slope, moving, lo, hi = rows(case)
    g = flexibility_by_pieces(z, slope) + np.diag(np.where(slope == 1, 1e-11, 1e-7))
    r = motions(case, z, slope, moving)
    same = np.flatnonzero(lo == hi)
    up, down = np.flatnonzero(np.isfinite(hi) & (lo != hi)), np.flatnonzero(np.isfinite(lo) & (lo != hi))
    a = np.zeros((len(z), len(same) + len(up) + len(down)))
    a[same, np.arange(len(same))] = 1.0
    a[up, len(same) + np.arange(len(up))] = 1.0
    a[down, len(same) + len(up) + np.arange(len(down))] = -1.0
    load = np.array([0.0, 0.0, case.force, case.moment + 100.0 * case.force])
    return a.T @ g @ a, np.concatenate((hi[same], hi[up], -lo[down])), r.T @ a, load, np.array(len(same))


def clarabel_slope(case: Case) -> float:
    """Slope of the moving fragment found by Clarabel, lengths scaled to 100 mm and forces to 100 N."""
    h, c, equal, load, free = force_dual(case)
    n, scale, newton = len(c), np.array([1.0, 100.0, 1.0, 100.0]), 100.0
    signed = sparse.eye(n, format="csr")[int(free) :]
    a = sparse.vstack((sparse.csc_matrix(equal / scale[:, None]), -signed), format="csc")
    b = np.concatenate((load / scale / newton, np.zeros(n - int(free))))
    settings = clarabel.DefaultSettings()
    settings.verbose = False
    settings.tol_gap_abs = settings.tol_gap_rel = settings.tol_feas = 1e-9
    settings.reduced_tol_gap_abs = settings.reduced_tol_gap_rel = settings.reduced_tol_feas = 1e-8
    cones = [clarabel.ZeroConeT(4), clarabel.NonnegativeConeT(n - int(free))]
    found = clarabel.DefaultSolver(sparse.csc_matrix(np.triu(h * newton)), c, a, b, cones, settings).solve()
    assert str(found.status) in ("Solved", "AlmostSolved"), found.status
    return -found.z[3] / scale[3]


def ours(case: Case) -> float:
    result = solve(
        construct(case),
        Plane.FRONTAL,
        Load(moment_nm=-case.moment / 1e3, force_n=case.force, force_beyond_osteotomy_mm=100),
        lengthening_mm=case.gained,
    )
    assert result.outcome in (Outcome.DETERMINED, Outcome.NAIL_FORCED)
    assert result.residual_mm < 1e-6
    return -math.radians(result.angulation_deg)


def test_a_thousand_random_problems_in_clarabel():
    """Preload and zero gaps included; largest difference below 1e-5 degrees."""
    rng = np.random.Generator(np.random.PCG64(11))
    worst, forced = 0.0, 0
    for _ in range(1000):
        case = random_case(rng)
        apart = abs(math.degrees(ours(case)) - math.degrees(clarabel_slope(case)))
        # A screw and a wall that exclude each other over 2 mm force the nail with a meganewton; said by name.
        if _largest_force(case) > 1e6:
            forced += 1
            assert apart < 1e-3
        else:
            worst = max(worst, apart)
    assert worst < 1e-5
    assert forced < 30


def _largest_force(case: Case) -> float:
    built = solve(
        construct(case),
        Plane.FRONTAL,
        Load(moment_nm=-case.moment / 1e3, force_n=case.force, force_beyond_osteotomy_mm=100),
        lengthening_mm=case.gained,
    )
    return max(abs(c.force_n) for c in built.contacts)


def test_random_problems_in_a_dual_active_set_package():
    """quadprog in displacements, y = y0 + L v with C = L L', then one saddle solve."""
    rng = np.random.Generator(np.random.PCG64(12))
    worst, compared = 0.0, 0
    for _ in range(1000):
        case = random_case(rng)
        slope = _quadprog_slope(case)
        if slope is not None and _largest_force(case) < 1e6:
            compared += 1
            worst = max(worst, abs(math.degrees(slope) - math.degrees(ours(case))))
    assert worst < 1e-5
    assert compared > 700  # its own contacts are not optimal in about one case of five


def _quadprog_slope(case: Case) -> float | None:
    """Contacts found by quadprog, motions by the saddle system on them; None where they are not optimal."""
    import quadprog

    z, slope, moving, lo, hi = rows(case)
    g, r = flexibility_by_pieces(z, slope), motions(case, z, slope, moving)
    give = np.where(slope == 1, 1e-11, 1e-7)
    load = np.array([0.0, 0.0, case.force, case.moment + 100.0 * case.force])
    spring = np.array([1e-3, 10.0, 1e-3, 10.0])
    c = g + (r / spring) @ r.T + np.diag(100.0 * give)
    factor, start = np.linalg.cholesky(c), r @ (load / spring)
    up, down = np.isfinite(hi), np.isfinite(lo)
    weight = np.where(slope == 1, 50.0, 1.0)
    a = np.vstack((-(factor * weight[:, None])[up], (factor * weight[:, None])[down]))
    b = np.concatenate(((weight * (start - hi))[up], (weight * (lo - start))[down]))
    try:
        found = quadprog.solve_qp(np.eye(len(z)), np.zeros(len(z)), np.ascontiguousarray(a.T), b, 0)
    except ValueError:
        return None
    row = np.concatenate((np.flatnonzero(up), np.flatnonzero(down)))
    bound = np.concatenate((hi[up], lo[down]))
    held = np.flatnonzero(found[4] > 0.0)
    w, k = row[held], len(held)
    saddle = np.block([[-(g + np.diag(give))[np.ix_(w, w)], r[w]], [r[w].T, np.diag(1e-3 * spring)]])
    answer = np.linalg.solve(saddle, np.concatenate((bound[held], load)))
    y = r @ answer[k:] - g[:, w] @ answer[:k]
    y[w] -= give[w] * answer[:k]
    outward = np.where(held < int(up.sum()), 1.0, -1.0)
    optimal = ((y - hi) * weight).max() < 1e-6 and ((lo - y) * weight).max() < 1e-6
    return float(answer[k + 3]) if optimal and (outward * answer[:k]).min() > -1e-3 else None


def test_rigid_limit_is_the_linear_program():
    """Largest turn around a rigid nail by HiGHS against the closed form."""
    rng = np.random.Generator(np.random.PCG64(13))
    for _ in range(40):
        case = random_case(rng)
        z, slope, moving, lo, hi = rows(case)
        r = motions(case, z, slope, moving)
        a = np.vstack((r[np.isfinite(hi)], -r[np.isfinite(lo)]))
        b = np.concatenate((hi[np.isfinite(hi)], -lo[np.isfinite(lo)]))
        found = linprog([0, 0, 0, -1], A_ub=a, b_ub=b, bounds=(None, None), method="highs")
        if found.status == 0:
            closed = envelope(construct(case), Plane.FRONTAL, lengthening_mm=case.gained)
            assert closed.lowest_deg == pytest.approx(math.degrees(found.fun), abs=1e-5)


def test_cone_program_of_both_planes_in_clarabel():
    """Force dual of the coupled problem: cost gap x |force| at every wall station, a second-order cone."""
    rng = np.random.Generator(np.random.PCG64(14))
    for _ in range(25):
        case = Case(
            cut=rng.uniform(120, 190),
            canal=rng.uniform(11.5, 16),
            gained=rng.uniform(0, 50),
            moment=rng.uniform(1e3, 1e4),
            force=0.0,
            shift=0.0,
            screws=(),
        )
        turn = rng.uniform(0, 2 * math.pi)
        found = solve_coupled(
            construct(case),
            SpatialLoad(
                frontal=Load(moment_nm=-case.moment / 1e3 * math.cos(turn)),
                sagittal=Load(moment_nm=-case.moment / 1e3 * math.sin(turn)),
            ),
            lengthening_mm=case.gained,
        )
        assert found.residual_mm < 1e-6
        expected = _cone_slopes(case, turn)
        assert -found.frontal_deg == pytest.approx(expected[0], abs=1e-5)
        assert -found.sagittal_deg == pytest.approx(expected[1], abs=1e-5)


def _cone_slopes(case: Case, turn: float) -> tuple[float, float]:
    """Slopes of both planes in degrees; per station one pair of forces under a cone, per lock p and n."""
    z, slope, moving, _, hi = rows(case)
    wall = np.arange(len(z)) < len(z) - 4
    g = flexibility_by_pieces(z, slope) + np.diag(np.where(slope == 1, 1e-11, 1e-7))
    r = motions(case, z, slope, moving)
    w, locks = np.flatnonzero(wall), np.flatnonzero(~wall)
    # Sagittally, screws change roles: what stops translation there stops tilt here.
    turned = slope.copy()
    turned[locks] = 1.0 - slope[locks]
    depth = z[locks]
    play = np.where(turned[locks] == 1, PLAY / np.where(depth <= STEP, R1, R2), PLAY)
    g2 = flexibility_by_pieces(z, turned) + np.diag(np.where(turned == 1, 1e-11, 1e-7))
    r2 = motions(case, z, turned, moving)
    n, k = len(w), len(locks)
    # unknowns: fx (n), fy (n), t (n), lock p/n frontal (2k), lock p/n sagittal (2k)
    ax = np.zeros((len(z), 3 * n + 4 * k))
    ay = ax.copy()
    ax[w, np.arange(n)] = 1.0
    ay[w, n + np.arange(n)] = 1.0
    for i in range(k):
        ax[locks[i], 3 * n + i], ax[locks[i], 3 * n + k + i] = 1.0, -1.0
        ay[locks[i], 3 * n + 2 * k + i], ay[locks[i], 3 * n + 3 * k + i] = 1.0, -1.0
    newton, scale = 100.0, np.array([1.0, 100.0, 1.0, 100.0])
    h = (ax.T @ g @ ax + ay.T @ g2 @ ay) * newton
    cost = np.concatenate((np.zeros(2 * n), hi[w], np.tile(hi[locks], 2), np.tile(play, 2)))
    equal = np.vstack((r.T @ ax / scale[:, None], r2.T @ ay / scale[:, None]))
    load = np.array([0, 0, 0, case.moment * math.cos(turn), 0, 0, 0, case.moment * math.sin(turn)])
    load = load / np.tile(scale, 2) / newton
    cone = np.zeros((3 * n, 3 * n + 4 * k))
    for i in range(n):
        cone[3 * i, 2 * n + i], cone[3 * i + 1, i], cone[3 * i + 2, n + i] = -1.0, -1.0, -1.0
    positive = np.zeros((4 * k, 3 * n + 4 * k))
    positive[np.arange(4 * k), 3 * n + np.arange(4 * k)] = -1.0
    a = sparse.csc_matrix(np.vstack((equal, positive, cone)))
    b = np.concatenate((load, np.zeros(4 * k + 3 * n)))
    settings = clarabel.DefaultSettings()
    settings.verbose = False
    settings.tol_gap_abs = settings.tol_gap_rel = settings.tol_feas = 1e-9
    settings.reduced_tol_gap_abs = settings.reduced_tol_gap_rel = settings.reduced_tol_feas = 1e-8
    cones = [clarabel.ZeroConeT(8), clarabel.NonnegativeConeT(4 * k)]
    cones += [clarabel.SecondOrderConeT(3)] * n
    found = clarabel.DefaultSolver(sparse.csc_matrix(np.triu(h)), cost, a, b, cones, settings).solve()
    assert str(found.status) in ("Solved", "AlmostSolved"), found.status
    return math.degrees(-found.z[3] / scale[3]), math.degrees(-found.z[7] / scale[3])


def test_finite_elements_with_penalty_contact():
    """Hermite beam mesh of scikit-fem, stiff springs where the nail is through the wall: 20 cases."""
    rng = np.random.Generator(np.random.PCG64(15))
    for _ in range(20):
        case = random_case(rng)
        if case.canal == 2 * R1:
            case = Case(**{**{f: getattr(case, f) for f in case.__dataclass_fields__}, "canal": 12.0})
        assert math.degrees(_penalty_slope(case)) == pytest.approx(math.degrees(ours(case)), abs=2e-3)


def _penalty_slope(case: Case, stiffness: float = 1e6) -> float:
    """Slope of the moving fragment by Newton's method on the switched springs of a scikit-fem beam mesh."""
    from skfem import BilinearForm, ElementLineHermite, InteriorBasis, MeshLine
    from skfem.helpers import dd, ddot

    z, slope, moving, lo, hi = rows(case)
    nodes = np.unique(np.concatenate(([0.0, STEP, LENGTH + case.gained], z)).round(9))
    basis = InteriorBasis(MeshLine(nodes), ElementLineHermite())

    @BilinearForm
    def bending(u, v, w):
        return np.where(w.x[0] < STEP, EI1, EI2) * ddot(dd(u), dd(v))

    k = bending.assemble(basis).tolil()
    at = {float(x): i for i, x in enumerate(basis.mesh.p[0].round(9))}
    dofs = basis.nodal_dofs  # (2, nodes): offset and slope
    n = k.shape[0]
    b = np.zeros((len(z), n + 2))
    cut = case.cut + case.gained
    for i in range(len(z)):
        b[i, dofs[int(slope[i]), at[float(np.round(z[i], 9))]]] = 1.0
        if moving[i]:
            b[i, n], b[i, n + 1] = (0.0, -1.0) if slope[i] else (-1.0, -(z[i] - cut))
    full = np.zeros((n + 2, n + 2))
    full[:n, :n] = k.toarray()
    load = np.zeros(n + 2)
    load[n], load[n + 1] = case.force, case.moment + 100.0 * case.force
    spring = np.where(slope == 1, stiffness * 1e3, stiffness)
    middle = np.where(np.isfinite(lo + hi), 0.5 * (lo + hi), 0.0)
    x = np.zeros(n + 2)
    # Soft springs to the middle of every gap, taken away by and by, lead the switching to the right set.
    for soft in 10.0 ** np.arange(3, -9, -2):
        led, pulled = full + soft * b.T @ b, load + soft * b.T @ middle
        for _ in range(100):
            y = b @ x
            on = np.where(y > hi, 1, np.where(y < lo, -1, 0))
            held = np.flatnonzero(on)
            bound = np.where(on > 0, hi, lo)[held]
            matrix = led + (b[held].T * spring[held]) @ b[held]
            target = np.linalg.solve(matrix, pulled + b[held].T @ (spring[held] * bound))
            step, energy = 1.0, _energy(x, led, pulled, b, lo, hi, spring)
            while step > 1e-9 and _energy(x + step * (target - x), led, pulled, b, lo, hi, spring) > energy:
                step *= 0.5
            x = x + step * (target - x)
            if np.abs(target - x).max() < 1e-10:
                break
    return float(x[n + 1])


def _energy(x, full, load, b, lo, hi, spring):
    y = b @ x
    through = np.maximum(y - hi, 0.0) + np.maximum(lo - y, 0.0)
    return 0.5 * x @ full @ x - load @ x + 0.5 * float(spring @ through**2)


def test_batch_of_the_same_random_problems():
    """The batch path gives what Clarabel gives."""
    rng = np.random.Generator(np.random.PCG64(16))
    case = random_case(rng)
    moments = rng.uniform(-1e4, 1e4, 12)
    batch = solve_batch(construct(case), Plane.FRONTAL, moment_nm=-moments / 1e3, lengthening_mm=case.gained)
    for moment, angle in zip(moments, batch.angulation_deg, strict=True):
        one = Case(
            **{**{f: getattr(case, f) for f in case.__dataclass_fields__}, "moment": moment, "force": 0.0}
        )
        assert -angle == pytest.approx(math.degrees(clarabel_slope(one)), abs=1e-5)
