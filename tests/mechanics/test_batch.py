"""Batches give what single solves give, column by column."""

from dataclasses import replace

import numpy as np
import pytest

from limbwright.error import Contradiction
from limbwright.mechanics import (
    OUTCOMES,
    Load,
    Outcome,
    Plane,
    Regenerate,
    peak_stress_mpa,
    plane_problem,
    solve,
    solve_batch,
)


def test_loads_and_lengthening(make, screw):
    built = make(150, 14, screw(140), screw(160))
    rng = np.random.Generator(np.random.PCG64(1))
    moment, force, gained, axial = (
        rng.uniform(-9, 9, 20),
        rng.uniform(-50, 50, 20),
        rng.uniform(0, 50, 20),
        200.0,
    )
    batch = solve_batch(
        built,
        Plane.FRONTAL,
        moment_nm=moment,
        force_n=force,
        force_beyond_osteotomy_mm=90,
        lengthening_mm=gained,
        axial_n=axial,
        angular_nm_per_deg=0.5,
        rest_angulation_deg=-1.0,
        shear_n_per_mm=2.0,
        rest_shear_mm=0.2,
    )
    bone = Regenerate(angular_nm_per_deg=0.5, rest_angulation_deg=-1.0, shear_n_per_mm=2.0, rest_shear_mm=0.2)
    for i in range(20):
        load = Load(moment_nm=moment[i], force_n=force[i], force_beyond_osteotomy_mm=90, axial_n=axial)
        one = solve(built, Plane.FRONTAL, load, lengthening_mm=gained[i], regenerate=bone)
        assert batch.angulation_deg[i] == pytest.approx(one.angulation_deg, abs=1e-9)
        assert batch.step_mm[i] == pytest.approx(one.step_mm, abs=1e-9)
        assert batch.thin_moment_nm[i] == pytest.approx(one.thin_moment_nm, abs=1e-9)
        assert batch.shift_mm(80)[i] == pytest.approx(one.shift_mm(80), abs=1e-6)
    assert batch.residual_mm.max() < 1e-9
    assert batch.count(Outcome.DETERMINED) == 20


def test_geometry_columns(make, screw):
    built = make(150, 14, screw(135), screw(165))
    moved = solve_batch(built, Plane.FRONTAL, moment_nm=-5, osteotomy_depth_mm=[145.0, 155.0])
    for i, cut in enumerate((145.0, 155.0)):
        other = make(cut, 14, screw(135, osteotomy_mm=cut), screw(165, osteotomy_mm=cut))
        assert moved.angulation_deg[i] == pytest.approx(
            solve(other, Plane.FRONTAL, Load(moment_nm=-5)).angulation_deg, abs=2e-3
        )
    thicker = solve_batch(built, Plane.FRONTAL, moment_nm=-5, thick_diameter_mm=11.5, thin_diameter_mm=8.5)
    nail = replace(built.nail, thick_diameter_mm=11.5, thin_diameter_mm=8.5)
    expected = solve(replace(built, nail=nail), Plane.FRONTAL, Load(moment_nm=-5)).angulation_deg
    assert thicker.angulation_deg[0] == pytest.approx(expected, abs=1e-9)
    softer = solve_batch(built, Plane.FRONTAL, moment_nm=-5, stiffness_factor=0.5)
    nail = replace(built.nail, modulus_gpa=55.0)
    expected = solve(replace(built, nail=nail), Plane.FRONTAL, Load(moment_nm=-5)).angulation_deg
    assert softer.angulation_deg[0] == pytest.approx(expected, abs=1e-9)
    wider = solve_batch(make(150, 13), Plane.FRONTAL, moment_nm=-5, canal_widening_mm=1.0)
    expected = solve(make(150, 14), Plane.FRONTAL, Load(moment_nm=-5)).angulation_deg
    assert wider.angulation_deg[0] == pytest.approx(expected, abs=1e-9)


def test_screw_and_wall_columns(make, screw):
    built = make(150, 14, screw(140), screw(160))
    batch = solve_batch(
        built,
        Plane.FRONTAL,
        moment_nm=-5,
        blocking_clearance_mm=[[0.0, 0.5], [1.0, 0.0]],
        blocking_depth_mm=[138.0, 160.0],
    )
    for i, (a, b) in enumerate(((0.0, 0.5), (1.0, 0.0))):
        other = make(150, 14, screw(138, clearance_mm=a), screw(160, clearance_mm=b))
        assert batch.angulation_deg[i] == pytest.approx(
            solve(other, Plane.FRONTAL, Load(moment_nm=-5)).angulation_deg, abs=1e-9
        )
    assert batch.blocking_force_n.shape == (2, 2)
    assert (batch.blocking_force_n <= 0).all()  # a lateral screw pushes medially
    assert batch.locking_force_n.shape == (2, 4)
    canal = make().entry_canal
    shifted = make(150, 14, entry_canal=replace(canal, frontal=canal.frontal.shifted(0.7)))
    expected = solve(shifted, Plane.FRONTAL, Load(moment_nm=-5)).angulation_deg
    column = solve_batch(make(), Plane.FRONTAL, moment_nm=-5, entry_wall_shift_mm=0.7)
    assert column.angulation_deg[0] == pytest.approx(expected, abs=1e-9)
    play = solve_batch(make(), Plane.FRONTAL, moment_nm=-5, lock_play_factor=[1.0, 2.0])
    assert play.angulation_deg[1] < play.angulation_deg[0]


def test_outcomes_without_a_number_are_nan_and_counted(make):
    batch = solve_batch(
        plane_problem(make(), Plane.FRONTAL),
        Plane.FRONTAL,
        moment_nm=[-5, 0.0, -5],
        canal_widening_mm=[0, 0, -4],
    )
    assert [OUTCOMES[i] for i in batch.outcome] == [
        Outcome.DETERMINED,
        Outcome.UNDETERMINED,
        Outcome.NAIL_WIDER_THAN_CANAL,
    ]
    assert np.isnan(batch.angulation_deg).tolist() == [False, True, True]


def test_stress_takes_both_planes(make):
    frontal = solve_batch(make(), Plane.FRONTAL, moment_nm=[-3.0])
    sagittal = solve_batch(make(), Plane.SAGITTAL, moment_nm=[4.0])
    expected = make().nail.peak_stress_mpa(
        thick_moment_nm=5.0,
        thin_moment_nm=float(np.hypot(frontal.thin_moment_nm, sagittal.thin_moment_nm)[0]),
    )
    assert peak_stress_mpa(make(), frontal, sagittal)[0] == pytest.approx(expected, rel=1e-3)


def test_contradictory_columns_are_refused(make, screw):
    with pytest.raises(Contradiction, match="columns of 1, 2, 3 variants"):
        solve_batch(make(), Plane.FRONTAL, moment_nm=[1, 2], lengthening_mm=[1, 2, 3])
    with pytest.raises(Contradiction, match="cross"):
        solve_batch(make(150, 14, screw(148)), Plane.FRONTAL, moment_nm=-5, osteotomy_depth_mm=[145.0, 150.0])


def test_all_kinds_of_columns_run_on_one_compiled_version(make, screw):
    """Read-only or oddly ordered arrays would each cost another compilation of many seconds."""
    from limbwright.mechanics.variants_kernel import solve_variants

    built = make(150, 14, screw(140), screw(160))
    solve(built, Plane.FRONTAL, Load(moment_nm=-5))
    solve_batch(built, Plane.FRONTAL, moment_nm=-5)
    solve_batch(built, Plane.FRONTAL, moment_nm=[-5, -6], blocking_clearance_mm=(0, 1))
    solve_batch(make(150, 14), Plane.SAGITTAL, moment_nm=np.array([1, 2]), lengthening_mm=3)
    assert len(solve_variants.signatures) == 1
