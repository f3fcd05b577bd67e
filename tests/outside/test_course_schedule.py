"""The schedule against arithmetic and habits of the trade."""

from datetime import date, timedelta

import pytest

from limbwright.course.healing import expected_healing, published_series
from limbwright.course.prescription import Phase, PhaseKind, Prescription, default_prescription
from limbwright.course.schedule import DayKind, film_days, last_distraction_day, schedule
from limbwright.limb.anatomy import Bone
from limbwright.practice.profile import Profile

OPERATION = date(2026, 1, 5)


def steady(target_mm, *, step_mm, steps_per_day):
    return Prescription(
        bone=Bone.TIBIA,
        latency_days=7,
        phases=(Phase(kind=PhaseKind.STEADY, step_mm=step_mm, steps_per_day=steps_per_day),),
        target_mm=target_mm,
        film_interval_days=14,
    )


def test_tibia_35_mm():
    """Common practice, no source: tibia, latency 7 days, then 4 × 0.25 mm for 4 days, then 3 × 0.25 mm.

    By hand: 4 days × 1.00 mm = 4 mm; 31 mm are left; 41 days × 0.75 mm = 30.75 mm; one step of 0.25 mm on the
    46th day of lengthening. Last day = 7 + 46 = 53. Steps = 16 + 123 + 1 = 140 = 35 mm / 0.25 mm.
    """
    days = schedule(default_prescription(Profile(), bone=Bone.TIBIA, age_years=30, target_mm=35), OPERATION)
    lengthening = [day for day in days if day.kind is DayKind.LENGTHENING]
    assert [day.number for day in days if day.kind is DayKind.LATENCY] == [1, 2, 3, 4, 5, 6, 7]
    assert [day.change_mm for day in lengthening] == [1.0] * 4 + [0.75] * 41 + [0.25]
    assert lengthening[0].number == 8
    assert days[11].gained_mm == 4.0
    assert days[52].gained_mm == 34.75
    last = last_distraction_day(days)
    assert (last.number, last.on, last.gained_mm) == (53, OPERATION + timedelta(days=53), 35.0)
    assert sum(day.steps for day in days) == 140
    assert [day.number for day in film_days(days)] == [14, 28, 42, 56]


@pytest.mark.parametrize(
    ("step_mm", "steps_per_day", "last_day"),
    [(0.25, 4, 57), (0.25, 3, 74), (0.33, 3, 58)],
)
def test_end_of_a_50_mm_lengthening(step_mm, steps_per_day, last_day):
    """Arithmetic: end = latency + ceil(length / daily rate), latency 7 days.

    50 / 1.00 = 50 → day 57; 50 / 0.75 = 66.67 → 67 → day 74; 50 / 0.99 = 50.5 → 51 → day 58.
    """
    days = schedule(steady(50.0, step_mm=step_mm, steps_per_day=steps_per_day), OPERATION)
    assert last_distraction_day(days).number == last_day


def test_four_quarters_a_day_are_the_recommended_pattern():
    """Ilizarov 1989, The tension-stress effect on the genesis and growth of tissues, part II, Clin Orthop
    239:263 (abstract read): 1 mm a day in four steps. Every day of the femur's default is that pattern."""
    femur = schedule(default_prescription(Profile(), bone=Bone.FEMUR, age_years=30, target_mm=40), OPERATION)
    moving = [day for day in femur if day.steps]
    assert {(day.steps, day.change_mm) for day in moving} == {(4, 1.0)}


@pytest.mark.parametrize(("bone", "mean_day"), [(Bone.FEMUR, 122.5), (Bone.TIBIA, 205.0)])
def test_healing_of_50_mm(bone, mean_day):
    """Bone healing index and complications of a magnetic internal lengthening nail: a retrospective series of
    286 bone lengthening events (abstract read): antegrade femur 24.5 ± 9.5, tibia 41.0 ± 17.4 days/cm.

    50 mm: 5 × 24.5 = 122.5 days (± 47.5), 5 × 41.0 = 205 days (± 87).
    """
    found = expected_healing(
        Profile(), bone=bone, retrograde=False, age_years=30, gained_mm=50, last_distraction_day=57
    )
    assert found.mean_day == pytest.approx(mean_day, abs=0.1)
    half = {Bone.FEMUR: 47.5, Bone.TIBIA: 87.0}[bone]
    assert found.to_day == pytest.approx(mean_day + half, abs=0.1)
    assert found.from_day == pytest.approx(mean_day - half, abs=0.1)


def test_a_series_in_months_agrees_with_its_figure_in_days():
    """Horn et al. 2019, Acta Orthopaedica, 50 lengthenings (abstract read): femur 1.2, tibia 2.5 months/cm,
    which at 30.4 days a month are 36 and 76 days/cm."""
    for bone, days_per_cm in ((Bone.FEMUR, 36), (Bone.TIBIA, 76)):
        horn = next(series for series in published_series(bone) if "Horn" in series.source.text)
        assert round(horn.mean_days_per_cm) == days_per_cm
