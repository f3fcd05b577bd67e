"""A thousand random constructs in both planes: every one ends with a proof or under its own name."""

import math

import numpy as np
import pytest

from limbwright.mechanics import (
    BlockingScrew,
    Canal,
    Construct,
    Fragment,
    Load,
    LockingScrew,
    NailBeam,
    Outcome,
    Regenerate,
    ScrewDirection,
    Side,
    SpatialLoad,
    Walls,
    solve_coupled,
    solve_coupled_batch,
)

ENTRY, MOVING = Fragment.ENTRY, Fragment.MOVING
AP, ML = ScrewDirection.ANTEROPOSTERIOR, ScrewDirection.MEDIOLATERAL


def random_walls(rng: np.random.Generator, start: float, end: float, radius: float) -> Walls:
    """Straight, ragged or flared walls, centred or not, with a gap of 0.05 to 3 mm beside the nail."""
    shape = int(rng.integers(0, 3))
    depth = np.linspace(start, end, int(rng.integers(2, 40)) if shape else 2)
    gap = rng.uniform(0.05, 3.0)
    half = radius + gap + np.zeros(len(depth))
    middle = rng.integers(0, 2) * rng.uniform(-1, 1) * gap * 0.8 + np.zeros(len(depth))
    if shape == 1:
        half += np.abs(rng.normal(0, 0.4, len(depth)))
        middle += rng.normal(0, 0.15, len(depth))
    elif shape == 2:
        half += 6 * ((depth - start) / (end - start) - rng.uniform()) ** 2
    return Walls(
        depth_mm=tuple(depth.tolist()),
        negative_mm=tuple((middle - half).tolist()),
        positive_mm=tuple((middle + half).tolist()),
    )


def random_construct(rng: np.random.Generator) -> Construct:
    length, thick = rng.uniform(200, 360), float(rng.choice([9.5, 10.7, 12.5]))
    cut, start = rng.uniform(80, length - 90), rng.uniform(5, 45)
    play = float(rng.choice([0.0, 0.05, 0.15, 0.3]))
    entry, moving = (
        Canal(frontal=random_walls(rng, a, b, thick / 2), sagittal=random_walls(rng, a, b, thick / 2))
        for a, b in ((start, cut), (cut, length - 2))
    )
    places = ((ENTRY, 35.0, AP), (ENTRY, 20.0, ML), (MOVING, length - 20, AP), (MOVING, length - 8, ML))
    screws = []
    for _ in range(int(rng.integers(0, 4))):
        there = MOVING if rng.random() < 0.5 else ENTRY
        screws.append(
            BlockingScrew(
                fragment=there,
                depth_mm=cut + (1 if there is MOVING else -1) * rng.uniform(5, 50),
                side=list(Side)[int(rng.integers(0, 4))],
                clearance_mm=float(rng.choice([0.0, 0.3, 1.0])),
                stiffness_n_per_mm=None if rng.random() < 0.5 else 3000.0,
            )
        )
    bent = rng.random() < 0.3
    return Construct(
        nail=NailBeam(
            length_mm=length,
            exposed_rod_mm=rng.uniform(20, 60),
            thick_diameter_mm=thick,
            thin_diameter_mm=rng.uniform(0.6, 0.9) * thick,
            modulus_gpa=float(rng.choice([110.0, 187.0])),
            bend_depth_mm=40.0 if bent else 0.0,
            bend_deg=8.0 if bent else 0.0,
            joint_clearance_mm=float(rng.choice([0.0, 0.05])),
        ),
        osteotomy_depth_mm=cut,
        entry_canal=entry,
        moving_canal=moving,
        locking_screws=tuple(
            LockingScrew(fragment=f, depth_mm=z, direction=d, play_mm=play)
            for f, z, d in places
            if rng.random() < 0.85
        ),
        blocking_screws=tuple(screws),
        contact_step_mm=float(rng.choice([5.0, 2.5, 1.0])),
    )


def random_load(rng: np.random.Generator) -> SpatialLoad:
    axial, moment, way = (
        float(rng.choice([0.0, 300.0])),
        10 ** rng.uniform(-1, 1.2),
        rng.uniform(0, 2 * math.pi),
    )
    return SpatialLoad(
        frontal=Load(
            moment_nm=moment * math.cos(way),
            force_n=float(rng.choice([0.0, rng.uniform(-60, 60)])),
            force_beyond_osteotomy_mm=100.0,
            axial_n=axial,
        ),
        sagittal=Load(moment_nm=moment * math.sin(way), axial_n=axial),
    )


@pytest.mark.parametrize("seed", range(4))
def test_no_random_construct_ends_without_a_proof(seed: int) -> None:
    rng = np.random.Generator(np.random.PCG64(seed))
    numbered = 0
    for _ in range(250):
        built, load = random_construct(rng), random_load(rng)
        bone = Regenerate(angular_nm_per_deg=10 ** rng.uniform(-2, 1)) if rng.random() < 0.3 else None
        found = solve_coupled(
            built,
            load,
            lengthening_mm=float(rng.choice([0.0, 1.0, rng.uniform(0, 60)])),
            frontal_regenerate=bone,
            sagittal_regenerate=bone,
        )
        assert found.outcome is not Outcome.NOT_PROVED
        if found.oblique_deg is not None:
            numbered += 1
            assert found.residual_mm <= 1e-6
            assert found.residual_n <= 1e-4
        else:
            assert found.outcome is Outcome.NAIL_FORCED
    assert numbered > 200


def test_a_batch_gives_what_each_solve_gives() -> None:
    rng = np.random.Generator(np.random.PCG64(9))
    built = random_construct(rng)
    moments, gained = rng.uniform(1, 6, (20, 2)) * np.array([-1, 1]), rng.uniform(0, 40, 20)
    batch = solve_coupled_batch(
        built,
        frontal={"moment_nm": moments[:, 0]},
        sagittal={"moment_nm": moments[:, 1]},
        lengthening_mm=gained,
        axial_n=100.0,
    )
    for i in range(20):
        load = SpatialLoad(
            frontal=Load(moment_nm=moments[i, 0], axial_n=100.0),
            sagittal=Load(moment_nm=moments[i, 1], axial_n=100.0),
        )
        one = solve_coupled(built, load, lengthening_mm=gained[i])
        assert batch.angulation_deg[i] == pytest.approx((one.frontal_deg, one.sagittal_deg), abs=1e-5)
        assert batch.step_mm[i] == pytest.approx((one.lateral_step_mm, one.anterior_step_mm), abs=1e-4)
        assert batch.thick_moment_nm[i] == pytest.approx(one.thick_moment_nm, rel=1e-3)
    assert batch.count(Outcome.DETERMINED) == 20
