# ruff: noqa: PLR0917  drawn arguments stand in one line
"""Toggle envelope: hand formula, linear program, rigid limit of the elastic solve."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from limbwright.error import Contradiction
from limbwright.mechanics import Load, Plane, Side, envelope, solve


def test_hand_formula_with_and_without_locks(make):
    # (gap + play) / (cut - lock) on each side: (1.65 + 0.15) / 115 + 1.8 / 130
    both = envelope(make(), Plane.FRONTAL)
    assert both.highest_deg == pytest.approx(np.degrees(1.8 / 115 + 1.8 / 130), rel=1e-12)
    assert both.lowest_deg == -both.highest_deg
    assert both.width_deg == 2 * both.highest_deg
    free = envelope(make(locking_screws=()), Plane.FRONTAL)
    assert free.highest_deg == pytest.approx(3.2945, abs=1e-4)


@pytest.mark.parametrize("canal", [12, 14, 16])
@pytest.mark.parametrize("cut", [110, 150, 200])
@pytest.mark.parametrize("gained", [0, 50])
def test_a_very_stiff_nail_turns_to_the_envelope(make, canal, cut, gained):
    built = make(cut, canal)
    rigid = replace(built, nail=replace(built.nail, modulus_gpa=2e7))
    turned = solve(rigid, Plane.FRONTAL, Load(moment_nm=-5), lengthening_mm=gained).angulation_deg
    assert turned == pytest.approx(envelope(built, Plane.FRONTAL, lengthening_mm=gained).lowest_deg, abs=2e-4)


@given(st.floats(110, 200), st.floats(11, 17), st.floats(0, 50), st.booleans(), st.floats(0, 1))
@settings(max_examples=40, deadline=None)
def test_the_elastic_nail_turns_further_than_the_rigid_one(
    make, screw, cut, canal, gained, screwed, clearance
):
    screws = [screw(cut - 10, Side.LATERAL, osteotomy_mm=cut, clearance_mm=clearance)] if screwed else []
    built = make(cut, canal, *screws)
    turned = solve(built, Plane.FRONTAL, Load(moment_nm=-4), lengthening_mm=gained).angulation_deg
    assert turned <= envelope(built, Plane.FRONTAL, lengthening_mm=gained).lowest_deg + 1e-6


def test_joint_play_widens_it(make):
    built = make()
    loose = replace(built, nail=replace(built.nail, joint_clearance_mm=0.1, joint_engagement_mm=100.0))
    wider = envelope(loose, Plane.FRONTAL, lengthening_mm=50).highest_deg
    assert wider - envelope(built, Plane.FRONTAL, lengthening_mm=50).highest_deg == pytest.approx(
        np.degrees(0.1 / 50)
    )


def test_a_rigid_nail_that_does_not_fit_is_refused(make, screw):
    with pytest.raises(Contradiction, match="a rigid nail does not fit"):
        envelope(make(150, 10.5), Plane.FRONTAL)
    pinched = [
        replace(screw(z, s), clearance_mm=-0.5)
        for z, s in ((60, Side.LATERAL), (80, Side.MEDIAL), (140, Side.LATERAL))
    ]
    with pytest.raises(Contradiction, match="does not fit"):
        envelope(make(150, 14, *pinched), Plane.FRONTAL)
