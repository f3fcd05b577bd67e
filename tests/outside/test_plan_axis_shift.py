"""What lengthening along a bone's own axis does to the mechanical axis of the leg."""

import math

import numpy as np
import pytest

from limbwright.limb.anatomy import SIDES_OF_A_CUT, Bone, Fragment, Projection, Side
from limbwright.limb.landmark import Landmark
from limbwright.limb.reading import Measure
from limbwright.limb.view import Spot, View
from limbwright.plan.cut import Cut
from limbwright.plan.decision import FragmentPath, NailPath
from limbwright.plan.end_alignment import Progress, femoral_axis_shift, measure_value, moved_leg
from limbwright.plan.leg import leg_model
from limbwright.plan.path import place_of
from limbwright.plan.reduction import reduction

# AMA, femur, tibia, lengthening; knee off the old axis, MAD change, fall of mLDFA.
GEOMETRY = [
    (5, 450, 370, 50, 4.36, 1.85, 0.50),
    (6, 450, 370, 50, 5.23, 2.22, 0.60),
    (7, 450, 370, 50, 6.09, 2.59, 0.70),
    (7, 450, 370, 80, 9.75, 4.01, 1.06),
]


@pytest.mark.parametrize("row", GEOMETRY)
def test_the_formula_gives_the_geometry_worked_by_hand(row: tuple[float, ...]) -> None:
    """Derived: s = L·sin(AMA), MAD change s·T/(F+T+c), fall of the angle atan(s/(F+c)), c = L·cos(AMA)."""
    ama, femur, tibia, gain, knee, mad, mldfa = row
    shift = femoral_axis_shift(ama_deg=ama, femur_mm=femur, tibia_mm=tibia, lengthening_mm=gain)
    assert shift.knee_medial_mm == pytest.approx(knee, abs=0.005)
    assert shift.mad_lateral_mm == pytest.approx(mad, abs=0.005)
    assert shift.mldfa_fall_deg == pytest.approx(mldfa, abs=0.005)


def straight_leg(ama: float, femur: float, tibia: float) -> View:
    """A straight leg by hand: hip over knee over ankle."""
    spots = {
        Landmark.FEMORAL_HEAD_CENTRE: (0.0, femur),
        Landmark.FEMUR_KNEE_CENTRE: (0.0, 0.0),
        Landmark.TIBIA_KNEE_CENTRE: (0.0, 0.0),
        Landmark.ANKLE_CENTRE: (0.0, -tibia),
        Landmark.MEDIAL_FEMORAL_CONDYLE: (-30.0, -30 * math.tan(math.radians(2))),
        Landmark.LATERAL_FEMORAL_CONDYLE: (30.0, 30 * math.tan(math.radians(2))),
    }
    for name, level in (("UPPER", 150.0), ("LOWER", 100.0)):
        across = -10 + level * math.tan(math.radians(ama))
        spots[Landmark[f"FEMUR_DISTAL_SHAFT_{name}"]] = (across, level)
    return View(
        side=Side.RIGHT,
        projection=Projection.FRONTAL,
        spots={k: Spot(across_mm=a, proximal_mm=p, sd_mm=1.0) for k, (a, p) in spots.items()},
        scaled=True,
        scale_relative_sd=0.0,
    )


def lengthened(view: View, bone: Bone, along: tuple[float, float], level: float, gain: float) -> View:
    """The leg lengthened in one bone along a line (across, proximal) through (0, level)."""
    ends = [[0.0, level, 0.0], [0.0, level + 100 * along[1], 100 * along[0]]]
    lines = {
        f: FragmentPath(fragment=f, upper=place_of(ends[0]), lower=place_of(ends[1])) for f in SIDES_OF_A_CUT
    }
    path = NailPath(entry=place_of(ends[0]), proximal=lines[Fragment.PROXIMAL], distal=lines[Fragment.DISTAL])
    cut = Cut(bone=bone, point_mm=(0.0, level, 0.0), normal=(0.0, 1.0, 0.0))
    course = Progress(reduction=reduction(path=path, cut=cut), gained_mm=gain)
    return moved_leg(leg_model(view, None), [course]).view(Projection.FRONTAL)


@pytest.mark.parametrize("row", GEOMETRY)
def test_moved_landmarks_measure_the_same_shift(row: tuple[float, ...]) -> None:
    """The same figures by another way: landmarks moved as fragments and measured like a film.

    MAD is measured at right angles to the hip-ankle line here and along the knee's level in the formula, so
    they agree to the cosine of half a degree.
    """
    ama, femur, tibia, gain, knee, mad, mldfa = row
    before = straight_leg(ama, femur, tibia)
    lean = math.radians(ama)
    after = lengthened(before, Bone.FEMUR, (-math.sin(lean), -math.cos(lean)), 220.0, gain)
    changes = {
        m: measure_value(after, m) - measure_value(before, m)
        for m in (Measure.MAD, Measure.MLDFA, Measure.ALDFA)
    }
    assert changes[Measure.MAD] == pytest.approx(-mad, abs=0.01)  # medial is +
    assert changes[Measure.MLDFA] == pytest.approx(-mldfa, abs=0.005)
    assert changes[Measure.ALDFA] == pytest.approx(0, abs=1e-9)
    assert after.spot(Landmark.FEMUR_KNEE_CENTRE).across_mm == pytest.approx(-knee, abs=0.005)


def test_ten_percent_of_a_femur_lowers_the_angle_by_0_57_degrees() -> None:
    """Emara et al., Effect of lengthening along the anatomical axis of the femur and its clinical impact,
    World J Orthop 8(5), 2017: lengthening by 10 % lowers the angle between the axes by 0.57 deg (abstract
    read). The starting angle of 6.3 deg is chosen here to match; textbook normal is 7 +- 2 deg.
    """
    shift = femoral_axis_shift(ama_deg=6.3, femur_mm=450, tibia_mm=370, lengthening_mm=45)
    assert shift.mldfa_fall_deg == pytest.approx(0.57, abs=0.01)


@pytest.mark.parametrize("gain", [10.0, 35.0, 60.0])
def test_lengthening_a_tibia_leaves_the_mechanical_axis(gain: float) -> None:
    """Muthusamy et al., Strategies Trauma Limb Reconstr 11(3), 2016, footnote of table 1 (read): the tibia's
    anatomical and mechanical axes are practically parallel, so lengthening does not move the mechanical axis.
    """
    before = straight_leg(6, 450, 370)
    after = lengthened(before, Bone.TIBIA, (0.0, -1.0), -120.0, gain)
    change = measure_value(after, Measure.MAD) - measure_value(before, Measure.MAD)
    assert change == pytest.approx(0, abs=0.1)
    assert measure_value(after, Measure.TIBIA_LENGTH) == pytest.approx(370 + gain)
    assert np.isfinite(change)
