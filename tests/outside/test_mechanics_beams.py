"""Beam deflections of standard tables, reached through locking screws without play as clamps and supports.

Sources: cantilevers, overhanging and stepped beams as tabulated in Young & Budynas, Roark's Formulas for
Stress and Strain, 7th ed. 2002, table 8.1, and in any structural engineering handbook (formulas from memory,
each one re-derivable by integrating M/EI twice). The package gives every tilt support 1e-11 rad/(N mm) and
every other one 1e-7 mm/N of compliance, so that rows at one depth stay apart; the tolerances below are that.
"""

import math

import numpy as np
import pytest

from limbwright.mechanics import (
    Construct,
    Fragment,
    Load,
    LockingScrew,
    NailBeam,
    Plane,
    ScrewDirection,
    solve,
    straight_canal,
)

AP, ML = ScrewDirection.ANTEROPOSTERIOR, ScrewDirection.MEDIOLATERAL
EI1 = 110e3 * math.pi / 64 * 10.7**4
EI2 = 110e3 * math.pi / 64 * 8.0**4
CUT = 160.0


def beam(
    entry: dict[float, str], moving: dict[float, str], *, step_mm: float = 270.0, thin_mm: float = 8.0
) -> Construct:
    """Nail held by locks only: 'pin' stops translation, 'clamp' stops tilt too; the canal is far away."""

    def locks(fragment: Fragment, places: dict[float, str]) -> list[LockingScrew]:
        return [
            LockingScrew(fragment=fragment, depth_mm=z, direction=direction, play_mm=0.0)
            for z, kind in places.items()
            for direction in ((AP,) if kind == "pin" else (AP, ML))
        ]

    return Construct(
        nail=NailBeam(
            length_mm=300,
            exposed_rod_mm=300 - step_mm,
            thick_diameter_mm=10.7,
            thin_diameter_mm=thin_mm,
            modulus_gpa=110,
        ),
        osteotomy_depth_mm=CUT,
        entry_canal=straight_canal(diameter_mm=400, start_depth_mm=10, end_depth_mm=CUT),
        moving_canal=straight_canal(diameter_mm=400, start_depth_mm=CUT, end_depth_mm=300),
        locking_screws=(*locks(Fragment.ENTRY, entry), *locks(Fragment.MOVING, moving)),
    )


def answer(construct: Construct, load: Load, at_mm: float, gained: float = 0.0) -> tuple[float, float]:
    """Slope (away from varus) in rad and offset of the moving fragment's axis at a depth."""
    result = solve(construct, Plane.FRONTAL, load, lengthening_mm=gained)
    assert result.residual_mm < 1e-9
    return -math.radians(result.angulation_deg), result.shift_mm(at_mm - CUT)


def test_cantilever_under_a_couple():
    slope, offset = answer(beam({140: "clamp"}, {190: "clamp"}), Load(moment_nm=-10), 190)
    assert slope == pytest.approx(1e4 * 50 / EI1, abs=4e-7)
    assert offset == pytest.approx(1e4 * 50**2 / (2 * EI1), rel=6e-5)


def test_cantilever_under_a_force():
    load = Load(force_n=100, force_beyond_osteotomy_mm=190 - CUT)
    slope, offset = answer(beam({140: "clamp"}, {190: "clamp"}), load, 190)
    assert slope == pytest.approx(100 * 50**2 / (2 * EI1), rel=1e-4)
    assert offset == pytest.approx(100 * 50**3 / (3 * EI1), abs=3e-5)  # the walls give 1e-7 mm/N


def test_stepped_cantilever():
    """Clamped at 140, step at 200, loaded at 280: lengths 60 and 80 of two stiffnesses."""
    built = beam({140: "clamp"}, {280: "clamp"}, step_mm=200)
    slope, offset = answer(built, Load(moment_nm=-5), 280)
    assert slope == pytest.approx(5e3 * (60 / EI1 + 80 / EI2), abs=4e-7)
    assert offset == pytest.approx(5e3 * (60 * (80 + 30) / EI1 + 80 * 40 / EI2), rel=6e-5)
    load = Load(force_n=50, force_beyond_osteotomy_mm=280 - CUT)
    slope, offset = answer(built, load, 280)
    # integral of (140 - x)^2 over the thick part and of its rest over the thin one
    assert offset == pytest.approx(50 * ((140**3 - 80**3) / (3 * EI1) + 80**3 / (3 * EI2)), rel=1e-4)
    assert slope == pytest.approx(50 * ((140**2 - 80**2) / (2 * EI1) + 80**2 / (2 * EI2)), rel=1e-4)


def test_overhanging_beam_with_a_force_at_its_end():
    """Supports 40 and 140 (L 100), overhang 100: F a^2 (L + a) / 3EI; between, F a L^2 / (9 sqrt 3 EI)."""
    built = beam({40: "pin", 140: "pin"}, {240: "pin"})
    load = Load(force_n=20, force_beyond_osteotomy_mm=240 - CUT)
    result = solve(built, Plane.FRONTAL, load)
    assert result.shift_mm(240 - CUT) == pytest.approx(20 * 100**2 * 200 / (3 * EI1), rel=1e-4)
    between = result.nail_offset_mm(np.array([40 + 100 / math.sqrt(3)]))[0]
    assert between == pytest.approx(-20 * 100 * 100**2 / (9 * math.sqrt(3) * EI1), rel=1e-4)
    assert result.thick_moment_nm == pytest.approx(2.0, rel=6e-5)


def test_overhanging_beam_with_a_couple_at_its_end():
    slope, offset = answer(beam({40: "pin", 140: "pin"}, {240: "clamp"}), Load(moment_nm=-5), 240)
    assert slope == pytest.approx(5e3 * (100 / 3 + 100) / EI1, abs=4e-7)
    assert offset == pytest.approx(5e3 * 100 * (2 * 100 + 3 * 100) / (6 * EI1), rel=6e-5)


def test_beam_in_four_point_bending():
    """Two pins in each fragment, uniform section: M/EI (Lp/3 + gap + Ld/3)."""
    built = beam({35: "pin", 150: "pin"}, {170: "pin", 290: "pin"}, thin_mm=10.7)
    slope, _ = answer(built, Load(moment_nm=-5), 170, gained=30)
    assert slope == pytest.approx(5e3 / EI1 * (115 / 3 + 50 + 120 / 3), rel=1e-4)


def test_compressed_column_is_magnified_as_in_the_beam_column_tables():
    """End couple M on a clamped-free column under thrust P: slope M tan(kL) / (k EI), k^2 = P/EI.

    Timoshenko & Gere, Theory of Elastic Stability (formula from memory: cantilever beam-column with an end
    couple has the tip slope M L / EI times tan(u)/u, u = kL).
    """
    thrust, length = 900.0, 120.0
    built = beam({140: "clamp"}, {260: "clamp"})
    plain, _ = answer(built, Load(moment_nm=-2), 260)
    pressed, _ = answer(built, Load(moment_nm=-2, axial_n=thrust), 260)
    u = math.sqrt(thrust / EI1) * length
    assert plain == pytest.approx(2e3 * length / EI1, abs=4e-7)
    assert pressed / plain == pytest.approx(math.tan(u) / u, rel=3e-4)


def test_bending_stress_of_a_round_section():
    """sigma = 32 M / (pi D^3) (any strength of materials text)."""
    built = beam({140: "clamp"}, {190: "clamp"})
    result = solve(built, Plane.FRONTAL, Load(moment_nm=-10))
    stress = built.nail.peak_stress_mpa(thick_moment_nm=result.thick_moment_nm, thin_moment_nm=0.0)
    assert stress == pytest.approx(32 * 1e4 / (math.pi * 10.7**3), rel=6e-5)
