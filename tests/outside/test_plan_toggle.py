"""Play of a rigid nail, offset of a blocking screw, and translation off the apex, against worked examples."""

import math

import pytest
from scipy.optimize import linprog

from limbwright.plan.drift import fragment_tilt_deg, toggle_angle_deg
from limbwright.plan.osteotomy import off_apex_table


@pytest.mark.parametrize(("canal", "angle"), [(20.0, 8.81), (12.7, 1.91)])
def test_a_10_7_mm_nail_over_60_mm(canal: float, angle: float) -> None:
    """Geometry, atan((Dc - Dn)/Lc): 10.7 mm nail over 60 mm; canal 20 mm 8.81 deg, 12.7 mm 1.91 deg."""
    assert toggle_angle_deg(canal, 10.7, 60) == pytest.approx(angle, abs=0.005)


@pytest.mark.parametrize(("gap", "play", "span"), [(1.65, 0.15, 115.0), (4.0, 0.15, 60.0), (0.0, 1.0, 80.0)])
def test_the_pair_of_contacts_is_the_optimum_of_the_linear_program(gap, play, span) -> None:
    """scipy.optimize.linprog (HiGHS): steepest line with gap at the near and play at the far contact."""
    best = linprog([0, -1], A_ub=[[1, span], [-1, 0]], b_ub=[gap, play], bounds=[(None, None)] * 2)

    assert fragment_tilt_deg(gap, play, span) == pytest.approx(math.degrees(math.atan(-best.fun)), abs=1e-6)


@pytest.mark.parametrize(
    ("distance", "angle", "shift", "loss"), [(30, 15, 7.76, 1.02), (-40, 20, 13.68, 2.41), (0, 25, 0, 0)]
)
def test_cutting_off_the_apex(distance: float, angle: float, shift: float, loss: float) -> None:
    """Geometry of the second osteotomy rule (Paley, Principles of Deformity Correction, 2002, from memory):
    t = d·sin a, axial d·(1 - cos a). d 30, a 15: 7.76 and 1.02 mm; d 40, a 20: 13.68 and 2.41 mm.
    """
    row = off_apex_table(correction_deg=angle, bone_width_mm=30, distances_mm=(distance,))[0]
    assert row.translation_mm == pytest.approx(shift, abs=0.005)
    assert row.axial_loss_mm == pytest.approx(loss, abs=0.005)
    assert row.contact_percent == pytest.approx(100 * (1 - shift / 30), abs=0.05)
