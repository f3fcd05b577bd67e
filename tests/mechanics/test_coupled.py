# ruff: noqa: PLR0917  drawn arguments stand in one line
"""Both planes together: published figures of the study, limits, symmetry, fallback to the plane."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from limbwright.error import Contradiction, Missing
from limbwright.mechanics import (
    Load,
    Outcome,
    Plane,
    Regenerate,
    Side,
    SpatialLoad,
    Walls,
    solve,
    solve_coupled,
    solve_coupled_batch,
)


def load(moment_nm: float, phi_deg: float, axial_n: float = 0.0) -> SpatialLoad:
    """Valgus and procurvatum moment at an angle from the frontal plane."""
    phi = math.radians(phi_deg)
    return SpatialLoad(
        frontal=Load(moment_nm=-moment_nm * math.cos(phi), axial_n=axial_n),
        sagittal=Load(moment_nm=moment_nm * math.sin(phi), axial_n=axial_n),
    )


@pytest.mark.parametrize(("phi", "valgus", "procurvatum"), [(22.5, 2.07, 0.83), (45, 1.66, 1.46)])
def test_oblique_figures_of_a_cone_program(make, phi, valgus, procurvatum):
    result = solve_coupled(make(), load(5, phi), lengthening_mm=40)
    assert result.frontal_deg == pytest.approx(-valgus, abs=0.006)
    assert result.sagittal_deg == pytest.approx(procurvatum, abs=0.006)
    assert result.oblique_deg == pytest.approx(math.hypot(result.frontal_deg, result.sagittal_deg), abs=1e-2)
    assert result.residual_mm < 1e-8
    assert result.residual_n < 1e-6


def test_separate_planes_over_estimate_oblique_drift(make):
    both = solve_coupled(make(), load(5, 45), lengthening_mm=40)
    alone = [solve(make(), p, load(5, 45).in_plane(p), lengthening_mm=40).angulation_deg for p in Plane]
    assert math.hypot(*alone) / both.oblique_deg == pytest.approx(1.27, abs=0.03)


def test_one_plane_load_gives_the_plane_answer(make, screw):
    built = make(150, 14, screw(140), screw(160))
    both = solve_coupled(built, load(5, 0), lengthening_mm=40)
    alone = solve(built, Plane.FRONTAL, Load(moment_nm=-5), lengthening_mm=40)
    assert both.frontal_deg == pytest.approx(alone.angulation_deg, abs=1e-6)
    assert both.lateral_step_mm == pytest.approx(alone.step_mm, abs=1e-6)


def test_compression_agrees_with_the_plane_answer(make):
    both = solve_coupled(make(), load(5, 0, 600), lengthening_mm=40)
    alone = solve(make(), Plane.FRONTAL, Load(moment_nm=-5, axial_n=600), lengthening_mm=40)
    assert both.frontal_deg == pytest.approx(alone.angulation_deg, abs=1e-5)


def test_one_plane_screws_uncouple_the_planes(make, screw):
    built = make(150, 14, screw(140), screw(160))
    both = solve_coupled(built, load(5, 45), lengthening_mm=40)
    alone = [solve(built, p, load(5, 45).in_plane(p), lengthening_mm=40).angulation_deg for p in Plane]
    assert both.frontal_deg == pytest.approx(alone[0], abs=0.01)
    assert both.sagittal_deg == pytest.approx(alone[1], abs=0.01)


@given(st.floats(0, 360), st.floats(1, 12), st.floats(0, 50), st.booleans())
@example(1e-5, 1.1, 16.5, True)  # hardly any load in one plane
@example(269.3694611886315, 10.467715505024454, 0.0, True)
@example(288.0693276816619, 10.0, 42.91342517179887, True)
@settings(max_examples=30, deadline=None)
def test_proved_at_any_angle_and_mirrored(make, screw, phi, moment, gained, screwed):
    screws = (screw(140, Side.LATERAL), screw(160, Side.POSTERIOR)) if screwed else ()
    mirror = (screw(140, Side.MEDIAL), screw(160, Side.POSTERIOR)) if screwed else ()
    a = solve_coupled(make(150, 14, *screws), load(moment, phi), lengthening_mm=gained)
    b = solve_coupled(make(150, 14, *mirror), load(moment, 180 - phi), lengthening_mm=gained)
    assert a.outcome is Outcome.DETERMINED
    assert a.residual_mm < 1e-6
    assert a.frontal_deg == pytest.approx(-b.frontal_deg, abs=1e-5)
    assert a.sagittal_deg == pytest.approx(b.sagittal_deg, abs=1e-5)


def test_rotating_a_round_construct_without_locks_rotates_the_answer(make):
    free = make(locking_screws=())
    straight = solve_coupled(free, load(5, 0), lengthening_mm=20)
    turned = solve_coupled(free, load(5, 30), lengthening_mm=20)
    assert turned.oblique_deg == pytest.approx(straight.oblique_deg, abs=1e-4)
    assert math.degrees(math.atan2(turned.sagittal_deg, -turned.frontal_deg)) == pytest.approx(30, abs=0.05)


def test_contacts_balance_the_loads(make):
    result = solve_coupled(make(), load(5, 45), lengthening_mm=40)
    assert sum(c.lateral_n for c in result.contacts) == pytest.approx(0, abs=1e-2)
    assert sum(c.anterior_n for c in result.contacts) == pytest.approx(0, abs=1e-2)
    assert any(abs(c.lateral_n) > 1 and abs(c.anterior_n) > 1 for c in result.contacts)


def test_new_bone_in_both_planes(make):
    bone = Regenerate(angular_nm_per_deg=500.0)
    result = solve_coupled(
        make(), load(5, 45), lengthening_mm=20, frontal_regenerate=bone, sagittal_regenerate=bone
    )
    assert result.oblique_deg < 0.02


def test_walls_of_different_reach_are_cut_to_what_both_films_show(make):
    canal = make().entry_canal
    longer = Walls(depth_mm=(20, 150), negative_mm=(-7, -7), positive_mm=(7, 7))
    mixed = make(150, 14, entry_canal=replace(canal, sagittal=longer))
    assert solve_coupled(mixed, load(5, 45), lengthening_mm=40).frontal_deg == pytest.approx(
        solve_coupled(make(), load(5, 45), lengthening_mm=40).frontal_deg, abs=1e-6
    )
    apart = replace(canal, sagittal=Walls(depth_mm=(0, 30), negative_mm=(-7, -7), positive_mm=(7, 7)))
    with pytest.raises(Contradiction, match="same stretch of bone"):
        solve_coupled(make(150, 14, entry_canal=apart), load(5, 45))


def test_named_outcomes(make):
    assert solve_coupled(make(150, 10.5), load(5, 45)).outcome is Outcome.NAIL_WIDER_THAN_CANAL
    still = solve_coupled(make(), load(0, 0))
    assert still.outcome is Outcome.UNDETERMINED
    assert still.oblique_deg is None
    assert still.contacts == ()


@pytest.mark.parametrize("axial_n", [0.0, 300.0])
def test_shape_and_shift_under_a_one_plane_load_are_those_of_the_plane(make, screw, axial_n):
    built = make(150, 14, screw(140), screw(160))
    both = solve_coupled(built, load(5, 0, axial_n), lengthening_mm=40)
    alone = solve(built, Plane.FRONTAL, Load(moment_nm=-5, axial_n=axial_n), lengthening_mm=40)
    depth = np.linspace(0, 340, 69)
    assert both.nail_offset_mm(Plane.FRONTAL, depth) == pytest.approx(alone.nail_offset_mm(depth), abs=1e-3)
    assert both.shift_mm(Plane.FRONTAL, 200.0) == pytest.approx(alone.shift_mm(200.0), abs=1e-3)
    assert both.angulation_deg(Plane.FRONTAL) == both.frontal_deg
    assert both.step_mm(Plane.SAGITTAL) == both.anterior_step_mm
    assert both.thick_moment_nm == pytest.approx(alone.thick_moment_nm, rel=1e-3)


def test_the_nail_touches_its_walls_where_forces_are(make):
    both = solve_coupled(make(), load(5, 45), lengthening_mm=40)
    walls = [c for c in both.contacts if c.support == "canal wall" and c.fragment == "entry fragment"]
    assert walls
    for contact in walls:
        at = np.array([contact.depth_mm])
        off = math.hypot(*(both.nail_offset_mm(p, at)[0] for p in Plane))
        assert off == pytest.approx(7.0 - 10.7 / 2, abs=1e-4)
        assert contact.in_plane_n(Plane.FRONTAL) == contact.lateral_n


def test_a_column_that_does_not_exist_is_refused(make):
    with pytest.raises(Missing, match="colour cannot differ"):
        solve_coupled_batch(make(), frontal={"colour": 1.0}, sagittal={})
