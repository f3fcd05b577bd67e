from dataclasses import replace

import pytest

from limbwright.error import Missing, OutOfRange
from limbwright.film.phantom import (
    FRONTAL_SETUP,
    SAGITTAL_SETUP,
    Detail,
    Detector,
    FilmDay,
    Hardware,
    Lengthening,
    PatientShape,
    Positioning,
    film_days,
    lengthening_series,
)
from limbwright.limb.anatomy import Bone, Side

SMALL = {
    "frontal": replace(FRONTAL_SETUP, detector=Detector(pixel_mm=2.0)),
    "sagittal": replace(SAGITTAL_SETUP, detector=Detector(pixel_mm=2.0)),
    "detail": Detail.COARSE,
}
CUT = Hardware(lengthenings=(Lengthening(bone=Bone.TIBIA, level=0.4),))


def series(days, **how):
    return lengthening_series(
        PatientShape(), side=Side.LEFT, bone=Bone.TIBIA, hardware=CUT, days=days, seed=3, **SMALL, **how
    )


def test_days_run_from_the_operation_to_consolidation():
    days = film_days(total_mm=30.0, drift_varus_deg=-5.0)
    assert [item.day for item in days][:4] == [0, 14, 28, 42]
    assert days[0].gap_mm == 0.0
    assert days[0].density == 0.0
    assert days[1].gap_mm == pytest.approx(7 * 0.75)
    assert days[-1].gap_mm == 30.0
    assert days[-1].varus_deg == -5.0
    assert days[-1].density == pytest.approx(0.8)
    assert [item.gap_mm for item in days] == sorted(item.gap_mm for item in days)


def test_the_leg_grows_by_the_gap_while_positions_differ():
    visits = series((FilmDay(day=0, gap_mm=0.0), FilmDay(day=30, gap_mm=20.0, density=0.2)))
    legs = [visit.frontal.truth.leg(Side.LEFT) for visit in visits]
    assert legs[1].tibia_length_mm - legs[0].tibia_length_mm == pytest.approx(20.0, abs=0.05)
    other = [visit.frontal.truth.leg(Side.RIGHT) for visit in visits]
    assert other[1].tibia_length_mm == pytest.approx(other[0].tibia_length_mm)
    magnified = [visit.frontal.truth.magnification for visit in visits]
    assert magnified[0] != magnified[1]
    assert visits[0].frontal.truth.presentation.high == visits[1].frontal.truth.presentation.high
    assert visits[1].sagittal.truth.legs[0].side is Side.LEFT


def test_drift_is_seen_between_the_fragments():
    still = Positioning(rotation_deg=0, knee_flexion_deg=0, ankle_mm=0, bone_detector_mm=0, beam_mm=0)
    visits = series(
        (FilmDay(day=0, gap_mm=0.0), FilmDay(day=30, gap_mm=20.0, varus_deg=-4.0)), positioning=still
    )
    alignment = [visit.frontal.truth.leg(Side.LEFT).angles_deg["LDTA"] for visit in visits]
    assert abs(alignment[1] - alignment[0]) > 1.0


def test_a_series_needs_a_cut_and_rising_days():
    with pytest.raises(Missing, match="no osteotomy of the femur"):
        lengthening_series(
            PatientShape(), side=Side.LEFT, bone=Bone.FEMUR, hardware=CUT, days=(), seed=1, **SMALL
        )
    with pytest.raises(OutOfRange, match="rising order"):
        series((FilmDay(day=5, gap_mm=0.0), FilmDay(day=5, gap_mm=1.0)))
